// The guided touch test on frames as they arrive: from a file that grows, or standard input.
#include <fmt/format.h>

#include "bareglass/capture/error.hpp"
#include "bareglass/view/plain_words.hpp"
#include "bareglass/view/replay_page.hpp"
#include "replay_drawing.hpp"
#include "touch_drawing.hpp"

namespace bareglass::view {

namespace {

constexpr double kSavedToldFor_s = 6.0;
/// So long without a frame is worth saying; a unit sends tens of frames a second.
constexpr double kQuiet_s = 2.0;

}  // namespace

void ReplayPage::begin_touch_test() {
  try {
    model_->begin_touch_test(touch_request_);
  } catch (const host::CaptureError& e) {
    told_ = e.what();
    told_for_s_ = kSavedToldFor_s;
  }
}

void ReplayPage::toggle_touch_test() {
  if (!model_ || model_->phase() != ReplayModel::Phase::ready) return;
  if (model_->touch_test() != nullptr)
    model_->end_touch_test();
  else
    begin_touch_test();
}

void ReplayPage::save_touch_test() {
  if (!model_ || model_->touch_test() == nullptr) return;
  try {
    told_ = "The result is saved as " + save_touch_text(folder_, model_->touch_text());
  } catch (const host::CaptureError& e) {
    told_ = e.what();
  }
  told_for_s_ = kSavedToldFor_s;
}

std::string ReplayPage::touch_hindrance() const {
  if (model_->walking()) return "Frames that are there already are read first.";
  if (model_->quiet_s() > kQuiet_s)
    return fmt::format("No frame has arrived for {:.0f} s. The test goes on with the next one.",
                       model_->quiet_s());
  const InputState newest = model_->index().states().back().state;
  if (newest == InputState::running) return {};
  return fmt::format("The panel passes no touches on: {}.",
                     plain_state(newest, model_->engine().settings().policy));
}

void ReplayPage::draw_touch(const Theme& theme, Area area) {
  begin_area("touch", area.x, area.y, area.w, area.h, true);
  ImGui::BeginChild("card");
  const TouchAct act = draw_touch_card(theme, *model_->touch_test(), touch_hindrance());
  ImGui::EndChild();
  ImGui::EndChild();
  if (act == TouchAct::save) save_touch_test();
  if (act == TouchAct::end) model_->end_touch_test();
  if (act == TouchAct::begin_again) begin_touch_test();
}

}  // namespace bareglass::view
