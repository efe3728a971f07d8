#pragma once
// Squares under the edge of an outline.

#include <algorithm>

namespace bareglass::field {

/// Less of a square than this is left out.
inline constexpr double kSliver = 0.02;

/// Part of a square of `step` mm, its middle at signed distance `distance` from an outline, that
/// lies inside it.
inline double covered_part(double distance, double step) {
  return std::clamp(0.5 - distance / step, 0.0, 1.0);
}

}  // namespace bareglass::field
