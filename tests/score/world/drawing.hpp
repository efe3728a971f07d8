#pragma once
// What the parts of the generator share while a case is drawn.

#include <string>

#include "draw.hpp"
#include "outlines.hpp"
#include "world_case.hpp"

namespace bareglass::world {

inline constexpr double kEver = 1e6;  ///< s: longer than any story

/// A case in the making. Every purpose draws from a stream of its own.
struct Drawing {
  WorldCase& c;
  score::Draw draw;
  std::vector<field::Box> taken;  ///< where things lie already

  double width_mm() const;  ///< of the nodes' middles
  double height_mm() const;
  double pitch_mm() const;  ///< mean of both
  const Life& last() const { return c.lives.back(); }
  /// A place for an outline that keeps clear of what lies there, or nothing after many tries. Up to
  /// `over` of it may hang over the outermost nodes.
  std::optional<field::Point> room_for(const Drawn& drawn, double over = 0.3);
  void take(const Drawn& drawn, field::Point place);
  void add(panel::Event event);
  /// The thing is there during the item's stays.
  std::size_t put(Item& item, panel::ThingSpec spec);
};

/// Pitches, size, front end, lines, policy.
void draw_panel(Drawing& d, const DrawOptions& options);
/// Power cycles and the length of the story.
void draw_lives(Drawing& d, bool long_story);
/// Everything healthy units have as well; needs the finger's size of draw_panel.
void draw_disturbance(Drawing& d);
/// Short touches in use, well after each start-up.
void draw_touches(Drawing& d, bool wanted);

/// The lives that a thing lies in: all of them, or some.
void draw_lives_of(Drawing& d, Item& item);
/// In the last life: put on late, removed early, or neither.
void draw_coming_and_going(Drawing& d, Item& item);
/// Dries or moves while the last life lasts, or neither.
void draw_change(Drawing& d, Item& item, std::size_t thing, bool may_dry, const Drawn& drawn);
/// A hand does not tremble as a whole as a fingertip does; it is laid anew now and then.
void settle_hand(Drawing& d, const Item& item, std::size_t thing, double size_mm);

void draw_thing(Drawing& d, Kind kind);
void draw_fault(Drawing& d, Kind kind);
void draw_device(Drawing& d, Kind kind);

}  // namespace bareglass::world
