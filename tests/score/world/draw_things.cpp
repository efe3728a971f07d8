// Things on the glass: one size from fingertip to palm, any way to earth, any outline, any time.

#include <algorithm>
#include <cmath>
#include <limits>

#include "drawing.hpp"
#include "panels.hpp"

namespace bareglass::world {

namespace {

/// How the thing reaches ground. Weights: a third isolated, the rest spread without a gap.
void draw_earth(Drawing& d, Item& item, panel::ThingSpec& spec) {
  score::Draw& draw = d.draw;
  const double kind = draw.between(0, 1);
  if (kind < 0.34) return;
  if (kind < 0.47) {
    spec.earth_pf = draw.factor(0.1, 60);
  } else if (kind < 0.70) {
    spec.earth_pf = draw.between(60, 250);
    spec.tremor_mm = draw.between(0.03, 0.2);
    item.person = true;
  } else if (kind < 0.85) {
    spec.earth_pf = panel::kConnected;
  } else {
    spec.device_pf = panel::kConnected;
  }
}

/// pF in all, the device's own way to earth in series.
double to_ground(const WorldCase& c, const panel::ThingSpec& spec) {
  const double device = c.scenario.device.earth_pf;
  double through_earth = spec.earth_pf;
  if (std::isinf(through_earth))
    through_earth = device;
  else if (!std::isinf(device) && through_earth > 0)
    through_earth = 1 / (1 / through_earth + 1 / device);
  return through_earth + spec.device_pf;
}

void measure(const WorldCase& c, Item& item, const Drawn& drawn, const panel::ThingSpec& spec) {
  item.area_mm2 = drawn.area_mm2;
  item.long_mm = drawn.long_mm;
  item.wide_mm = drawn.wide_mm;
  item.solidity = drawn.solidity;
  item.earth_pf = to_ground(c, spec);
  item.spacer = spec.spacer;
}

Drawn rough(Drawing& d, const Drawn& drawn) {
  return d.c.world == 2 ? ragged(drawn, d.draw, d.draw.between(0.3, 1.0)) : drawn;
}

/// Second world: a large isolated thing does not lie flat everywhere; a second part of it, joined
/// to the first, is held up by a spacer.
void raise_an_edge(Drawing& d, Item& item, const panel::ThingSpec& spec, double size_mm) {
  if (d.c.world != 2 || size_mm < 14 || size_mm > 26 || !d.draw.chance(0.3)) return;
  panel::ThingSpec edge = spec;
  edge.outline = panel::Outline::rectangle(0.6 * size_mm, 0.4 * size_mm);
  edge.place = {spec.place.x + 0.45 * size_mm, spec.place.y};
  edge.spacer = {d.draw.between(100, 400), 1.0};
  d.put(item, edge);
}

bool body(Drawing& d, Item& item) {
  score::Draw& draw = d.draw;
  const double most = std::max(30.0, 0.8 * std::min(d.width_mm(), d.height_mm()));
  const double size = std::min(draw.factor(5, 120), most);
  const Drawn drawn = rough(d, draw_patch(draw, size));
  const auto place = d.room_for(drawn);
  if (!place) return false;
  panel::ThingSpec spec = score::conductor(drawn.outline, drawn.shape, *place);
  draw_earth(d, item, spec);
  if (draw.chance(0.12)) spec.spacer = {draw.factor(30, 600), draw.between(1.5, 4)};
  draw_lives_of(d, item);
  draw_coming_and_going(d, item);
  const std::size_t thing = d.put(item, spec);
  raise_an_edge(d, item, spec, size);
  draw_change(d, item, thing, !item.person && item.things.size() == 1, drawn);
  settle_hand(d, item, thing, size);
  measure(d.c, item, drawn, spec);
  d.take(drawn, *place);
  return true;
}

bool streak(Drawing& d, Item& item) {
  score::Draw& draw = d.draw;
  const double most = std::max(25.0, 0.8 * std::min(d.width_mm(), d.height_mm()));
  const double length = std::min(draw.factor(12, 120), most);
  const double wide = draw.factor(2, std::max(2.5, std::min(15.0, length / 2)));
  const Drawn drawn = rough(d, draw_streak(draw, length, wide));
  const auto place = d.room_for(drawn);
  if (!place) return false;
  panel::ThingSpec spec = score::conductor(drawn.outline, drawn.shape, *place);
  if (draw.chance(0.35)) draw_earth(d, item, spec);
  spec.tremor_mm = 0.0;
  draw_lives_of(d, item);
  draw_coming_and_going(d, item);
  const std::size_t thing = d.put(item, spec);
  draw_change(d, item, thing, true, drawn);
  measure(d.c, item, drawn, spec);
  d.take(drawn, *place);
  return true;
}

bool drops(Drawing& d, Item& item) {
  score::Draw& draw = d.draw;
  const int count = draw.whole(2, 7);
  draw_lives_of(d, item);
  draw_coming_and_going(d, item);
  int placed = 0;
  for (int k = 0; k < count; ++k) {
    const Drawn drawn = rough(d, draw_patch(draw, draw.factor(3.5, 11)));
    const auto place = d.room_for(drawn, 0.1);
    if (!place) continue;
    panel::ThingSpec spec = score::conductor(drawn.outline, drawn.shape, *place);
    d.put(item, spec);
    measure(d.c, item, drawn, spec);
    d.take(drawn, *place);
    ++placed;
  }
  item.strength = placed;
  return placed >= 1;
}

bool bezel(Drawing& d, Item& item) {
  score::Draw& draw = d.draw;
  const bool along_x = draw.chance(0.5);
  const double run = along_x ? d.width_mm() : d.height_mm();
  const double across = along_x ? d.height_mm() : d.width_mm();
  const double length = draw.between(0.25, 1.15) * run;
  // Counted from half a pitch outside the outermost line's middle, where the panel ends.
  const double depth = draw.factor(0.5, 15) - d.pitch_mm() / 2;
  const double middle = draw.between(length / 2, std::max(length / 2 + 1, run - length / 2));
  const double half = 6 + d.pitch_mm() / 2;
  const double at = draw.chance(0.5) ? depth - half : across - depth + half;
  Drawn drawn;
  drawn.shape = "band";
  drawn.outline = along_x ? panel::Outline::rectangle(length, 2 * half)
                          : panel::Outline::rectangle(2 * half, length);
  drawn = rough(d, drawn);
  const field::Point place = along_x ? field::Point{middle, at} : field::Point{at, middle};
  panel::ThingSpec spec = score::conductor(drawn.outline, drawn.shape, place);
  if (draw.chance(0.85)) spec.device_pf = panel::kConnected;
  draw_lives_of(d, item);
  draw_coming_and_going(d, item);
  d.put(item, spec);
  item.earth_pf = to_ground(d.c, spec);
  item.wide_mm = depth + d.pitch_mm() / 2;  // on the panel
  item.long_mm = length;
  item.area_mm2 = length * item.wide_mm;
  item.strength = length / run;
  d.take(drawn, place);
  return true;
}

panel::ThingSpec layer_of(Drawing& d, const Drawn& drawn, field::Point place, double um) {
  // The larger of two, as of the thickness: most layers leave less than the noise.
  const int last = static_cast<int>(std::size(kPermittivities)) - 1;
  const int one = d.draw.whole(0, last);
  const int which = std::max(one, d.draw.whole(0, last));
  return score::film(drawn.outline, drawn.shape, place, um, kPermittivities[which]);
}

/// Second world: thicker in the middle than at the rim.
void thicken(Drawing& d, Item& item, const panel::ThingSpec& spec) {
  if (d.c.world != 2) return;
  panel::ThingSpec middle = spec;
  middle.outline = spec.outline->scaled(d.draw.between(0.4, 0.7));
  middle.film_um = spec.film_um * d.draw.between(0.2, 0.6);
  d.put(item, middle);
}

bool layer(Drawing& d, Item& item) {
  score::Draw& draw = d.draw;
  const double most = std::max(25.0, 0.8 * std::min(d.width_mm(), d.height_mm()));
  const double size = std::min(draw.factor(8, 120), most);
  const bool strip = draw.chance(0.2);
  const Drawn drawn =
      rough(d, strip ? draw_streak(draw, size, draw.between(4, 19)) : draw_patch(draw, size));
  const auto place = d.room_for(drawn);
  if (!place) return false;
  const double one_um = draw.factor(30, 600);
  const double thickness_um = std::max(one_um, draw.factor(30, 600));
  const panel::ThingSpec spec = layer_of(d, drawn, *place, thickness_um);
  draw_lives_of(d, item);
  draw_coming_and_going(d, item);
  const std::size_t thing = d.put(item, spec);
  thicken(d, item, spec);
  if (item.things.size() == 1) draw_change(d, item, thing, draw.chance(0.3), drawn);
  measure(d.c, item, drawn, spec);
  item.strength = spec.film_um * (1 - 1 / spec.permittivity);
  d.take(drawn, *place);
  return true;
}

bool whole_glass(Drawing& d, Item& item) {
  score::Draw& draw = d.draw;
  const double over = draw.between(2, 30);
  Drawn drawn;
  drawn.shape = "rectangle";
  drawn.long_mm = std::max(d.width_mm(), d.height_mm()) + over;
  drawn.wide_mm = std::min(d.width_mm(), d.height_mm()) + over;
  drawn.area_mm2 = drawn.long_mm * drawn.wide_mm;
  drawn.outline = panel::Outline::rectangle(d.width_mm() + over, d.height_mm() + over);
  const field::Point middle{d.width_mm() / 2, d.height_mm() / 2};
  const bool wet = draw.chance(0.7);
  panel::ThingSpec spec = wet ? score::conductor(drawn.outline, drawn.shape, middle)
                              : layer_of(d, drawn, middle, draw.factor(50, 600));
  if (wet) draw_earth(d, item, spec);
  spec.tremor_mm = 0.0;
  draw_lives_of(d, item);
  draw_coming_and_going(d, item);
  d.put(item, spec);
  measure(d.c, item, drawn, spec);
  item.strength = wet ? 1 : 0;
  d.take(drawn, middle);
  return true;
}

bool held(Drawing& d, Item& item) {
  const Drawn drawn = rough(d, draw_patch(d.draw, d.draw.factor(6, 22)));
  const auto place = d.room_for(drawn, 0.1);
  if (!place) return false;
  panel::ThingSpec spec = score::conductor(drawn.outline, drawn.shape, *place);
  spec.earth_pf = d.draw.chance(0.5) ? panel::kConnected : d.draw.between(80, 250);
  item.stays = {{d.draw.between(2.5, 3.5), kEver}};
  d.put(item, spec);
  measure(d.c, item, drawn, spec);
  d.take(drawn, *place);
  return true;
}

Drawn strange_outline(score::Draw& draw, Kind kind) {
  // One draw a line: the order of arguments' evaluation is anybody's.
  if (kind == Kind::bandage) return draw_patch(draw, draw.between(14, 30));
  const bool ring = kind == Kind::keyring;
  const double size = ring ? draw.between(22, 36) : draw.between(25, 90);
  const double wide = ring ? draw.between(1.5, 3) : draw.between(0.8, 1.3);
  return ring ? draw_ring(draw, size, wide) : draw_streak(draw, size, wide);
}

bool strange(Drawing& d, Item& item) {
  score::Draw& draw = d.draw;
  const Drawn drawn = strange_outline(draw, item.kind);
  const auto place = d.room_for(drawn, 0.1);
  if (!place) return false;
  panel::ThingSpec spec = score::conductor(drawn.outline, drawn.shape, *place);
  if (item.kind == Kind::keyring && draw.chance(0.3)) {
    spec.earth_pf = draw.between(80, 220);
    item.person = true;
  }
  draw_lives_of(d, item);
  draw_coming_and_going(d, item);
  if (item.kind == Kind::bandage) {
    spec.spacer = {draw.between(300, 900), 3.0};
    Drawn strip;
    strip.shape = "rectangle";
    strip.outline = panel::Outline::rectangle(2.2 * drawn.long_mm, 1.2 * drawn.long_mm);
    d.put(item, score::film(strip.outline, strip.shape, *place, draw.between(300, 600), 3.0));
  }
  d.put(item, spec);
  measure(d.c, item, drawn, spec);
  d.take(drawn, *place);
  return true;
}

bool draw_one(Drawing& d, Item& item) {
  switch (item.kind) {
    case Kind::body:
      return body(d, item);
    case Kind::streak:
      return streak(d, item);
    case Kind::drops:
      return drops(d, item);
    case Kind::bezel:
      return bezel(d, item);
    case Kind::layer:
      return layer(d, item);
    case Kind::whole_glass:
      return whole_glass(d, item);
    case Kind::held:
      return held(d, item);
    default:
      return strange(d, item);
  }
}

}  // namespace

void draw_thing(Drawing& d, Kind kind) {
  Item item;
  item.kind = kind;
  if (draw_one(d, item)) d.c.items.push_back(std::move(item));
}

}  // namespace bareglass::world
