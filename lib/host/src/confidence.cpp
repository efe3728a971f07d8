#include "confidence.hpp"

namespace bareglass::host {

/// Raw scores -> the share of such findings that were right on tuning seeds 300 to 309 of
/// `bareglass_score --cases 10 --seed 300`, smoothed upwards so that it never falls.
double calibrated(Cause cause, double raw) {
  struct Knot {
    double raw, right;
  };
  static constexpr Knot kGlass[] = {
      {0.4, 0.25}, {0.65, 0.4}, {0.75, 0.62}, {0.9, 0.8}, {1.0, 0.85}};
  static constexpr Knot kBroken[] = {{0.4, 0.4}, {0.65, 0.6}, {0.8, 0.8}, {0.9, 0.92}, {1.0, 0.98}};
  const bool on_glass = !(cause >= Cause::open_line && cause <= Cause::supply_sag);
  const Knot* knots = on_glass ? kGlass : kBroken;
  if (raw <= knots[0].raw) return knots[0].right;
  for (int k = 1; k < 5; ++k) {
    if (raw > knots[k].raw) continue;
    const double part = (raw - knots[k - 1].raw) / (knots[k].raw - knots[k - 1].raw);
    return knots[k - 1].right + part * (knots[k].right - knots[k - 1].right);
  }
  return knots[4].right;
}

Sureness sureness_told(double confidence) {
  return confidence >= 0.9   ? Sureness::sure
         : confidence >= 0.6 ? Sureness::likely
                             : Sureness::possible;
}

}  // namespace bareglass::host
