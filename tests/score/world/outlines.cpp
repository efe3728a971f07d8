#include "outlines.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::world {

namespace {

constexpr double kPi = 3.14159265358979323846;

double area_of(const std::vector<field::Point>& corners) {
  double twice = 0.0;
  for (std::size_t k = 0; k < corners.size(); ++k) {
    const field::Point& a = corners[k];
    const field::Point& b = corners[(k + 1) % corners.size()];
    twice += a.x * b.y - b.x * a.y;
  }
  return std::abs(twice) / 2;
}

Drawn disc(double size_mm) {
  return {panel::Outline::disc(size_mm), "disc", kPi * size_mm * size_mm / 4, size_mm, size_mm, 1};
}

Drawn rectangle(score::Draw& draw, double size_mm) {
  const double aspect = draw.factor(1, 2.5);
  const double area = kPi * size_mm * size_mm / 4;
  const double wide = std::sqrt(area / aspect);
  const double angle = draw.chance(0.4) ? 0.0 : draw.between(0, 180);
  const panel::OutlinePtr upright = panel::Outline::rectangle(wide * aspect, wide);
  return {upright->turned(draw.chance(0.5) ? angle : angle + 90),
          "rectangle",
          area,
          wide * aspect,
          wide,
          1};
}

Drawn blob(score::Draw& draw, double size_mm) {
  // Two low harmonics of the radius, so that neighbouring corners go together.
  const double second = draw.between(0, 0.25);
  const double third = draw.between(0, 0.15);
  const double phase2 = draw.between(0, 2 * kPi);
  const double phase3 = draw.between(0, 2 * kPi);
  constexpr int kCorners = 18;
  std::vector<field::Point> corners;
  for (int k = 0; k < kCorners; ++k) {
    const double angle = 2 * kPi * k / kCorners;
    const double r =
        size_mm / 2 *
        (1 + second * std::cos(2 * angle - phase2) + third * std::cos(3 * angle - phase3));
    corners.push_back({r * std::cos(angle), r * std::sin(angle)});
  }
  const double area = area_of(corners);
  return {panel::Outline::polygon(corners), "polygon", area, size_mm * (1 + second),
          size_mm * (1 - second),           1};
}

std::vector<field::Point> path_of(score::Draw& draw, double long_mm) {
  const double way = draw.between(0, 2 * kPi);
  const int what = draw.whole(0, 2);
  const auto at = [&](double x, double y) {
    return field::Point{x * std::cos(way) - y * std::sin(way),
                        x * std::sin(way) + y * std::cos(way)};
  };
  if (what == 0) return {at(-long_mm / 2, 0), at(long_mm / 2, 0)};
  if (what == 1) {
    const double leg = long_mm * draw.between(0.3, 0.7);
    const double x = -leg / 3;
    const double y = -(long_mm - leg) / 3;
    return {at(x + leg, y), at(x, y), at(x, y + long_mm - leg)};
  }
  // An arc of a quarter to three quarters of a circle.
  const double turn = draw.between(0.5 * kPi, 1.5 * kPi);
  const double radius = long_mm / turn;
  std::vector<field::Point> path;
  for (int k = 0; k <= 8; ++k) {
    const double angle = turn * (k / 8.0 - 0.5);
    path.push_back(at(radius * (std::cos(angle) - 0.6), radius * std::sin(angle)));
  }
  return path;
}

/// Area over that of the bounding box in the better of 18 directions.
double solidity_of(const std::vector<field::Point>& path, double wide_mm, double area_mm2) {
  double least = 1e12;
  for (int k = 0; k < 18; ++k) {
    const double c = std::cos(kPi * k / 36);
    const double s = std::sin(kPi * k / 36);
    double low_x = 1e9, high_x = -1e9, low_y = 1e9, high_y = -1e9;
    for (const field::Point& p : path) {
      low_x = std::min(low_x, p.x * c + p.y * s);
      high_x = std::max(high_x, p.x * c + p.y * s);
      low_y = std::min(low_y, p.y * c - p.x * s);
      high_y = std::max(high_y, p.y * c - p.x * s);
    }
    least = std::min(least, (high_x - low_x + wide_mm) * (high_y - low_y + wide_mm));
  }
  return std::min(1.0, area_mm2 / least);
}

std::vector<field::Point> rough_edge(const std::vector<field::Point>& corners, score::Draw& draw,
                                     double ragged_mm, double size_mm) {
  // No more corners than a large outline needs.
  const double every_mm = std::max(2.0, size_mm / 20);
  const double most = 1.7 * ragged_mm;  // of an even spread with that rms
  std::vector<field::Point> out;
  for (std::size_t k = 0; k < corners.size(); ++k) {
    const field::Point& a = corners[k];
    const field::Point& b = corners[(k + 1) % corners.size()];
    const int parts = std::max(1, static_cast<int>(std::hypot(b.x - a.x, b.y - a.y) / every_mm));
    for (int j = 0; j < parts; ++j) {
      const double t = static_cast<double>(j) / parts;
      const double dx = draw.between(-most, most);
      const double dy = draw.between(-most, most);
      out.push_back({a.x + t * (b.x - a.x) + dx, a.y + t * (b.y - a.y) + dy});
    }
  }
  return out;
}

std::vector<field::Point> corners_of(const field::Shape& shape) {
  if (const auto* polygon = std::get_if<field::Polygon>(&shape)) return polygon->corners;
  const auto& round = std::get<field::Disc>(shape);
  std::vector<field::Point> corners;
  const int count = std::max(12, static_cast<int>(kPi * round.radius_mm));
  for (int k = 0; k < count; ++k)
    corners.push_back({round.centre.x + round.radius_mm * std::cos(2 * kPi * k / count),
                       round.centre.y + round.radius_mm * std::sin(2 * kPi * k / count)});
  return corners;
}

/// Each stretch of the path with a width of its own.
std::vector<field::Shape> uneven(const field::Stroke& stroke, score::Draw& draw) {
  std::vector<field::Shape> parts;
  for (std::size_t k = 0; k + 1 < stroke.path.size(); ++k) {
    const field::Point& a = stroke.path[k];
    const field::Point& b = stroke.path[k + 1];
    constexpr int kParts = 3;
    for (int j = 0; j < kParts; ++j) {
      const auto at = [&](double t) {
        return field::Point{a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)};
      };
      const double wide = stroke.width_mm * draw.between(0.75, 1.25);
      parts.push_back(
          field::Stroke{{at(static_cast<double>(j) / kParts), at((j + 1.0) / kParts)}, wide});
    }
  }
  return parts;
}

}  // namespace

