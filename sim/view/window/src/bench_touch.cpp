// The guided touch test: targets on the glass, what is asked for and how it went beside it.
#include <fmt/format.h>

#include <cmath>

#include "bareglass/view/bench_page.hpp"

namespace bareglass::view {

namespace {

using host::TouchStep;
using host::TouchStepResult;

constexpr double kToldFor_s = 6.0;

std::string value_words(const host::TouchCheck& check) {
  const std::string unit = check.unit.empty() ? "" : " " + check.unit;
  const std::string value = std::isnan(check.value) ? "not measured"
                            : check.unit.empty()    ? fmt::format("{:.0f}", check.value)
                                                    : fmt::format("{:.2f}{}", check.value, unit);
  return fmt::format("{}; limit {} {:g}{}", value, check.at_least ? "at least" : "at most",
                     check.limit, unit);
}

struct Ink {
  ImU32 colour;
  float thick;  ///< points
};

Ink ink_of(bool now, TouchStepResult::State state) {
  if (now) return {colour::kAccent, 4.0F};
  if (state == TouchStepResult::State::done) return {colour::kOn, 2.5F};
  if (state == TouchStepResult::State::incomplete) return {colour::kOff, 2.5F};
  return {IM_COL32(150, 152, 156, 255), 1.5F};
}

}  // namespace

void BenchPage::begin_touch_test(const std::string& plan_file) {
  std::optional<host::TouchPlan> plan;
  if (!plan_file.empty()) plan = host::read_touch_plan(plan_file);
  leave_lesson();
  lesson_list_ = false;
  touch_ = std::make_unique<TouchSession>(*free_, std::move(plan), plan_file);
  free_->observe([this](const panel::LiveUnit::Step&) {
    if (touch_) touch_->see();
  });
}

void BenchPage::end_touch_test() {
  if (touch_ && touch_->pressed()) attempt([&] { touch_->release(); });
  touch_.reset();
  touch_by_key_ = false;
}

void BenchPage::toggle_touch_test() {
  if (touch_) {
    end_touch_test();
    return;
  }
  if (!free_->unit().powered() || !free_->unit().device().input_on()) {
    told_ = "A touch test needs a unit whose input is on: switch it on with bare glass first.";
    told_for_s_ = kToldFor_s;
    return;
  }
  attempt([&] { begin_touch_test(); });
}

void BenchPage::take_touch_mouse(field::Point at, bool over_glass) {
  if (touch_by_key_) return;
  const ImGuiIO& io = ImGui::GetIO();
  attempt([&] {
    if (over_glass && ImGui::IsMouseClicked(0)) touch_->press(at);
    if (!touch_->pressed()) return;
    if (io.MouseDown[0])
      touch_->slide(at);
    else
      touch_->release();
  });
}

void BenchPage::draw_targets(const Theme& theme) {
  ImDrawList& list = *ImGui::GetWindowDrawList();
  const host::TouchResult result = touch_->test().result();
  const std::size_t now = touch_->test().step();
  const std::vector<TouchStep>& steps = touch_->test().plan().steps;
  for (std::size_t k = 0; k < steps.size(); ++k) {
    // Lines that are done or still to come would hide one another: only their ends are shown.
    const Ink ink = ink_of(k == now, result.steps[k].state);
    const ImVec2 from = pixel_of(touch_->place(steps[k].from));
    const ImVec2 to = pixel_of(touch_->place(steps[k].to));
    const float r = theme.px(k == now ? 14.0F : 7.0F);
    if (steps[k].kind == TouchStep::Kind::line) {
      list.AddLine(from, to, ink.colour, theme.px(k == now ? 5.0F : 1.5F));
      if (k != now) continue;
      list.AddCircleFilled(to, theme.px(7), ink.colour, 20);
    }
    list.AddCircle(from, r, ink.colour, 24, theme.px(ink.thick));
    if (k == now) list.AddCircleFilled(from, theme.px(5), ink.colour, 16);
  }
}

void BenchPage::draw_touch_card(const Theme& theme, Area area) {
  ImGui::SetCursorPos({area.x, area.y});
  ImGui::BeginChild("touch", {area.w, area.h}, true);
  const host::TouchTest& test = touch_->test();
  const std::vector<TouchStep>& steps = test.plan().steps;
  const std::size_t now = test.step();
  ImGui::PushFont(theme.lesson_strong);
  ImGui::TextUnformatted("Touch test");
  ImGui::PopFont();
  ImGui::PushTextWrapPos(0.0F);
  if (now < steps.size()) {
    ImGui::TextDisabled(
        "%s", fmt::format("{} of {}: {}", now + 1, steps.size(), steps[now].name).c_str());
    ImGui::PushFont(theme.lesson);
    const std::string asked = !steps[now].prompt.empty() ? steps[now].prompt
                              : steps[now].kind == TouchStep::Kind::point
                                  ? std::string("Touch the ring and lift.")
                                  : std::string("Draw along the line, from the ring to the dot.");
    ImGui::TextUnformatted(asked.c_str());
    ImGui::PopFont();
  } else {
    const host::TouchResult result = test.result();
    ImGui::PushFont(theme.lesson_strong);
    ImGui::PushStyleColor(ImGuiCol_Text, result.passed ? colour::kOn : colour::kOff);
    ImGui::TextUnformatted(result.passed ? "Passed." : "Not passed.");
    ImGui::PopStyleColor();
    ImGui::PopFont();
  }
  ImGui::Separator();
  const host::TouchResult so_far = test.result();
  for (const host::TouchCheck& check : so_far.checks) {
    const bool known = now >= steps.size();
    ImGui::PushStyleColor(ImGuiCol_Text, !known         ? colour::kFaint
                                         : check.passed ? colour::kOn
                                                        : colour::kOff);
    ImGui::TextUnformatted(fmt::format("{}{}: {}",
                                       !known         ? ""
                                       : check.passed ? "held: "
                                                      : "missed: ",
                                       check.name, value_words(check))
                               .c_str());
    ImGui::PopStyleColor();
  }
  ImGui::PopTextWrapPos();
  ImGui::Spacing();
  if (ImGui::Button("Begin again", {0.5F * (area.w - theme.px(28)), 0}))
    attempt([&] {
      end_touch_test();
      begin_touch_test();
    });
  ImGui::SameLine();
  if (ImGui::Button("End  (F4)", {-1, 0})) end_touch_test();
  ImGui::EndChild();
}

}  // namespace bareglass::view
