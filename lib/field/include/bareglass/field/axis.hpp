#pragma once
// One axis of a tensor grid, and the grading that puts its lines where the field is steep.

#include <cstddef>
#include <vector>

namespace bareglass::field {

/// Vacuum permittivity, fF/mm (8.8541878128e-12 F/m, CODATA 2018). Lengths are millimetres and
/// capacitances femtofarads throughout this library.
inline constexpr double kEps0 = 8.8541878128;

/// Grid lines of one direction, mm, strictly rising. A single line stands for a direction in which
/// nothing changes: its share is 1 mm, so that results are per millimetre.
struct Axis {
  std::vector<double> at;

  int size() const { return static_cast<int>(at.size()); }
  double line(int i) const { return at[static_cast<std::size_t>(i)]; }
  /// Width of the cell between lines i and i + 1, mm.
  double cell(int i) const { return line(i + 1) - line(i); }
  /// Width of the control volume of line i: half of each neighbouring cell, mm.
  double share(int i) const;
  /// Index of the line nearest to `position`.
  int nearest(double position) const;
};

/// A place where a grid line must lie, and how fine the cells beside it are to be, mm. A spacing of
/// zero asks for the line alone.
struct Mark {
  double at = 0.0;
  double spacing = 0.0;
};

/// A stretch in which cells are no wider than `spacing`, mm, without a line at any given place.
struct Zone {
  double begin = 0.0;
  double end = 0.0;
  double spacing = 0.0;
};

/// How cells grow away from the marks and zones.
struct Grading {
  double growth = 0.15;   ///< rise of the cell width per millimetre of distance, 0.01..1
  double largest = 1e30;  ///< widest cell, mm
  std::vector<Zone> zones = {};
};

/// Lines through every mark (in any order, repeats allowed), with cells that widen away from the
/// marks which ask for a spacing. Throws std::invalid_argument for fewer than two distinct marks or
/// if no mark has a spacing and `largest` is not set.
Axis graded_axis(std::vector<Mark> marks, const Grading& grading);

}  // namespace bareglass::field
