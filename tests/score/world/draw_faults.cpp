// Damage of lines, and states of the device around the panel.

#include <algorithm>
#include <cmath>

#include "drawing.hpp"

namespace bareglass::world {

namespace {

using panel::LineFault;

int lines(const Drawing& d, bool of_rows) {
  return of_rows ? d.c.scenario.setup.rows : d.c.scenario.setup.columns;
}

void add_fault(Drawing& d, Item& item, const LineFault& fault) {
  panel::Event e;
  e.at_s = std::max(0.0, item.stays.front().from_s);
  e.action = panel::Action::fault;
  e.word = "fault";
  e.name = "fault " + std::to_string(d.c.scenario.events.size());
  e.fault = fault;
  item.faults.push_back(e.name);
  d.add(e);
}

// Broken before the power came on, or a moment into the last life.
void draw_begin(Drawing& d, Item& item) {
  const Life& last = d.last();
  const bool late = last.long_s() > 2.4 && d.draw.chance(0.35);
  item.stays = {{late ? d.draw.between(last.from_s + 0.8, last.until_s - 1.2) : -1.0, kEver}};
}

/// Lines that no fault has yet; -1 if there is no room.
int draw_first(Drawing& d, bool of_rows, int count) {
  for (int tries = 0; tries < 30; ++tries) {
    const int first = d.draw.whole(0, lines(d, of_rows) - count);
    const bool free = std::none_of(d.c.items.begin(), d.c.items.end(), [&](const Item& i) {
      return is_fault(i.kind) && i.of_rows == of_rows && first <= i.last + 2 &&
             first + count - 1 >= i.first - 2;
    });
    if (free) return first;
  }
  return -1;
}

/// Ohm in a tail: what takes 1 to 60 % of the line's charge.
double draw_ohm(Drawing& d, bool of_rows) {
  return of_rows ? d.draw.factor(4000, 80000) : d.draw.factor(9000, 120000);
}

void cut(Drawing& d, Item& item, LineFault f) {
  // A straight crack: each of its lines is cut a little further on than the one before.
  const int crossed = lines(d, !f.of_rows);
  const double slope = d.draw.between(-1.6, 1.6);
  const double start = d.draw.between(1, crossed - 1);
  f.kind = LineFault::Kind::cut;
  for (int line = item.first; line <= item.last; ++line) {
    f.first = f.last = line;
    f.at = std::clamp(static_cast<int>(std::lround(start + slope * (line - item.first))), 1,
                      crossed - 1);
    if (line == item.first) item.at = f.at;
    add_fault(d, item, f);
  }
}

void tails(Drawing& d, Item& item, LineFault f, bool open) {
  if (open) {
    f.first = item.first;
    f.last = item.last;
    return add_fault(d, item, f);
  }
  f.kind = LineFault::Kind::raised_resistance;
  for (int line = item.first; line <= item.last; ++line) {
    f.first = f.last = line;
    f.ohm = draw_ohm(d, f.of_rows);
    add_fault(d, item, f);
  }
}

void bridge(Drawing& d, Item& item, LineFault f) {
  f.kind = LineFault::Kind::bridged;
  f.first = item.first;
  f.last = item.last;
  f.ohm = d.draw.chance(0.5) ? 0.0 : d.draw.between(1, 60);
  add_fault(d, item, f);
}

void come_and_go(Drawing& d, Item& item, LineFault f) {
  f.mean_there_s = d.draw.between(0.06, 0.4);
  f.mean_away_s = d.draw.between(0.06, 0.4);
  tails(d, item, f, d.draw.chance(0.7));
}

int lines_of(Drawing& d, Kind kind, bool of_rows) {
  const int own = lines(d, of_rows);
  if (kind == Kind::bridged) return 2;
  if (kind == Kind::cut) return d.draw.whole(1, std::min(6, own / 2));
  if (kind == Kind::tail_group) return d.draw.whole(2, std::min(5, own / 2));
  return 1;
}

panel::Event device_event(double at_s, panel::Action action, const char* word, double value) {
  panel::Event e;
  e.at_s = at_s;
  e.action = action;
  e.word = word;
  e.value = value;
  return e;
}

/// Two fingers at rest at once for most of the last life: what tells a device without earth.
void hold_two_fingers(Drawing& d) {
  const Life& last = d.last();
  if (last.long_s() < 2.6 || !d.draw.chance(0.7)) return;
  Item pair;
  pair.stays = {{last.from_s + 1.2, last.until_s - 0.2}};
  for (int k = 0; k < 2; ++k) {
    Drawn tip;
    tip.outline = panel::Outline::disc(d.draw.between(6.5, 11));
    const auto place = d.room_for(tip, 0.1);
    if (!place) return;
    panel::ThingSpec spec = score::conductor(tip.outline, "disc", *place);
    spec.earth_pf = d.draw.between(80, 220);
    spec.tremor_mm = d.draw.between(0.05, 0.2);
    d.put(pair, spec);
    d.take(tip, *place);
  }
  d.c.fingers_in_use = 2;
}

/// Since when a state of the device holds: from the start, or a moment into the last life.
double draw_since(Drawing& d) {
  const Life& last = d.last();
  return last.long_s() < 2.5 || d.draw.chance(0.5)
             ? 0.0
             : d.draw.between(last.from_s + 0.6, last.from_s + 1.2);
}

void sag(Drawing& d, Item& item, double since) {
  const double low_mv = d.draw.between(2300, 2950);
  item.strength = 1 - low_mv / d.c.scenario.setup.front_end.supply_min_mv;
  if (since == 0.0) {
    d.c.scenario.device.supply_mv = low_mv;
    return;
  }
  panel::Event e = device_event(since, panel::Action::supply, "supply", low_mv);
  e.over_s = d.draw.between(0.3, 1.2);
  d.add(e);
}

// Every node reads higher or lower by the same part: a unit from the cold store.
void temperature(Drawing& d, Item& item) {
  const double sign = d.draw.chance(0.5) ? 1 : -1;
  item.strength = sign * d.draw.factor(0.03, 0.15);
  const double warm_k = -45 + 10 * d.draw.between(0, 1);
  d.c.scenario.device.temperature_c = 25 + warm_k;
  d.c.scenario.setup.front_end.gain_ppm_k = 1e6 * item.strength / warm_k;
}

void interference(Drawing& d, Item& item, double since) {
  const double drive_hz = 0.5e6 / d.c.scenario.setup.lines.half_period_us;
  panel::Event e =
      device_event(since, panel::Action::charger_noise, "charger_noise", d.draw.factor(1, 8));
  const double side = d.draw.chance(0.5) ? 1 : -1;
  e.frequency_hz = drive_hz + side * d.draw.between(300, 3000);
  item.strength = e.value;
  d.c.scenario.device.charging = true;
  d.c.scenario.device.supply_mv = d.draw.between(3900, 4250);
  d.add(e);
}

void common_mode(Drawing& d, Item& item, double since) {
  panel::Event e = device_event(since, panel::Action::ripple, "ripple", d.draw.factor(0.02, 0.3));
  e.frequency_hz = d.draw.between(300, 2500);
  item.strength = e.value;
  d.add(e);
}

}  // namespace

void draw_fault(Drawing& d, Kind kind) {
  Item item;
  item.kind = kind;
  item.of_rows = d.draw.chance(0.5);
  const int count = lines_of(d, kind, item.of_rows);
  item.first = draw_first(d, item.of_rows, count);
  if (item.first < 0) return;
  item.last = item.first + count - 1;
  draw_begin(d, item);
  LineFault f;
  f.of_rows = item.of_rows;
  if (kind == Kind::cut)
    cut(d, item, f);
  else if (kind == Kind::bridged)
    bridge(d, item, f);
  else if (kind == Kind::intermittent)
    come_and_go(d, item, f);
  else
    tails(d, item, f, kind == Kind::open_line || (kind == Kind::tail_group && d.draw.chance(0.3)));
  d.c.items.push_back(std::move(item));
}

void draw_device(Drawing& d, Kind kind) {
  Item item;
  item.kind = kind;
  const double since = draw_since(d);
  item.stays = {{since - 1, kEver}};
  if (since > 0) item.stays.front().from_s = since;
  switch (kind) {
    case Kind::sag:
      sag(d, item, since);
      break;
    case Kind::temperature:
      item.stays.front().from_s = -1;
      temperature(d, item);
      break;
    case Kind::interference:
      interference(d, item, since);
      break;
    case Kind::common_mode:
      common_mode(d, item, since);
      break;
    default:
      item.stays.front().from_s = -1;
      item.strength = d.draw.factor(0.7, 4.5);
      d.c.scenario.device.earth_pf = item.strength;
      hold_two_fingers(d);
  }
  d.c.items.push_back(std::move(item));
}

}  // namespace bareglass::world
