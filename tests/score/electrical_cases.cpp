// The device around the panel, and panels that have nothing.

#include <algorithm>

#include "draw.hpp"

namespace bareglass::score {

namespace {

using host::Cause;

panel::Event device_event(double at_s, panel::Action action, const char* word, double value) {
  panel::Event e;
  e.at_s = at_s;
  e.action = action;
  e.word = word;
  e.value = value;
  return e;
}

// Near the drive's own frequency, where the demodulator hears it.
void interference(Case& c, Draw& draw) {
  const double drive_hz = 0.5e6 / c.scenario.setup.lines.half_period_us;
  panel::Event e =
      device_event(draw.chance(0.6) ? 0.0 : draw.between(0.6, 1.2), panel::Action::charger_noise,
                   "charger_noise", draw.between(1.0, 6.0));
  e.frequency_hz = drive_hz + draw.between(300, 3000) * (draw.chance(0.5) ? 1 : -1);
  c.scenario.device.charging = true;
  c.scenario.device.supply_mv = draw.between(3900, 4250);
  add_event(c, e);
  add_thing(c, finger(draw, inside(c, draw, 3)), 1.4, c.scenario.duration_s - 0.3);
}

// The drive carries a ripple slow enough to move whole rows.
void common_mode(Case& c, Draw& draw) {
  panel::Event e = device_event(draw.chance(0.6) ? 0.0 : draw.between(0.6, 1.5),
                                panel::Action::ripple, "ripple", draw.between(0.03, 0.25));
  e.frequency_hz = draw.between(300, 2500);
  add_event(c, e);
}

// A device on an insulating tray, touched.
void floating_ground(Case& c, Draw& draw) {
  c.scenario.device.earth_pf = draw.between(1.0, 4.5);
  const double until = c.scenario.duration_s - draw.between(0.2, 0.8);
  add_thing(c, finger(draw, inside(c, draw, 5)), draw.between(1.0, 1.6), until);
  if (draw.chance(0.4)) add_thing(c, finger(draw, inside(c, draw, 5)), 2.0, until);
  if (draw.chance(0.25))
    add_event(c, device_event(until - 0.7, panel::Action::dock, "dock", panel::kConnected));
}

// Below the regulator's limit the drive falls with the supply.
void supply_sag(Case& c, Draw& draw) {
  const double low_mv = draw.between(2300, 2880);
  if (draw.chance(0.3)) {
    c.scenario.device.supply_mv = low_mv;
    return;
  }
  panel::Event e = device_event(draw.between(0.6, 1.5), panel::Action::supply, "supply", low_mv);
  e.over_s = draw.between(0.5, 2.0);
  add_event(c, e);
}

}  // namespace

void put_electrical(Case& c, Draw& draw, Cause cause) {
  switch (cause) {
    case Cause::interference:
      return interference(c, draw);
    case Cause::common_mode:
      return common_mode(c, draw);
    case Cause::floating_ground:
      return floating_ground(c, draw);
    default:
      return supply_sag(c, draw);
  }
}

void make_electrical(Case& c, Draw& draw, const std::string& folder) {
  draw_panel(c, draw, folder, draw.between(3.0, 4.5));
  put_electrical(c, draw, c.drawn);
  const bool own_fingers = c.drawn == Cause::interference || c.drawn == Cause::floating_ground;
  if (!own_fingers && draw.chance(0.5)) add_touches(c, draw, 0.8, c.scenario.duration_s - 0.2);
}

void make_healthy(Case& c, Draw& draw, const std::string& folder) {
  draw_panel(c, draw, folder, draw.between(1.5, 4.0));
  panel::LineSpec& lines = c.scenario.setup.lines;
  lines.driven_at = draw.chance(0.5) ? panel::RowEnd::left : panel::RowEnd::right;
  lines.sensed_at = draw.chance(0.5) ? panel::ColumnEnd::top : panel::ColumnEnd::bottom;
  if (draw.chance(0.3)) c.scenario.device.earth_pf = draw.between(100, 300);  // held in a hand
  if (draw.chance(0.3)) {
    panel::Event warm = device_event(0.2, panel::Action::temperature, "temperature",
                                     c.scenario.device.temperature_c + draw.between(-6, 6));
    warm.over_s = c.scenario.duration_s;
    add_event(c, warm);
  }
  if (draw.chance(0.6)) add_touches(c, draw, 0.7, c.scenario.duration_s - 0.1);
  if (draw.chance(0.1)) c.scenario.record_from_s = draw.between(0.1, 0.5);
}

void make_not_enough(Case& c, Draw& draw, const std::string& folder) {
  draw_panel(c, draw, folder, draw.between(0.06, 0.24));
}

}  // namespace bareglass::score
