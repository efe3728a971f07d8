// What a trainer does to the things, the lines and the device.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "bareglass/view/bench_model.hpp"
#include "bench_events.hpp"

namespace bareglass::view {

using panel::Action;
using panel::Event;

namespace {

bool is_person(const panel::ThingSpec& thing) {
  const panel::Look look = look_of(thing);
  return look == panel::Look::finger || look == panel::Look::hand;
}

}  // namespace

std::string BenchModel::free_name(const std::string& wanted) const {
  std::string name = wanted;
  for (int n = 2; thing_named(name); ++n) name = fmt::format("{} {}", wanted, n);
  return name;
}

std::size_t BenchModel::put(panel::ThingSpec thing) {
  thing.name = free_name(thing.name);
  story_->things.push_back(std::move(thing));
  const std::size_t index = story_->things.size() - 1;
  act("put " + story_->things[index].name, {{index}, false, false, false},
      {thing_event("put", Action::put, index)});
  return index;
}

std::vector<std::size_t> BenchModel::put(ShelfItem item, field::Point at) {
  std::vector<Event> events;
  Aspects aspects;
  for (panel::ThingSpec& thing : from_shelf(item, at, glass_size(*story_))) {
    thing.name = free_name(thing.name);
    story_->things.push_back(std::move(thing));
    aspects.things.push_back(story_->things.size() - 1);
    events.push_back(thing_event("put", Action::put, aspects.things.back()));
    if (drying_time_s(item) <= 0.0) continue;
    events.push_back(thing_event("dry", Action::dry, aspects.things.back()));
    // The film of disinfectant goes first, then the puddle.
    events.back().over_s = drying_time_s(item) * (story_->things.back().is_film ? 0.5 : 1.0);
  }
  const std::vector<std::size_t> put = aspects.things;
  act(fmt::format("put {}", shelf()[static_cast<std::size_t>(item)].name), std::move(aspects),
      std::move(events));
  return put;
}

void BenchModel::put_again(std::size_t thing, field::Point at) {
  Event e = thing_event("put", Action::put, thing);
  e.to = at;
  act("put " + story_->things.at(thing).name, {{thing}, false, false, false}, {e});
}

void BenchModel::take_away(std::size_t thing, const char* word) {
  act(fmt::format("{} {}", word, story_->things.at(thing).name), {{thing}, false, false, false},
      {thing_event(word, Action::lift, thing)});
}

void BenchModel::wipe_all(bool fingers_too) {
  Aspects aspects;
  std::vector<Event> events;
  for (const Lying& l : lying()) {
    const bool person = is_person(story_->things[l.thing]);
    if (person && !fingers_too) continue;
    aspects.things.push_back(l.thing);
    events.push_back(thing_event(person ? "lift" : "wipe", Action::lift, l.thing));
  }
  if (!events.empty()) act("wipe the glass", std::move(aspects), std::move(events));
}

void BenchModel::move(std::size_t thing, field::Point to, double over_s) {
  Event e = thing_event("move", Action::move, thing);
  e.to = to;
  e.over_s = over_s;
  act("move " + story_->things.at(thing).name, {{thing}, false, false, false}, {e});
}

void BenchModel::begin_drag(std::size_t thing) {
  if (drag_thing_) end_drag();
  drag_act_ = {};
  drag_act_.label = "move " + story_->things.at(thing).name;
  drag_act_.aspects.things = {thing};
  drag_act_.before = scene(drag_act_.aspects);
  drag_thing_ = thing;
}

void BenchModel::drag_to(field::Point to) {
  if (drag_thing_) drag_target_ = to;
}

void BenchModel::follow_drag() {
  if (!drag_thing_ || !drag_target_) return;
  Event e = thing_event("move", Action::move, *drag_thing_);
  e.to = *drag_target_;
  drag_target_.reset();
  drag_act_.events = {e};
  happen({e});
}

void BenchModel::end_drag() {
  if (!drag_thing_) return;
  if (drag_target_) {
    step();
    due_us_ = std::max(due_us_, unit_->t_us());
  }
  drag_thing_.reset();
  if (!drag_act_.events.empty()) remember(std::move(drag_act_));
  drag_act_ = {};
}

void BenchModel::turn(std::size_t thing, double by_degrees) {
  Event e = thing_event("turn", Action::turn, thing);
  e.value = std::remainder(unit_->timeline().thing(thing).angle_deg + by_degrees, 360.0);
  act("turn " + story_->things.at(thing).name, {{thing}, false, false, false}, {e});
}

void BenchModel::grow(std::size_t thing, double to_scale, double over_s) {
  Event e = thing_event("grow", Action::grow, thing);
  e.value = std::clamp(to_scale, 0.05, 20.0);
  e.over_s = over_s;
  act("resize " + story_->things.at(thing).name, {{thing}, false, false, false}, {e});
}

void BenchModel::dry(std::size_t thing, double over_s) {
  Event e = thing_event("dry", Action::dry, thing);
  e.over_s = over_s;
  act("dry " + story_->things.at(thing).name, {{thing}, false, false, false}, {e});
}

void BenchModel::connect(std::size_t thing, double earth_pf, bool touches_bezel) {
  if (story_->things.at(thing).is_film) return;
  Event e = thing_event("ground", Action::ground, thing);
  e.earth_pf = earth_pf;
  e.device_pf = touches_bezel ? panel::kConnected : 0.0;
  act("connect " + story_->things[thing].name, {{thing}, false, false, false}, {e});
}

std::string BenchModel::break_line(const LineFault& f) {
  const int own = f.of_rows ? story_->setup.rows : story_->setup.columns;
  const int crossed = f.of_rows ? story_->setup.columns : story_->setup.rows;
  const bool cut = f.kind == LineFault::Kind::cut;
  if (f.first < 0 || f.last < f.first || f.last >= own || (cut && (f.at < 1 || f.at >= crossed)) ||
      (f.kind == LineFault::Kind::bridged && f.first == f.last))
    throw std::invalid_argument("break_line: expected lines that exist");
  constexpr const char* kWhat[] = {"open tail", "cut", "bridge", "raised resistance"};
  const std::string lines =
      f.first == f.last
          ? fmt::format("{} {}", f.of_rows ? "row" : "column", f.first)
          : fmt::format("{} {} to {}", f.of_rows ? "rows" : "columns", f.first, f.last);
  const std::string wanted = fmt::format("{} of {}", kWhat[static_cast<int>(f.kind)], lines);
  std::string name = wanted;
  const auto taken = [&] {
    const auto& faults = unit_->timeline().faults();
    return std::any_of(faults.begin(), faults.end(),
                       [&](const panel::NamedFault& g) { return g.first == name; });
  };
  for (int n = 2; taken(); ++n) name = fmt::format("{}, {}", wanted, n);
  act(name, {{}, true, false, false}, {fault_event({name, f})});
  return name;
}

void BenchModel::repair(const std::string& name) {
  Event e = device_event("repair", Action::repair, 0.0);
  e.name = name;
  act("repair " + name, {{}, true, false, false}, {e});
}

void BenchModel::repair_all() {
  std::vector<Event> events;
  restore_lines(events, unit_->timeline().faults(), {});
  if (!events.empty()) act("repair all lines", {{}, true, false, false}, std::move(events));
}

void BenchModel::power(bool on) {
  if (on == unit_->powered()) return;
  act(on ? "power on" : "power off", {{}, false, false, true},
      {on ? device_event("power_on", Action::power_on, 0.0)
          : device_event("power_off", Action::power_off, 0.0)});
}

void BenchModel::power_cycle(double off_s) {
  power(false);
  advance(off_s);
  power(true);
}

void BenchModel::dock(bool docked) {
  if (docked == surroundings().docked) return;
  // Lifted from its dock, a unit lies on an insulating tray until it is said to be held or earthed.
  constexpr double kOnTray_pf = 3.0;
  act(docked ? "dock" : "undock", {{}, false, true, false},
      {docked ? device_event("dock", Action::dock, panel::kConnected)
              : device_event("undock", Action::undock, kOnTray_pf)});
}

void BenchModel::set_earth(double pf) {
  act("earth of the device", {{}, false, true, false}, {device_event("earth", Action::earth, pf)});
}

void BenchModel::set_battery(double millivolts, double over_s) {
  Event e = device_event("supply", Action::supply, std::clamp(millivolts, 0.0, 65535.0));
  e.over_s = over_s;
  act("battery", {{}, false, true, false}, {e});
}

void BenchModel::set_temperature(double celsius, double over_s) {
  Event e = device_event("temperature", Action::temperature, std::clamp(celsius, -40.0, 85.0));
  e.over_s = over_s;
  act("temperature", {{}, false, true, false}, {e});
}

void BenchModel::set_charger_noise(double volts, double khz) {
  Event e = device_event("charger_noise", Action::charger_noise, volts);
  e.frequency_hz = khz * 1e3;
  act(volts > 0.0 ? "charger noise" : "charger quiet", {{}, false, true, false}, {e});
}

}  // namespace bareglass::view
