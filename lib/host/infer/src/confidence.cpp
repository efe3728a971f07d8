#include "confidence.hpp"

#include <algorithm>
#include <iterator>

namespace bareglass::host {

namespace {

struct Knot {
  double raw, right;
};
// CALIBRATION.md says how these were made and with which seeds.
constexpr Knot kGlass[] = {{0.40, 0.35}, {0.58, 0.55}, {0.66, 0.73}, {0.90, 0.78},
                           {0.95, 0.87}, {0.98, 0.89}, {1.00, 0.92}};
// Fingers are what is tried for every small fall, and told too often in company.
constexpr Knot kTouch[] = {{0.40, 0.30}, {0.60, 0.50}, {0.72, 0.62},
                           {0.90, 0.78}, {0.96, 0.89}, {1.00, 0.92}};
constexpr Knot kLines[] = {{0.4, 0.4}, {0.65, 0.55}, {0.8, 0.7}, {0.95, 0.89}, {1.0, 0.985}};
constexpr Knot kElectric[] = {{0.4, 0.5}, {0.6, 0.85}, {0.9, 0.89}, {1.0, 0.985}};
// Nothing explains it: of those told half were right, whatever the fit had said.
constexpr double kUnknown = 0.5;

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
  if (cause == Cause::unknown_object) return std::min(raw, kUnknown);
  if (cause >= Cause::open_line && cause <= Cause::intermittent_line) return between(kLines, raw);
  if (cause == Cause::touch_at_power_up || cause == Cause::touch_held) return between(kTouch, raw);
  const bool electric = cause >= Cause::interference && cause <= Cause::aged_reference;
  return electric ? between(kElectric, raw) : between(kGlass, raw);
}

Sureness sureness_told(double confidence) {
  return confidence >= 0.9   ? Sureness::sure
         : confidence >= 0.6 ? Sureness::likely
                             : Sureness::possible;
}

}  // namespace bareglass::host
