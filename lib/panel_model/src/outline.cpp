#include "bareglass/panel_model/outline.hpp"

#include <cmath>

namespace bareglass::panel {

namespace {

field::Point sum(field::Point a, field::Point b) { return {a.x + b.x, a.y + b.y}; }

void shift(field::Disc& disc, field::Point by) { disc.centre = sum(disc.centre, by); }
void shift(field::Polygon& polygon, field::Point by) {
  for (field::Point& p : polygon.corners) p = sum(p, by);
}
void shift(field::Stroke& stroke, field::Point by) {
  for (field::Point& p : stroke.path) p = sum(p, by);
}

void scale(field::Point& p, double factor) { p = {p.x * factor, p.y * factor}; }
void scale(field::Disc& disc, double factor) {
  scale(disc.centre, factor);
  disc.radius_mm *= factor;
}
void scale(field::Polygon& polygon, double factor) {
  for (field::Point& p : polygon.corners) scale(p, factor);
}
void scale(field::Stroke& stroke, double factor) {
  for (field::Point& p : stroke.path) scale(p, factor);
  stroke.width_mm *= factor;
}

struct Turn {
  double cosine;
  double sine;
  void operator()(field::Point& p) const {
    p = {p.x * cosine - p.y * sine, p.x * sine + p.y * cosine};
  }
  void operator()(field::Disc& disc) const { (*this)(disc.centre); }
  void operator()(field::Polygon& polygon) const {
    for (field::Point& p : polygon.corners) (*this)(p);
  }
  void operator()(field::Stroke& stroke) const {
    for (field::Point& p : stroke.path) (*this)(p);
  }
};

OutlinePtr one(field::Shape shape) {
  return std::make_shared<const Outline>(std::vector<field::Shape>{std::move(shape)});
}

}  // namespace

field::Shape moved(field::Shape shape, field::Point by) {
  std::visit([&](auto& s) { shift(s, by); }, shape);
  return shape;
}

OutlinePtr Outline::disc(double diameter_mm) {
  return one(field::Disc{{0.0, 0.0}, 0.5 * diameter_mm});
}

OutlinePtr Outline::rectangle(double width_mm, double height_mm) {
  const double w = 0.5 * width_mm;
  const double h = 0.5 * height_mm;
  return one(field::Polygon{{{-w, -h}, {w, -h}, {w, h}, {-w, h}}});
}

OutlinePtr Outline::stroke(std::vector<field::Point> path, double width_mm) {
  return one(field::Stroke{std::move(path), width_mm});
}

OutlinePtr Outline::polygon(std::vector<field::Point> corners) {
  return one(field::Polygon{std::move(corners)});
}

OutlinePtr Outline::scaled(double factor) const {
  std::vector<field::Shape> shapes = shapes_;
  for (field::Shape& shape : shapes) std::visit([&](auto& s) { scale(s, factor); }, shape);
  return std::make_shared<const Outline>(std::move(shapes));
}

OutlinePtr Outline::turned(double degrees) const {
  const double angle = degrees * (3.14159265358979323846 / 180.0);
  const Turn turn{std::cos(angle), std::sin(angle)};
  std::vector<field::Shape> shapes = shapes_;
  for (field::Shape& shape : shapes) std::visit(turn, shape);
  return std::make_shared<const Outline>(std::move(shapes));
}

}  // namespace bareglass::panel
