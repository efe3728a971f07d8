#pragma once
// The outline of a thing on the glass, as a signed distance.

#include <variant>
#include <vector>

namespace bareglass::field {

/// A point on the surface, mm. Node (row r, column c) lies at x = c * column pitch, y = r * row
/// pitch.
struct Point {
  double x = 0.0;
  double y = 0.0;
};

/// A round thing.
struct Disc {
  Point centre;
  double radius_mm = 0.0;
};

/// A closed outline, at least three points, either sense; even-odd rule.
struct Polygon {
  std::vector<Point> corners;
};

/// A line drawn with a round nib along one or more points.
struct Stroke {
  std::vector<Point> path;
  double width_mm = 0.0;
};

using Shape = std::variant<Disc, Polygon, Stroke>;

/// Smallest upright rectangle around something.
struct Box {
  double x_low = 0.0;
  double x_high = 0.0;
  double y_low = 0.0;
  double y_high = 0.0;
};

/// The union of shapes; they are one conductor, touching or not.
class Footprint {
 public:
  Footprint() = default;
  explicit Footprint(std::vector<Shape> shapes);

  static Footprint disc(Point centre, double diameter_mm);
  static Footprint rectangle(Point centre, double width_mm, double height_mm);
  static Footprint stroke(std::vector<Point> path, double width_mm);

  /// The same thing elsewhere.
  Footprint moved(Point by) const;
  /// Distance from the outline, mm: negative inside. Of a union, the least of its shapes'
  /// distances: exact outside, a bound inside.
  double distance(Point p) const;
  bool empty() const { return shapes_.empty(); }
  /// Empty footprints give the empty box at the origin.
  Box bounds() const;

 private:
  std::vector<Shape> shapes_;
  std::vector<Box> boxes_;  ///< around each shape
};

}  // namespace bareglass::field
