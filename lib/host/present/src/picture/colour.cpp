#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "bareglass/present/heat_map.hpp"

namespace bareglass::host {

namespace {

struct Lab {
  double l, a, b;
};

constexpr Lab kMiddle{96.0, 0.0, 1.0};
constexpr Lab kBelow{42.0, -4.0, -42.0};  // blue
constexpr Lab kAbove{42.0, 40.0, 52.0};   // burnt orange

std::uint8_t to_srgb(double linear) {
  // Transfer function of IEC 61966-2-1.
  const double v =
      linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1.0 / 2.4) - 0.055;
  return static_cast<std::uint8_t>(std::lround(255.0 * std::clamp(v, 0.0, 1.0)));
}

// CIE 1976 L*a*b* to XYZ (white D65), then XYZ to linear sRGB (matrix of IEC 61966-2-1).
Rgb to_rgb(Lab c) {
  const double fy = (c.l + 16.0) / 116.0;
  const auto inverse = [](double f) {
    return f > 6.0 / 29.0 ? f * f * f : 3.0 * 36.0 / 841.0 * (f - 4.0 / 29.0);
  };
  const double x = 0.95047 * inverse(fy + c.a / 500.0);
  const double y = inverse(fy);
  const double z = 1.08883 * inverse(fy - c.b / 200.0);
  return {to_srgb(3.2406 * x - 1.5372 * y - 0.4986 * z),
          to_srgb(-0.9689 * x + 1.8758 * y + 0.0415 * z),
          to_srgb(0.0557 * x - 0.2040 * y + 1.0570 * z)};
}

}  // namespace

Rgb diverging_colour(double share) {
  const double s = std::clamp(share, -1.0, 1.0);
  const Lab& end = s < 0 ? kBelow : kAbove;
  const double w = std::abs(s);
  return to_rgb({kMiddle.l + w * (end.l - kMiddle.l), kMiddle.a + w * (end.a - kMiddle.a),
                 kMiddle.b + w * (end.b - kMiddle.b)});
}

double full_scale_percent(const HeatMap& map) {
  if (map.full_percent > 0.0) return map.full_percent;
  int greatest = 2 * map.limit;
  for (const std::int16_t v : map.counts)
    greatest = std::max(greatest, std::abs(static_cast<int>(v)));
  return 100.0 * std::max(greatest, 1) / map.finger_counts;
}

}  // namespace bareglass::host