Drawn draw_patch(score::Draw& draw, double size_mm) {
  const int what = draw.whole(0, 9);
  return what < 4 ? disc(size_mm) : what < 7 ? rectangle(draw, size_mm) : blob(draw, size_mm);
}

Drawn draw_streak(score::Draw& draw, double long_mm, double wide_mm) {
  const std::vector<field::Point> path = path_of(draw, long_mm);
  const double area = long_mm * wide_mm + kPi * wide_mm * wide_mm / 4;
  const double solidity = solidity_of(path, wide_mm, area);
  return {
      panel::Outline::stroke(path, wide_mm), "stroke", area, long_mm + wide_mm, wide_mm, solidity};
}

Drawn draw_ring(score::Draw& draw, double diameter_mm, double wide_mm) {
  const double begin = draw.between(0, 2 * kPi);
  std::vector<field::Point> path;
  constexpr int kCorners = 24;
  for (int k = 0; k <= kCorners; ++k)
    path.push_back({diameter_mm / 2 * std::cos(begin + 2 * kPi * k / kCorners),
                    diameter_mm / 2 * std::sin(begin + 2 * kPi * k / kCorners)});
  const double area = kPi * diameter_mm * wide_mm;
  return {panel::Outline::stroke(path, wide_mm), "ring", area, diameter_mm, wide_mm,
          area / (diameter_mm * diameter_mm)};
}

Drawn ragged(const Drawn& drawn, score::Draw& draw, double ragged_mm) {
  std::vector<field::Shape> shapes;
  for (const field::Shape& shape : drawn.outline->shapes()) {
    if (const auto* stroke = std::get_if<field::Stroke>(&shape)) {
      for (field::Shape& part : uneven(*stroke, draw)) shapes.push_back(std::move(part));
    } else {
      shapes.push_back(
          field::Polygon{rough_edge(corners_of(shape), draw, ragged_mm, drawn.long_mm)});
    }
  }
  Drawn out = drawn;
  out.outline = std::make_shared<const panel::Outline>(std::move(shapes));
  return out;
}

}  // namespace bareglass::world
