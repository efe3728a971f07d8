#pragma once
// The outline of a thing, shared by everything that is computed from it.

#include <memory>
#include <vector>

#include "bareglass/field/footprint.hpp"

namespace bareglass::panel {

/// Immutable, so that results can be kept by its address: a thing that only moves keeps its
/// Outline. Coordinates are the thing's own, mm; where it lies is said beside it.
class Outline {
 public:
  explicit Outline(std::vector<field::Shape> shapes)
      : shapes_(shapes), footprint_(std::move(shapes)) {}

  static std::shared_ptr<const Outline> disc(double diameter_mm);
  static std::shared_ptr<const Outline> rectangle(double width_mm, double height_mm);
  static std::shared_ptr<const Outline> stroke(std::vector<field::Point> path, double width_mm);
  static std::shared_ptr<const Outline> polygon(std::vector<field::Point> corners);
  /// The same figure, `factor` times as large about the origin of its coordinates; widths of
  /// strokes too.
  std::shared_ptr<const Outline> scaled(double factor) const;
  /// The same figure turned about the origin of its coordinates, degrees, clockwise as seen (y runs
  /// down).
  std::shared_ptr<const Outline> turned(double degrees) const;

  const std::vector<field::Shape>& shapes() const { return shapes_; }
  const field::Footprint& footprint() const { return footprint_; }

 private:
  std::vector<field::Shape> shapes_;
  field::Footprint footprint_;
};

using OutlinePtr = std::shared_ptr<const Outline>;

/// A shape moved by `by`.
field::Shape moved(field::Shape shape, field::Point by);

}  // namespace bareglass::panel
