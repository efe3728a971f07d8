#include "bareglass/words/reconstruction_words.hpp"

#include <fmt/format.h>

#include <cmath>

namespace bareglass::host::text {

namespace {

constexpr double kSquareCentimetre = 100.0;  // mm2

/// Two digits that say something.
std::string digits(double value) {
  return value < 9.95 ? fmt::format("{:.1f}", value) : fmt::format("{:.0f}", value);
}

}  // namespace

std::string area(const Estimate& e) {
  if (e.value < kSquareCentimetre)
    return fmt::format("{:.0f} mm² ({:.0f} to {:.0f})", e.value, e.low, e.high);
  return fmt::format("{} cm² ({} to {})", digits(e.value / kSquareCentimetre),
                     digits(e.low / kSquareCentimetre), digits(e.high / kSquareCentimetre));
}

std::string size(const Reconstruction& r) {
  double square = 0.0;
  for (const PieceFound& p : r.pieces) square += p.outline_mm * p.outline_mm;
  const double known = std::sqrt(square / static_cast<double>(r.pieces.size()));
  const std::string in =
      r.pieces.size() > 1 ? fmt::format(" in {} pieces", r.pieces.size()) : std::string();
  return fmt::format("{}{}; outline known to {:.1f} mm", area(r.area_mm2), in, known);
}

std::string way_to_earth(const Reconstruction& r) {
  if (r.pieces.size() != 1 || !r.pieces.front().earth_pf) return {};
  const Estimate& e = *r.pieces.front().earth_pf;
  if (e.value == 0.0)
    return std::isinf(e.high) ? "not known"
                              : fmt::format("isolated (at most {} pF)", digits(e.high));
  if (std::isinf(e.value)) return fmt::format("earthed (at least {} pF)", digits(e.low));
  if (std::isinf(e.high)) return fmt::format("{} pF (at least {})", digits(e.value), digits(e.low));
  return fmt::format("{} pF ({} to {})", digits(e.value), digits(e.low), digits(e.high));
}

std::string left_over(const Reconstruction& r) {
  return fmt::format(
      "{} times the noise (greatest {}), {:.1f} times what noise and the model's error allow",
      digits(r.residual_rms), digits(std::abs(r.residual_most)), r.residual_of_expected);
}

}  // namespace bareglass::host::text
