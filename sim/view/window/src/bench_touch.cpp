// The guided touch test at the bench: its own finger touches the targets.
#include <fmt/format.h>

#include "bareglass/view/bench_page.hpp"
#include "touch_drawing.hpp"

namespace bareglass::view {

namespace {

constexpr double kTouchToldFor_s = 6.0;

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
    told_for_s_ = kTouchToldFor_s;
    return;
  }
  attempt([&] { begin_touch_test(touch_plan_); });
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
  draw_touch_targets(*ImGui::GetWindowDrawList(), theme, touch_->test(),
                     [this](host::PointMm p) { return pixel_of(touch_->place(p)); });
}

void BenchPage::draw_touch_area(const Theme& theme, Area area) {
  ImGui::SetCursorPos({area.x, area.y});
  ImGui::BeginChild("touch", {area.w, area.h}, true);
  const bool on = free_->unit().powered() && free_->unit().device().input_on();
  const TouchAct act = draw_touch_card(theme, touch_->test(),
                                       on ? "" : "Input is off: the panel passes no touches on.");
  ImGui::EndChild();
  if (act == TouchAct::save) save_touch_test();
  if (act == TouchAct::end) end_touch_test();
  if (act == TouchAct::begin_again)
    attempt([&] {
      end_touch_test();
      begin_touch_test(touch_plan_);
    });
}

void BenchPage::save_touch_test() {
  if (!touch_) return;
  attempt([&] {
    told_ = "The result is saved as " + save_touch_text(folder_, touch_->text());
    told_for_s_ = kTouchToldFor_s;
  });
}

}  // namespace bareglass::view
