#include "bench_events.hpp"

#include <algorithm>

namespace bareglass::view {

using panel::Action;
using panel::Event;

namespace {

/// A scenario asks for a frequency even where there is no amplitude.
constexpr double kSomeFrequency_hz = 1000.0;

bool same(const panel::LineFault& a, const panel::LineFault& b) {
  return a.kind == b.kind && a.of_rows == b.of_rows && a.first == b.first && a.last == b.last &&
         a.at == b.at && a.ohm == b.ohm && a.mean_there_s == b.mean_there_s &&
         a.mean_away_s == b.mean_away_s;
}

bool among(const panel::NamedFault& fault, const std::vector<panel::NamedFault>& list) {
  return std::any_of(list.begin(), list.end(), [&](const panel::NamedFault& f) {
    return f.first == fault.first && same(f.second, fault.second);
  });
}

Event disturbance(const char* word, Action action, const panel::Interference& to) {
  Event e = device_event(word, action, to.amplitude_v);
  e.frequency_hz = to.frequency_hz > 0.0 ? to.frequency_hz : kSomeFrequency_hz;
  return e;
}

bool same(const panel::Interference& a, const panel::Interference& b) {
  return a.amplitude_v == b.amplitude_v && a.frequency_hz == b.frequency_hz;
}

}  // namespace

Event thing_event(const char* word, Action action, std::size_t thing) {
  Event e;
  e.word = word;
  e.action = action;
  e.thing = thing;
  return e;
}

Event fault_event(const panel::NamedFault& fault) {
  Event e;
  e.word = "fault";
  e.action = Action::fault;
  e.name = fault.first;
  e.fault = fault.second;
  return e;
}

Event device_event(const char* word, Action action, double value) {
  Event e;
  e.word = word;
  e.action = action;
  e.value = value;
  return e;
}

void restore_thing(std::vector<Event>& out, const panel::Scenario& story, std::size_t index,
                   const panel::ThingState& now, const panel::ThingState& to) {
  if (!to.there) {
    if (now.there) out.push_back(thing_event("lift", Action::lift, index));
    return;
  }
  const panel::ThingSpec& spec = story.things[index];
  Event put = thing_event("put", Action::put, index);
  put.to = to.place;
  if (spec.is_film && to.film_um != spec.film_um) put.film_um = to.film_um;
  out.push_back(put);
  if (to.scale != 1.0) {
    out.push_back(thing_event("grow", Action::grow, index));
    out.back().value = std::clamp(to.scale, 0.05, 20.0);
  }
  if (to.angle_deg != 0.0) {
    out.push_back(thing_event("turn", Action::turn, index));
    out.back().value = to.angle_deg;
  }
  if (to.earth_pf != spec.earth_pf || to.device_pf != spec.device_pf) {
    out.push_back(thing_event("ground", Action::ground, index));
    out.back().earth_pf = to.earth_pf;
    out.back().device_pf = to.device_pf;
  }
  if (to.drying) {
    out.push_back(thing_event("dry", Action::dry, index));
    out.back().over_s = to.dry_after_s;
  }
}

void restore_lines(std::vector<Event>& out, const std::vector<panel::NamedFault>& now,
                   const std::vector<panel::NamedFault>& to) {
  for (const panel::NamedFault& f : now) {
    if (among(f, to)) continue;
    Event e;
    e.word = "repair";
    e.action = Action::repair;
    e.name = f.first;
    out.push_back(e);
  }
  for (const panel::NamedFault& f : to)
    if (!among(f, now)) out.push_back(fault_event(f));
}

void restore_device(std::vector<Event>& out, const panel::DeviceState& now,
                    const panel::DeviceState& to) {
  if (to.docked != now.docked)
    out.push_back(to.docked ? device_event("dock", Action::dock, to.earth_pf)
                            : device_event("undock", Action::undock, to.earth_pf));
  else if (to.earth_pf != now.earth_pf)
    out.push_back(device_event("earth", Action::earth, to.earth_pf));
  if (to.supply_mv != now.supply_mv)
    out.push_back(device_event("supply", Action::supply, to.supply_mv));
  if (to.temperature_c != now.temperature_c)
    out.push_back(device_event("temperature", Action::temperature, to.temperature_c));
  if (!same(to.charger, now.charger))
    out.push_back(disturbance("charger_noise", Action::charger_noise, to.charger));
  if (!same(to.ripple, now.ripple)) out.push_back(disturbance("ripple", Action::ripple, to.ripple));
}

}  // namespace bareglass::view
