#include "spot_response.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "bareglass/field/axis.hpp"

namespace bareglass::field {

namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kTableStep = 0.05;  // mm; the reflections bend over a slab's thickness or more
constexpr double kTableReach = 120.0;
/// Mean of 1/r between two random points of a unit square, (4/3)(1 - sqrt 2) + 4 ln(1 + sqrt 2)
/// (elementary integration).
const double kSquareMean =
    4.0 / 3.0 * (1.0 - std::sqrt(2.0)) + 4.0 * std::log(1.0 + std::sqrt(2.0));

/// Mean of 1/r over two unit squares (dx, dy) apart, by points.
double mean_by_points(double dx, double dy) {
  constexpr int kPoints = 8;
  double sum = 0.0;
  // The difference of two uniform places has a triangular density.
  double weight = 0.0;
  for (int i = -kPoints + 1; i < kPoints; ++i) {
    for (int j = -kPoints + 1; j < kPoints; ++j) {
      const double w = (kPoints - std::abs(i)) * (kPoints - std::abs(j));
      const double r =
          std::hypot(dx + static_cast<double>(i) / kPoints, dy + static_cast<double>(j) / kPoints);
      if (r < 1e-9) continue;
      sum += w / r;
      weight += w;
    }
  }
  return sum / weight;
}

/// The same for squares up to kFar apart, tabulated at eighths of a side and linear between.
constexpr int kFar = 4;
constexpr int kPerSide = 8;
constexpr int kPlaces = kFar * kPerSide + 2;

const std::array<double, kPlaces * kPlaces>& near_means() {
  static const std::array<double, kPlaces* kPlaces> means = [] {
    std::array<double, kPlaces * kPlaces> out{};
    for (int j = 0; j < kPlaces; ++j)
      for (int i = 0; i < kPlaces; ++i)
        out[static_cast<std::size_t>(j * kPlaces + i)] =
            mean_by_points(static_cast<double>(i) / kPerSide, static_cast<double>(j) / kPerSide);
    return out;
  }();
  return means;
}

double mean_of_unit_squares(double dx, double dy) {
  const double x = std::abs(dx) * kPerSide;
  const double y = std::abs(dy) * kPerSide;
  constexpr double kLast = kFar * kPerSide;
  if (x >= kLast || y >= kLast) {
    // The distance of two places varies by 1/6 in either direction; second order of 1/r.
    const double r2 = dx * dx + dy * dy;
    return (1.0 + 1.0 / (12.0 * r2)) / std::sqrt(r2);
  }
  const auto i = static_cast<std::size_t>(x);
  const auto j = static_cast<std::size_t>(y);
  const double u = x - static_cast<double>(i);
  const double v = y - static_cast<double>(j);
  const double* at = near_means().data() + j * kPlaces + i;
  return (1 - v) * ((1 - u) * at[0] + u * at[1]) +
         v * ((1 - u) * at[kPlaces] + u * at[kPlaces + 1]);
}

}  // namespace

SpotResponse::SpotResponse(double eps, double cover_per_mm2, double surroundings_mm)
    : eps_(eps), surroundings_mm_(surroundings_mm) {
  const double above = surroundings_mm > 0.0 ? kEps0 / surroundings_mm : 0.0;
  thickness_mm_ = kEps0 * eps / (cover_per_mm2 - above);
  constexpr auto kEntries = static_cast<std::size_t>(kTableReach / kTableStep) + 2;
  // The surroundings' part is so smooth that a few places tell all of it.
  constexpr std::size_t kCoarse = 40;
  std::vector<double> lids;
  for (std::size_t n = 0; n <= kEntries / kCoarse + 1; ++n)
    lids.push_back(lid(static_cast<double>(n * kCoarse) * kTableStep));
  table_.reserve(kEntries);
  for (std::size_t n = 0; n < kEntries; ++n) {
    const double part = static_cast<double>(n % kCoarse) / kCoarse;
    table_.push_back(images(static_cast<double>(n) * kTableStep) +
                     (1.0 - part) * lids[n / kCoarse] + part * lids[n / kCoarse + 1]);
    const double distance = std::max(static_cast<double>(n), 0.5) * kTableStep;
    far_.push_back(table_.back() + 1.0 / (2.0 * kPi * kEps0 * (1.0 + eps_) * distance));
  }
}

