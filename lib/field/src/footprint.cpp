#include "bareglass/field/footprint.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace bareglass::field {

namespace {

double square(double v) { return v * v; }

/// Squared distance from a segment.
double to_segment(Point p, Point a, Point b) {
  const double dx = b.x - a.x;
  const double dy = b.y - a.y;
  const double length = dx * dx + dy * dy;
  const double along =
      length > 0.0 ? std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / length, 0.0, 1.0) : 0.0;
  return square(p.x - a.x - along * dx) + square(p.y - a.y - along * dy);
}

/// The same from a box, zero inside.
double to_box(Point p, const Box& box) {
  return square(std::max({0.0, box.x_low - p.x, p.x - box.x_high})) +
         square(std::max({0.0, box.y_low - p.y, p.y - box.y_high}));
}

double signed_distance(const Disc& disc, Point p) {
  return std::sqrt(square(p.x - disc.centre.x) + square(p.y - disc.centre.y)) - disc.radius_mm;
}

double signed_distance(const Polygon& polygon, Point p) {
  double least = std::numeric_limits<double>::infinity();
  bool inside = false;
  const auto& c = polygon.corners;
  for (std::size_t i = 0, before = c.size() - 1; i < c.size(); before = i++) {
    least = std::min(least, to_segment(p, c[before], c[i]));
    const bool crosses = (c[i].y > p.y) != (c[before].y > p.y);
    if (crosses && p.x < (c[before].x - c[i].x) * (p.y - c[i].y) / (c[before].y - c[i].y) + c[i].x)
      inside = !inside;
  }
  return inside ? -std::sqrt(least) : std::sqrt(least);
}

double signed_distance(const Stroke& stroke, Point p) {
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < stroke.path.size(); ++i)
    least = std::min(least, to_segment(p, stroke.path[i > 0 ? i - 1 : 0], stroke.path[i]));
  return std::sqrt(least) - 0.5 * stroke.width_mm;
}

void move(Point& p, Point by) {
  p.x += by.x;
  p.y += by.y;
}

void move(Disc& disc, Point by) { move(disc.centre, by); }
void move(Polygon& polygon, Point by) {
  for (Point& p : polygon.corners) move(p, by);
}
void move(Stroke& stroke, Point by) {
  for (Point& p : stroke.path) move(p, by);
}

void widen(Box& box, Point p, double margin) {
  box.x_low = std::min(box.x_low, p.x - margin);
  box.x_high = std::max(box.x_high, p.x + margin);
  box.y_low = std::min(box.y_low, p.y - margin);
  box.y_high = std::max(box.y_high, p.y + margin);
}

constexpr double kFar = std::numeric_limits<double>::infinity();
constexpr Box kNowhere{kFar, -kFar, kFar, -kFar};

void widen(Box& box, const Disc& disc) { widen(box, disc.centre, disc.radius_mm); }
void widen(Box& box, const Polygon& polygon) {
  for (const Point& p : polygon.corners) widen(box, p, 0.0);
}
void widen(Box& box, const Stroke& stroke) {
  for (const Point& p : stroke.path) widen(box, p, 0.5 * stroke.width_mm);
}

}  // namespace

Footprint::Footprint(std::vector<Shape> shapes) : shapes_(std::move(shapes)) {
  for (const Shape& shape : shapes_) {
    Box box = kNowhere;
    std::visit([&](const auto& s) { widen(box, s); }, shape);
    boxes_.push_back(box);
  }
}

Footprint Footprint::disc(Point centre, double diameter_mm) {
  return Footprint({Disc{centre, 0.5 * diameter_mm}});
}

Footprint Footprint::rectangle(Point centre, double width_mm, double height_mm) {
  const double w = 0.5 * width_mm;
  const double h = 0.5 * height_mm;
  return Footprint({Polygon{{{centre.x - w, centre.y - h},
                             {centre.x + w, centre.y - h},
                             {centre.x + w, centre.y + h},
                             {centre.x - w, centre.y + h}}}});
}

Footprint Footprint::stroke(std::vector<Point> path, double width_mm) {
  return Footprint({Stroke{std::move(path), width_mm}});
}

Footprint Footprint::moved(Point by) const {
  std::vector<Shape> shapes = shapes_;
  for (Shape& shape : shapes) std::visit([&](auto& s) { move(s, by); }, shape);
  return Footprint(std::move(shapes));
}

double Footprint::distance(Point p) const {
  double least = kFar;
  for (std::size_t k = 0; k < shapes_.size(); ++k) {
    // A shape whose box is no nearer than the nearest so far cannot be nearer itself.
    const double box = to_box(p, boxes_[k]);
    if (box > 0.0 && (least <= 0.0 || box >= least * least)) continue;
    least = std::min(least,
                     std::visit([&](const auto& s) { return signed_distance(s, p); }, shapes_[k]));
  }
  return least;
}

Box Footprint::bounds() const {
  if (shapes_.empty()) return {};
  Box out = kNowhere;
  for (const Box& box : boxes_) {
    out.x_low = std::min(out.x_low, box.x_low);
    out.x_high = std::max(out.x_high, box.x_high);
    out.y_low = std::min(out.y_low, box.y_low);
    out.y_high = std::max(out.y_high, box.y_high);
  }
  return out;
}

}  // namespace bareglass::field
