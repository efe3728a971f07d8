#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/panel/scenario.hpp"

namespace bareglass::panel {

namespace {

/// Outlines grow and shrink in steps of 4 %, so that each is cut once.
constexpr double kScaleStep = 1.04;
/// Below this part of its size a drying conductor is gone.
constexpr double kDry = 0.15;

int scale_step(double scale) {
  return static_cast<int>(std::lround(std::log(std::max(scale, 1e-3)) / std::log(kScaleStep)));
}

std::string earthing_text(double pf) {
  return std::isinf(pf) ? "earthed" : fmt::format("{:g}", pf);
}

}  // namespace

double Timeline::Slide::at(double t_s) const {
  if (t_s >= begin_s + over_s) return to;
  if (t_s <= begin_s) return from;
  return from + (to - from) * (t_s - begin_s) / over_s;
}

void Timeline::Slide::go(double target, double t_s, double duration_s) {
  *this = {at(t_s), target, t_s, duration_s};
}

Timeline::Timeline(const Scenario& scenario)
    : scenario_(scenario), things_(scenario.things.size()), device_(scenario.device) {
  supply_mv_.set(device_.supply_mv);
  temperature_c_.set(device_.temperature_c);
  now_.device = device_;
}

void Timeline::place(const ThingSpec& spec, Thing& thing) {
  thing.there = true;
  thing.drying = false;
  thing.x.set(spec.place.x);
  thing.y.set(spec.place.y);
  thing.scale.set(1.0);
  thing.angle_deg = 0.0;
  thing.film_um.set(spec.film_um);
  thing.earth_pf = spec.earth_pf;
  thing.device_pf = spec.device_pf;
  thing.outline = spec.outline;
  thing.scale_step = 0;
  thing.cut_deg = 0.0;
}

void Timeline::apply_to_thing(const Event& e) {
  const ThingSpec& spec = scenario_.things[e.thing];
  Thing& thing = things_[e.thing];
  switch (e.action) {
    case Action::put:
      place(spec, thing);
      if (e.to) {
        thing.x.set(e.to->x);
        thing.y.set(e.to->y);
      }
      if (e.film_um >= 0.0) thing.film_um.set(e.film_um);
      break;
    case Action::turn:
      thing.angle_deg = e.value;
      break;
    case Action::lift:
      thing.there = false;
      break;
    case Action::move:
      thing.x.go(e.to->x, e.at_s, e.over_s);
      thing.y.go(e.to->y, e.at_s, e.over_s);
      break;
    case Action::grow:
      thing.scale.go(e.value, e.at_s, e.over_s);
      break;
    case Action::dry:
      thing.drying = true;
      if (spec.is_film)
        thing.film_um.go(0.0, e.at_s, e.over_s);
      else
        thing.scale.go(0.0, e.at_s, e.over_s);
      break;
    default:
      if (e.earth_pf) thing.earth_pf = *e.earth_pf;
      if (e.device_pf) thing.device_pf = *e.device_pf;
  }
}

void Timeline::apply_to_device(const Event& e) {
  switch (e.action) {
    case Action::supply:
      supply_mv_.go(e.value, e.at_s, e.over_s);
      break;
    case Action::temperature:
      temperature_c_.go(e.value, e.at_s, e.over_s);
      break;
    case Action::dock:
    case Action::undock:
      device_.docked = device_.charging = e.action == Action::dock;
      device_.earth_pf = e.value;
      break;
    case Action::earth:
      device_.earth_pf = e.value;
      break;
    case Action::charger_noise:
      device_.charger = {e.value, e.frequency_hz};
      break;
    case Action::ripple:
      device_.ripple = {e.value, e.frequency_hz};
      break;
    default:
      powered_ = e.action == Action::power_on;
  }
}

void Timeline::apply(const Event& e) {
  if (e.action <= Action::ground) {
    apply_to_thing(e);
  } else if (e.action == Action::fault || e.action == Action::repair) {
    faults_.erase(std::remove_if(faults_.begin(), faults_.end(),
                                 [&](const auto& f) { return f.first == e.name; }),
                  faults_.end());
    if (e.action == Action::fault) faults_.emplace_back(e.name, e.fault);
  } else {
    apply_to_device(e);
  }
}

void Timeline::lay(std::size_t k, double t_s) {
  Thing& thing = things_[k];
  if (!thing.there) return;
  const ThingSpec& spec = scenario_.things[k];
  const double scale = thing.scale.at(t_s);
  if (thing.drying && !spec.is_film && scale < kDry) {
    thing.there = false;
    return;
  }
  const int step = scale_step(scale);
  if (step != thing.scale_step || thing.angle_deg != thing.cut_deg) {
    thing.scale_step = step;
    thing.cut_deg = thing.angle_deg;
    const OutlinePtr upright = spec.outline->scaled(std::pow(kScaleStep, step));
    thing.outline = thing.angle_deg == 0.0 ? upright : upright->turned(thing.angle_deg);
  }
  // Two slow tones that never meet again: a hand at rest, not a record on repeat.
  const field::Point place{
      thing.x.at(t_s) + spec.tremor_mm * std::sin(9.0 * t_s + static_cast<double>(k)),
      thing.y.at(t_s) + spec.tremor_mm * std::cos(7.1 * t_s)};
  if (spec.is_film)
    now_.films.push_back({thing.outline, place, thing.film_um.at(t_s), spec.permittivity});
  else
    now_.conductors.push_back({thing.outline, place, thing.earth_pf, thing.device_pf, spec.spacer});
}

const Situation& Timeline::at(double t_s) {
  now_s_ = t_s;
  things_.resize(scenario_.things.size());
  happened_.clear();
  while (next_ < scenario_.events.size() && scenario_.events[next_].at_s <= t_s) {
    apply(scenario_.events[next_]);
    happened_.push_back(next_++);
  }
  now_.conductors.clear();
  now_.films.clear();
  now_.faults.clear();
  for (std::size_t k = 0; k < things_.size(); ++k) lay(k, t_s);
  for (const auto& f : faults_) now_.faults.push_back(f.second);
  device_.supply_mv = supply_mv_.at(t_s);
  device_.temperature_c = temperature_c_.at(t_s);
  now_.device = device_;
  return now_;
}

ThingState Timeline::thing(std::size_t index) const {
  ThingState out;
  if (index >= things_.size()) return out;
  const Thing& thing = things_[index];
  out.there = thing.there;
  if (!thing.there) return out;
  out.place = {thing.x.at(now_s_), thing.y.at(now_s_)};
  out.scale = thing.scale.at(now_s_);
  out.angle_deg = thing.angle_deg;
  out.film_um = thing.film_um.at(now_s_);
  out.earth_pf = thing.earth_pf;
  out.device_pf = thing.device_pf;
  out.drying = thing.drying;
  const Slide& course = scenario_.things[index].is_film ? thing.film_um : thing.scale;
  if (thing.drying) out.dry_after_s = std::max(0.0, course.begin_s + course.over_s - now_s_);
  out.outline = thing.outline;
  return out;
}

std::string Timeline::truth(const NamedFault& fault) const {
  const char* kinds[] = {"open_tail", "cut", "bridge", "raised_resistance"};
  const LineFault& f = fault.second;
  std::string out =
      fmt::format(" name={} kind={} lines={} first={} last={}", fault.first,
                  kinds[static_cast<int>(f.kind)], f.of_rows ? "rows" : "columns", f.first, f.last);
  if (f.kind == LineFault::Kind::cut) out += fmt::format(" at={}", f.at);
  if (f.ohm > 0.0) out += fmt::format(" ohm={:g}", f.ohm);
  if (f.mean_there_s > 0.0)
    out += fmt::format(" there_s={:g} away_s={:g}", f.mean_there_s, f.mean_away_s);
  return out;
}

std::vector<std::string> Timeline::truth() const {
  std::vector<std::string> out;
  for (std::size_t k = 0; k < things_.size(); ++k) {
    if (!things_[k].there) continue;
    const ThingSpec& spec = scenario_.things[k];
    const Thing& thing = things_[k];
    const field::Box b = thing.outline->footprint().bounds();
    const double x = thing.x.to;
    const double y = thing.y.to;
    out.push_back(
        fmt::format("lies thing={} kind={} shape={} x_mm={:.1f}..{:.1f} y_mm={:.1f}..{:.1f}",
                    spec.name, spec.is_film ? "film" : "conductor", spec.shape, x + b.x_low,
                    x + b.x_high, y + b.y_low, y + b.y_high));
    out.back() +=
        spec.is_film
            ? fmt::format(" film_um={:g} permittivity={:g}", thing.film_um.to, spec.permittivity)
            : fmt::format(" earth_pf={} device_pf={}", earthing_text(thing.earth_pf),
                          earthing_text(thing.device_pf));
  }
  for (const NamedFault& fault : faults_) out.push_back("fault" + truth(fault));
  return out;
}

std::string Timeline::truth(std::size_t event) const {
  const Event& e = scenario_.events[event];
  std::string out = e.word;
  if (e.action <= Action::ground) {
    const ThingSpec& spec = scenario_.things[e.thing];
    out += fmt::format(" thing={}", spec.name);
    if (e.to) out += fmt::format(" to_mm={:g},{:g}", e.to->x, e.to->y);
    if (e.film_um >= 0.0) out += fmt::format(" film_um={:g}", e.film_um);
    if (e.action == Action::turn) out += fmt::format(" to_deg={:g}", e.value);
    if (e.action == Action::grow) out += fmt::format(" to_scale={:g}", e.value);
    if (e.earth_pf) out += " earth_pf=" + earthing_text(*e.earth_pf);
    if (e.device_pf) out += " device_pf=" + earthing_text(*e.device_pf);
  } else if (e.action == Action::fault) {
    out += truth(NamedFault{e.name, e.fault});
  } else if (e.action == Action::repair) {
    out += " name=" + e.name;
  } else if (e.action == Action::dock || e.action == Action::undock || e.action == Action::earth) {
    out += " earth_pf=" + earthing_text(e.value);
  } else if (e.action == Action::charger_noise || e.action == Action::ripple) {
    out += fmt::format(" amplitude_v={:g} frequency_hz={:g}", e.value, e.frequency_hz);
  } else if (e.action == Action::supply || e.action == Action::temperature) {
    out += fmt::format(" to={:g}", e.value);
  }
  if (e.over_s > 0.0) out += fmt::format(" over_s={:g}", e.over_s);
  return out;
}

}  // namespace bareglass::panel
