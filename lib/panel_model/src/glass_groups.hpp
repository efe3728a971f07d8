#pragma once
// Which of the things on the glass are one conductor.

#include <vector>

#include "glass_bodies.hpp"

namespace bareglass::panel {

/// A capacitance that nothing on a panel comes near, for a connection: 1 uF. Leaves 3e-6 of the
/// potential of the largest thing.
inline constexpr double kConnectionFf = 1e9;

/// pF as fF, a connection as kConnectionFf.
double in_ff(double pf);

/// Things that are one conductor.
struct Group {
  struct Part {
    Body* body = nullptr;
    field::Point place;
  };
  std::vector<Part> parts;  ///< at one height above the glass; several only if all are factorised
  double earth_ff = 0.0;
  double device_ff = 0.0;

  bool same_place(const Group& o) const;
};

/// Sorts things into groups: those that overlap, or are linked by others that do, are one.
std::vector<Group> grouped(const std::vector<Conductor>& conductors, Bodies& bodies);

/// Marks linked things: out[k] is the number of the first thing that k is linked to, over any
/// number of others. `linked(a, b)` with a < b says if two are.
template <typename Linked>
std::vector<std::size_t> leaders(std::size_t count, const Linked& linked) {
  std::vector<std::size_t> out(count);
  for (std::size_t k = 0; k < count; ++k) out[k] = k;
  for (std::size_t a = 0; a < count; ++a)
    for (std::size_t b = a + 1; b < count; ++b)
      if (out[a] != out[b] && linked(a, b)) {
        const std::size_t from = std::max(out[a], out[b]);
        const std::size_t to = std::min(out[a], out[b]);
        std::replace(out.begin(), out.end(), from, to);
      }
  return out;
}

}  // namespace bareglass::panel