double SpotResponse::images(double distance_mm) const {
  const double beta = (eps_ - 1.0) / (eps_ + 1.0);
  double sum = 0.0;
  double strength = -(1.0 + beta);
  for (int n = 1; std::abs(strength) > 1e-4; ++n, strength *= -beta)
    sum += strength / std::hypot(distance_mm, 2.0 * n * thickness_mm_);
  return sum / (2.0 * kPi * kEps0 * (1.0 + eps_));
}

// In waves of number k the slab answers with eps k coth(k t), open air with k, air below grounded
// surroundings with k coth(k h). What the latter changes, back in space, is the integral of the
// difference of the two inverses times J0(k r) / 2 pi; above k h = 6 there is none.
double SpotResponse::lid(double distance_mm) const {
  if (surroundings_mm_ <= 0.0) return 0.0;
  constexpr int kSteps = 200;
  const double step = 6.0 / surroundings_mm_ / kSteps;
  double sum = 0.0;
  for (int n = 0; n < kSteps; ++n) {
    const double k = (n + 0.5) * step;
    const double slab = eps_ / std::tanh(k * thickness_mm_);
    const double change = 1.0 / (slab + 1.0 / std::tanh(k * surroundings_mm_)) - 1.0 / (slab + 1.0);
    sum += change * std::cyl_bessel_j(0.0, k * distance_mm) * step;
  }
  return sum / (2.0 * kPi * kEps0);
}

double SpotResponse::reflected(double distance_mm) const {
  const double place = distance_mm / kTableStep;
  if (place >= static_cast<double>(table_.size() - 1)) return images(distance_mm);
  const auto n = static_cast<std::size_t>(place);
  return table_[n] + (place - static_cast<double>(n)) * (table_[n + 1] - table_[n]);
}

double SpotResponse::between(double dx, double dy, double step) const {
  return mean_of_unit_squares(dx / step, dy / step) / (step * 2.0 * kPi * kEps0 * (1.0 + eps_)) +
         reflected(std::sqrt(dx * dx + dy * dy));
}

double SpotResponse::across(double dx, double dy, double step) const {
  const double square = dx * dx + dy * dy;
  // Where squares count as points, and a line between two places of the table as 1/r.
  const double far = std::max(kFar * step, 3.0);
  if (square < far * far) return between(dx, dy, step);
  const double place = std::sqrt(square) * (1.0 / kTableStep);
  if (place >= static_cast<double>(far_.size() - 1)) return between(dx, dy, step);
  const auto n = static_cast<std::size_t>(place);
  return far_[n] + (place - static_cast<double>(n)) * (far_[n + 1] - far_[n]);
}

double SpotResponse::charge_per_volt(double k) const {
  // k coth(k d), 1/d at k = 0.
  const auto wall = [k](double d) { return k * d < 1e-6 ? 1.0 / d : k / std::tanh(k * d); };
  return kEps0 *
         (eps_ * wall(thickness_mm_) + (surroundings_mm_ > 0.0 ? wall(surroundings_mm_) : k));
}

double SpotResponse::field_at_ground(double k) const {
  const double depth = k * thickness_mm_;
  const double fallen = depth < 1e-6 ? 1.0 : depth / std::sinh(std::min(depth, 300.0));
  return fallen * charge_per_volt(0.0) / charge_per_volt(k);
}

double SpotResponse::own(double step) const {
  return kSquareMean / (2.0 * kPi * kEps0 * (1.0 + eps_) * step);
}

}  // namespace bareglass::field
