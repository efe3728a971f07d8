#include "bareglass/view/touch_session.hpp"

namespace bareglass::view {

namespace {

host::TouchPlan checked(std::optional<host::TouchPlan> plan, const Settings& settings,
                        const std::string& file) {
  if (!plan) return host::default_touch_plan(settings);
  host::expect_on_panel(*plan, settings, file);
  return *plan;
}

}  // namespace

TouchSession::TouchSession(BenchModel& bench, std::optional<host::TouchPlan> plan,
                           const std::string& plan_file)
    : bench_(bench),
      test_(checked(std::move(plan), bench.unit().device().settings(), plan_file),
            bench.unit().device().settings()),
      plan_file_(plan_file) {}

void TouchSession::press(field::Point at) {
  if (pressed_) return;
  if (!has_finger_) {
    // A steady finger: what is tested is the panel, not the hand.
    panel::ThingSpec finger = from_shelf(ShelfItem::finger, at, {}).front();
    finger.name = "test finger";
    finger.tremor_mm = 0.0;
    finger_ = bench_.put(std::move(finger));
    has_finger_ = true;
  } else {
    bench_.put_again(finger_, at);
  }
  bench_.begin_drag(finger_);
  pressed_ = true;
}

void TouchSession::slide(field::Point to) {
  if (pressed_) bench_.drag_to(to);
}

void TouchSession::release() {
  if (!pressed_) return;
  bench_.end_drag();
  bench_.take_away(finger_, "lift");
  pressed_ = false;
}

void TouchSession::see() {
  const panel::LiveUnit& unit = bench_.unit();
  if (!unit.powered() || unit.frame().t_us == seen_us_) return;
  seen_us_ = unit.frame().t_us;
  test_.feed(unit.device().contacts(), seen_us_);
}

field::Point TouchSession::place(host::PointMm p) const {
  const panel::Scenario& story = bench_.story();
  return {p.x - 0.5 * story.panel.columns.pitch_mm, p.y - 0.5 * story.panel.rows.pitch_mm};
}

std::string TouchSession::text() const {
  return host::touch_text({"bench", bench_.story().unit_id, plan_file_, {}}, test_.plan(),
                          test_.result());
}

}  // namespace bareglass::view
