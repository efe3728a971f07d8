#include "bareglass/field/footprint.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace bareglass::field {

namespace {

double to_segment(Point p, Point a, Point b) {
  const double dx = b.x - a.x;
  const double dy = b.y - a.y;
  const double square = dx * dx + dy * dy;
  const double along =
      square > 0.0 ? std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / square, 0.0, 1.0) : 0.0;
  return std::hypot(p.x - a.x - along * dx, p.y - a.y - along * dy);
}

double signed_distance(const Disc& disc, Point p) {
  return std::hypot(p.x - disc.centre.x, p.y - disc.centre.y) - disc.radius_mm;
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
  return inside ? -least : least;
}

double signed_distance(const Stroke& stroke, Point p) {
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < stroke.path.size(); ++i)
    least = std::min(least, to_segment(p, stroke.path[i > 0 ? i - 1 : 0], stroke.path[i]));
  return least - 0.5 * stroke.width_mm;
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

void widen(Box& box, const Disc& disc) { widen(box, disc.centre, disc.radius_mm); }
void widen(Box& box, const Polygon& polygon) {
  for (const Point& p : polygon.corners) widen(box, p, 0.0);
}
void widen(Box& box, const Stroke& stroke) {
  for (const Point& p : stroke.path) widen(box, p, 0.5 * stroke.width_mm);
}

}  // namespace

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
  Footprint out = *this;
  for (Shape& shape : out.shapes_) std::visit([&](auto& s) { move(s, by); }, shape);
  return out;
}

double Footprint::distance(Point p) const {
  double least = std::numeric_limits<double>::infinity();
  for (const Shape& shape : shapes_)
    least =
        std::min(least, std::visit([&](const auto& s) { return signed_distance(s, p); }, shape));
  return least;
}

Box Footprint::bounds() const {
  if (shapes_.empty()) return {};
  constexpr double kFar = std::numeric_limits<double>::infinity();
  Box box{kFar, -kFar, kFar, -kFar};
  for (const Shape& shape : shapes_) std::visit([&](const auto& s) { widen(box, s); }, shape);
  return box;
}

}  // namespace bareglass::field
