#pragma once
// What all generators share: random draws, a panel, things and their times.

#include <string>
#include <vector>

#include "bareglass/panel/random.hpp"
#include "case.hpp"

namespace bareglass::score {

class Draw {
 public:
  explicit Draw(std::uint64_t seed) : random_(seed, kStream) {}
  double between(double low, double high) { return low + (high - low) * random_.uniform(); }
  /// low..high, both included.
  int whole(int low, int high) {
    return low + static_cast<int>(random_.uniform() * (high - low + 1));
  }
  bool chance(double p) { return random_.uniform() < p; }
  /// low..high with equal weight on every factor.
  double factor(double low, double high);

 private:
  static constexpr std::uint64_t kStream = 77;
  panel::Random random_;
};

/// A bare panel of random size, glass, gain, noise, spread, policy; `duration_s` long.
void draw_panel(Case& c, Draw& draw, const std::string& panel_folder, double duration_s);

/// Adds a thing that lies there from `from_s` until `until_s` (negative: to the end).
std::size_t add_thing(Case& c, panel::ThingSpec spec, double from_s, double until_s = -1);
void add_event(Case& c, panel::Event event);
/// A fingertip of a person.
panel::ThingSpec finger(Draw& draw, field::Point place);
panel::ThingSpec conductor(panel::OutlinePtr outline, const char* shape, field::Point place);
panel::ThingSpec film(panel::OutlinePtr outline, const char* shape, field::Point place,
                      double film_um, double permittivity);

/// Extent of the panel, mm: of its nodes' centres.
double width_mm(const Case& c);
double height_mm(const Case& c);
/// A place at least `margin_mm` inside the panel's outermost nodes (the middle if there is none).
field::Point inside(const Case& c, Draw& draw, double margin_mm);
/// Where the outline lies.
PlaceMm extent(const panel::ThingSpec& spec);
/// One to three touches of a fingertip between the two times, each shorter than a second.
void add_touches(Case& c, Draw& draw, double from_s, double until_s);

/// The generators by family; each fills `c` completely.
void make_healthy(Case& c, Draw& draw, const std::string& folder);
void make_not_enough(Case& c, Draw& draw, const std::string& folder);
void make_surface(Case& c, Draw& draw, const std::string& folder);
void make_line(Case& c, Draw& draw, const std::string& folder);
void make_electrical(Case& c, Draw& draw, const std::string& folder);

/// The thing, fault or change of the device alone, on a panel that is drawn already.
void put_surface(Case& c, Draw& draw, host::Cause cause);
void put_line(Case& c, Draw& draw, host::Cause cause);
void put_electrical(Case& c, Draw& draw, host::Cause cause);

}  // namespace bareglass::score
