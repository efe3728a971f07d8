// When things come, go, dry and move; where there is room for them.

#include <algorithm>
#include <cmath>

#include "drawing.hpp"

namespace bareglass::world {

namespace {

/// From this size on a thing is felt as a whole at every place anew, which takes a tenth of a
/// second for each frame in which it moves.
constexpr double kLarge_mm = 25.0;

panel::Event thing_event(double at_s, double over_s, panel::Action action, const char* word,
                         std::size_t thing) {
  panel::Event e;
  e.at_s = at_s;
  e.over_s = over_s;
  e.action = action;
  e.word = word;
  e.thing = thing;
  return e;
}

}  // namespace

void draw_lives_of(Drawing& d, Item& item) {
  const std::vector<Life>& lives = d.c.lives;
  if (lives.size() == 1 || d.draw.chance(0.5)) {
    item.stays = {{-1.0, kEver}};
    return;
  }
  const auto some = static_cast<std::size_t>(d.draw.whole(0, static_cast<int>(lives.size()) - 1));
  const bool more = d.draw.chance(0.3);
  for (std::size_t k = 0; k < lives.size(); ++k)
    if (k == some || (more && k == some + 1))
      item.stays.push_back({lives[k].from_s - 0.1, lives[k].until_s + 0.05});
}

void draw_coming_and_going(Drawing& d, Item& item) {
  const Life& last = d.last();
  Stay& stay = item.stays.back();
  if (stay.until_s < last.until_s || last.long_s() < 2.4) return;
  const double kind = d.draw.between(0, 1);
  if (kind < 0.2) {
    stay.from_s = std::max(stay.from_s, d.draw.between(last.from_s + 1.0, last.until_s - 1.2));
  } else if (kind < 0.4) {
    stay.until_s = d.draw.between(last.from_s + 0.8, last.until_s - 0.6);
  }
}

void draw_change(Drawing& d, Item& item, std::size_t thing, bool may_dry, const Drawn& drawn) {
  const Life& last = d.last();
  const Stay& stay = item.stays.back();
  if (last.long_s() < 3.0 || stay.from_s > last.from_s || stay.until_s < last.until_s) return;
  const double kind = d.draw.between(0, 1);
  if (may_dry && kind < 0.25) {
    const double from = last.from_s + d.draw.between(0.5, 1.0);
    const double over = d.draw.between(2.0, 1.4 * last.long_s());
    d.add(thing_event(from, over, panel::Action::dry, "dry", thing));
    item.fades = true;
    item.dries = (last.until_s - from) / over >= 0.5;
  } else if (kind > 0.93) {
    const auto to = d.room_for(drawn);
    if (!to) return;
    const bool at_once = d.draw.chance(0.5);
    const double from = last.from_s + (at_once ? 0.0 : d.draw.between(1.0, last.long_s() - 1.5));
    const double over = drawn.long_mm < kLarge_mm ? d.draw.between(0.8, 2.5) : 0.3;
    panel::Event move = thing_event(from, over, panel::Action::move, "move", thing);
    move.to = *to;
    d.add(move);
    item.moves = true;
    item.moves_from_start = at_once;
  }
}

void settle_hand(Drawing& d, const Item& item, std::size_t thing, double size_mm) {
  if (!item.person || size_mm < kLarge_mm) return;
  panel::ThingSpec& spec = d.c.scenario.things[thing];
  spec.tremor_mm = 0.0;
  const Stay& stay = item.stays.back();
  const double from = std::max(stay.from_s, d.last().from_s);
  const double until = std::min(stay.until_s, d.last().until_s);
  if (item.moves || until - from < 0.5) return;
  for (int k = 0; k < 2; ++k) {
    panel::Event shift =
        thing_event(d.draw.between(from, until), 0, panel::Action::move, "move", thing);
    shift.to = field::Point{spec.place.x + d.draw.between(-0.4, 0.4),
                            spec.place.y + d.draw.between(-0.4, 0.4)};
    d.add(shift);
  }
}

std::optional<field::Point> Drawing::room_for(const Drawn& drawn, double over) {
  const field::Box b = drawn.outline->footprint().bounds();
  const double over_x = over * (b.x_high - b.x_low);
  const double over_y = over * (b.y_high - b.y_low);
  const double clear = 1.5 * pitch_mm();
  const auto coordinate = [&](double low, double high, double extent) {
    const double from = -low;
    const double to = extent - high;
    return from < to ? draw.between(from, to) : (from + to) / 2;
  };
  for (int tries = 0; tries < 60; ++tries) {
    const double x = coordinate(b.x_low + over_x, b.x_high - over_x, width_mm());
    const double y = coordinate(b.y_low + over_y, b.y_high - over_y, height_mm());
    const bool free = std::none_of(taken.begin(), taken.end(), [&](const field::Box& t) {
      return x + b.x_low < t.x_high + clear && x + b.x_high > t.x_low - clear &&
             y + b.y_low < t.y_high + clear && y + b.y_high > t.y_low - clear;
    });
    if (free) return field::Point{x, y};
  }
  return std::nullopt;
}

void Drawing::take(const Drawn& drawn, field::Point place) {
  const field::Box b = drawn.outline->footprint().bounds();
  taken.push_back({place.x + b.x_low, place.x + b.x_high, place.y + b.y_low, place.y + b.y_high});
}

void Drawing::add(panel::Event event) {
  std::vector<panel::Event>& events = c.scenario.events;
  const auto after = std::upper_bound(events.begin(), events.end(), event.at_s,
                                      [](double t, const panel::Event& e) { return t < e.at_s; });
  events.insert(after, std::move(event));
}

std::size_t Drawing::put(Item& item, panel::ThingSpec spec) {
  const std::size_t thing = c.scenario.things.size();
  spec.name = "thing " + std::to_string(thing);
  c.scenario.things.push_back(std::move(spec));
  item.things.push_back(thing);
  for (const Stay& stay : item.stays) {
    add(thing_event(std::max(0.0, stay.from_s), 0, panel::Action::put, "put", thing));
    if (stay.until_s < c.scenario.duration_s)
      add(thing_event(stay.until_s, 0, panel::Action::lift, "lift", thing));
  }
  return thing;
}

}  // namespace bareglass::world
