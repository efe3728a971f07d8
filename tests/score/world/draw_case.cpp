// A case from its seed: panel, lives, things, faults, disturbances, and what is right.

#include <algorithm>

#include "drawing.hpp"
#include "truth.hpp"
#include "visible.hpp"

namespace bareglass::world {

namespace {

struct Counts {
  int things = 0, faults = 0, states = 0;
};

Counts draw_counts(score::Draw& draw) {
  struct Weighted {
    int weight;
    Counts counts;
  };
  constexpr Weighted kMixes[] = {{42, {1, 0, 0}}, {16, {0, 1, 0}}, {9, {0, 0, 1}}, {12, {2, 0, 0}},
                                 {7, {1, 1, 0}},  {5, {3, 0, 0}},  {3, {0, 2, 0}}, {3, {2, 1, 0}},
                                 {2, {1, 0, 1}},  {1, {1, 2, 0}}};
  int n = draw.whole(0, 99);
  for (const Weighted& w : kMixes) {
    if (n < w.weight) return w.counts;
    n -= w.weight;
  }
  return kMixes[0].counts;
}

Kind draw_thing_kind(score::Draw& draw, int world) {
  if (world == 2 && draw.chance(0.12))
    return static_cast<Kind>(static_cast<int>(Kind::keyring) + draw.whole(0, 2));
  const int n = draw.whole(0, 99);
  return n < 46   ? Kind::body
         : n < 60 ? Kind::streak
         : n < 70 ? Kind::drops
         : n < 80 ? Kind::bezel
         : n < 95 ? Kind::layer
                  : Kind::whole_glass;
}

Kind draw_fault_kind(score::Draw& draw) {
  return static_cast<Kind>(static_cast<int>(Kind::open_line) + draw.whole(0, 5));
}

Kind draw_state_kind(score::Draw& draw) {
  return static_cast<Kind>(static_cast<int>(Kind::sag) + draw.whole(0, 4));
}

void draw_of(Drawing& d, Kind kind) {
  if (lies_on_glass(kind))
    draw_thing(d, kind);
  else if (is_fault(kind))
    draw_fault(d, kind);
  else
    draw_device(d, kind);
}

void draw_items(Drawing& d, const Counts& counts) {
  for (int k = 0; k < counts.things; ++k) draw_thing(d, draw_thing_kind(d.draw, d.c.world));
  for (int k = 0; k < counts.faults; ++k) draw_fault(d, draw_fault_kind(d.draw));
  for (int k = 0; k < counts.states; ++k) draw_device(d, draw_state_kind(d.draw));
}

/// Without a touch nothing of these is to be seen.
bool wants_touch(const WorldCase& c) {
  return std::any_of(c.items.begin(), c.items.end(), [](const Item& i) {
    return i.kind == Kind::interference || i.kind == Kind::floating_ground ||
           i.kind == Kind::bridged;
  });
}

}  // namespace

WorldCase draw_case(std::uint64_t seed, const DrawOptions& options) {
  WorldCase c;
  c.seed = seed;
  c.world = options.world;
  Drawing d{c, score::Draw(seed), {}};
  // One in three is healthy; a fiftieth of the others lasts longer than a minute.
  const bool healthy = options.only_healthy || (!options.only && d.draw.chance(1.0 / 3));
  const bool held = options.only ? *options.only == Kind::held : !healthy && d.draw.chance(0.02);
  draw_panel(d, options);
  draw_lives(d, held);
  if (options.only)
    draw_of(d, *options.only);
  else if (held)
    draw_thing(d, Kind::held);
  else if (!healthy)
    draw_items(d, draw_counts(d.draw));
  draw_disturbance(d);
  if (!held && (wants_touch(c) || d.draw.chance(0.5))) draw_touches(d, wants_touch(c));
  if (!options.only_draw) {
    find_visible(c);
    find_truth(c);
  }
  return c;
}

}  // namespace bareglass::world
