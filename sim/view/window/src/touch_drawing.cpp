#include "touch_drawing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "bareglass/capture/output_file.hpp"

namespace bareglass::view {

namespace {

using host::TouchStep;
using host::TouchStepResult;

std::string number_words(const host::TouchCheck& check, double value) {
  if (std::isnan(value)) return "not yet";
  if (check.unit.empty()) return fmt::format("{:.0f}", value);
  return fmt::format("{:.{}f} {}", value, check.unit == "%" ? 0 : 2, check.unit);
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

/// What is asked for now, or the result.
void draw_asked(const Theme& theme, const host::TouchTest& test, const host::TouchResult& result) {
  const std::vector<TouchStep>& steps = test.plan().steps;
  const std::size_t now = test.step();
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
    return;
  }
  ImGui::PushFont(theme.lesson_strong);
  ImGui::PushStyleColor(ImGuiCol_Text, result.passed ? colour::kOn : colour::kOff);
  ImGui::TextUnformatted(result.passed ? "Passed." : "Not passed.");
  ImGui::PopStyleColor();
  ImGui::PopFont();
}

void draw_checks(const Theme& theme, const host::TouchResult& result, bool known) {
  const float width = std::min(ImGui::GetContentRegionAvail().x, theme.px(480));
  const bool narrow = width < theme.px(360);
  if (!ImGui::BeginTable("checks", 4, ImGuiTableFlags_None, {width, 0})) return;
  ImGui::TableSetupColumn("verdict", ImGuiTableColumnFlags_WidthFixed, theme.px(24));
  ImGui::TableSetupColumn("what", ImGuiTableColumnFlags_WidthStretch);
  ImGui::TableSetupColumn("measured", ImGuiTableColumnFlags_WidthFixed,
                          theme.px(narrow ? 54.0F : 64.0F));
  ImGui::TableSetupColumn("limit", ImGuiTableColumnFlags_WidthFixed,
                          theme.px(narrow ? 78.0F : 106.0F));
  ImGui::PushFont(theme.small);
  const auto cell = [](const std::string& text) {
    ImGui::TableNextColumn();
    ImGui::PushTextWrapPos(0.0F);
    ImGui::TextUnformatted(text.c_str());
    ImGui::PopTextWrapPos();
  };
  for (const host::TouchCheck& check : result.checks) {
    ImGui::PushStyleColor(ImGuiCol_Text, !known         ? colour::kFaint
                                         : check.passed ? colour::kOn
                                                        : colour::kOff);
    ImGui::TableNextRow();
    cell(!known ? "" : check.passed ? "ok" : "NO");
    cell(check.name);
    cell(number_words(check, check.value));
    cell(fmt::format("{} {}",
                     check.at_least ? (narrow ? "min" : "at least") : (narrow ? "max" : "at most"),
                     number_words(check, check.limit)));
    ImGui::PopStyleColor();
  }
  ImGui::PopFont();
  ImGui::EndTable();
}

}  // namespace

void draw_touch_targets(ImDrawList& list, const Theme& theme, const host::TouchTest& test,
                        const std::function<ImVec2(host::PointMm)>& pixel_of) {
  const host::TouchResult result = test.result();
  const std::size_t now = test.step();
  const std::vector<TouchStep>& steps = test.plan().steps;
  for (std::size_t k = 0; k < steps.size(); ++k) {
    // Lines that are done or still to come would hide one another: only their ends are shown.
    const Ink ink = ink_of(k == now, result.steps[k].state);
    const ImVec2 from = pixel_of(steps[k].from);
    const ImVec2 to = pixel_of(steps[k].to);
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

TouchAct draw_touch_card(const Theme& theme, const host::TouchTest& test,
                         const std::string& hindrance) {
  const host::TouchResult result = test.result();
  const bool over = test.step() >= test.plan().steps.size();
  ImGui::PushFont(theme.lesson_strong);
  ImGui::TextUnformatted("Touch test");
  ImGui::PopFont();
  ImGui::PushTextWrapPos(0.0F);
  draw_asked(theme, test, result);
  if (!hindrance.empty() && !over) {
    ImGui::PushStyleColor(ImGuiCol_Text, colour::kOff);
    ImGui::TextUnformatted(hindrance.c_str());
    ImGui::PopStyleColor();
  }
  ImGui::Separator();
  ImGui::PopTextWrapPos();
  draw_checks(theme, result, over);
  ImGui::Spacing();
  TouchAct act = TouchAct::none;
  const float gap = theme.px(6);
  const float third = (ImGui::GetContentRegionAvail().x - 2 * gap) / 3.0F;
  if (ImGui::Button("Begin again", {third, 0})) act = TouchAct::begin_again;
  ImGui::SameLine(0, gap);
  if (ImGui::Button("Save  (Ctrl+T)", {third, 0})) act = TouchAct::save;
  ImGui::SameLine(0, gap);
  if (ImGui::Button("End  (F4)", {third, 0})) act = TouchAct::end;
  return act;
}

std::string save_touch_text(const std::string& folder, const std::string& text) {
  std::string path;
  int n = 0;
  do path = fmt::format("{}/touch-test-{}.txt", folder, ++n);
  while (std::filesystem::exists(path));
  host::OutputFile file(path);
  file.write(text);
  file.finish();
  return path;
}

}  // namespace bareglass::view
