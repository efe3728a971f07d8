#include "body.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::panel {

namespace {

field::Point minus(field::Point a, field::Point b) { return {a.x - b.x, a.y - b.y}; }

// Patch size at which a thing is cut into about as many patches as a fingertip: the time for each
// place grows with their square. 0.75 mm instead of 0.5 moves a disc's isolated change by 1 fF.
double step_for(const Outline& outline) {
  constexpr double kFine = 0.5;  // mm
  constexpr double kCoarse = 0.75;
  constexpr double kEnough = 120.0;
  const field::Box b = outline.footprint().bounds();
  double area = 0.0;
  for (double y = b.y_low + 0.5 * kFine; y < b.y_high; y += kFine)
    for (double x = b.x_low + 0.5 * kFine; x < b.x_high; x += kFine)
      area += outline.footprint().distance({x, y}) < 0.0 ? kFine * kFine : 0.0;
  return std::clamp(std::sqrt(area / kEnough), kFine, kCoarse);
}

}  // namespace

field::Box moved(const field::Box& b, field::Point by) {
  return {b.x_low + by.x, b.x_high + by.x, b.y_low + by.y, b.y_high + by.y};
}

double gap_of(const field::Box& a, const field::Box& b) {
  const double x = std::max({0.0, a.x_low - b.x_high, b.x_low - a.x_high});
  const double y = std::max({0.0, a.y_low - b.y_high, b.y_low - a.y_high});
  return std::hypot(x, y);
}

Body::Body(OutlinePtr outline, const field::SurfaceModel& model)
    : outline_(std::move(outline)),
      model_(model),
      object_(model.cut(outline_->footprint(), step_for(*outline_))),
      box_(outline_->footprint().bounds()) {}

void Body::prepare() {
  if (coupled_) model_.prepare(object_);
  coupled_ = true;
}

field::Coupling Body::couple(field::Point place, field::LineRange lines) {
  if (!object_.factorised()) return model_.quick(outline_->footprint().moved(place), lines);
  prepare();
  return model_.couple(object_, place, lines);
}

bool overlap(const Body& a, field::Point at_a, const Body& b, field::Point at_b, double& gap_mm) {
  gap_mm = gap_of(moved(a.box(), at_a), moved(b.box(), at_b));
  constexpr double kApart =
      field::SurfaceModel::kFeltApart + 0.5;  // mm; beyond it nothing depends on it
  if (gap_mm > kApart) return false;
  const bool a_is_finer = a.patches().squares() <= b.patches().squares();
  const Body& fine = a_is_finer ? a : b;
  const Body& other = a_is_finer ? b : a;
  const field::Point shift = a_is_finer ? minus(at_a, at_b) : minus(at_b, at_a);
  const field::Footprint& outline = other.outline()->footprint();
  double least = kApart;
  for (const auto& patch : fine.patches().patches()) {
    const double d = outline.distance({patch.centre.x + shift.x, patch.centre.y + shift.y});
    // A patch reaches as far as it is covered.
    least = std::min(least, d - 0.5 * fine.patches().step_mm() * patch.size * patch.coverage);
    if (least <= 0.0) break;
  }
  gap_mm = std::max(0.0, least);
  return least <= 0.0;
}

bool contains(const Body& outer, field::Point at_outer, const Body& inner, field::Point at_inner) {
  const field::Point shift = minus(at_inner, at_outer);
  const field::Footprint& outline = outer.outline()->footprint();
  for (const auto& patch : inner.patches().patches())
    if (outline.distance({patch.centre.x + shift.x, patch.centre.y + shift.y}) > 0.0) return false;
  return true;
}

}  // namespace bareglass::panel
