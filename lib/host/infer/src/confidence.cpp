#include "confidence.hpp"

#include <iterator>

namespace bareglass::host {

namespace {

struct Knot {
  double raw, right;
};
// CALIBRATION.md says how these were made and with which seeds.
constexpr Knot kGlass[] = {{0.40, 0.30}, {0.60, 0.50}, {0.72, 0.62}, {0.80, 0.70},
                           {0.90, 0.74}, {0.96, 0.91}, {1.00, 0.95}};
constexpr Knot kBroken[] = {{0.4, 0.4},  {0.65, 0.55}, {0.8, 0.6},
                            {0.9, 0.88}, {0.95, 0.95}, {1.0, 0.985}};

template <std::size_t N>
double between(const Knot (&knots)[N], double raw) {
  if (raw <= knots[0].raw) return knots[0].right;
  for (std::size_t k = 1; k < N; ++k) {
    if (raw > knots[k].raw) continue;
    const double part = (raw - knots[k - 1].raw) / (knots[k].raw - knots[k - 1].raw);
    return knots[k - 1].right + part * (knots[k].right - knots[k - 1].right);
  }
  return knots[N - 1].right;
}

}  // namespace

double calibrated(Cause cause, double raw) {
  const bool on_glass = !(cause >= Cause::open_line && cause <= Cause::aged_reference);
  return on_glass ? between(kGlass, raw) : between(kBroken, raw);
}

Sureness sureness_told(double confidence) {
  return confidence >= 0.9   ? Sureness::sure
         : confidence >= 0.6 ? Sureness::likely
                             : Sureness::possible;
}

}  // namespace bareglass::host
