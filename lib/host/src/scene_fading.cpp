// Whether a thing fades slowly, as one that dries does.

#include <algorithm>
#include <cmath>

#include "scene_kind.hpp"

namespace bareglass::host {

namespace {

/// Sum of squares that a course leaves which keeps its height until window `full`, is 0 from window
/// `gone` on and falls evenly between; the height is fitted.
double left_by_ramp(const Episode& e, std::size_t full, std::size_t gone) {
  double squares = 0;
  double along = 0;
  double norm = 1e-12;
  for (std::size_t k = e.from; k < e.course.size(); ++k) {
    const auto v = static_cast<double>(e.course[k]);
    const double model = k <= full ? 1.0
                         : k >= gone
                             ? 0.0
                             : static_cast<double>(gone - k) / static_cast<double>(gone - full);
    squares += v * v;
    along += v * model;
    norm += model * model;
  }
  return squares - along * along / norm;
}

/// A weak thing: does an even fall over four windows or more fit better than any step?
bool falls_slowly(const Episode& e) {
  double step = 1e30;
  double ramp = 1e30;
  const std::size_t n = e.course.size();
  for (std::size_t full = e.from; full < n; ++full)
    for (std::size_t gone = full + 1; gone <= n + n / 2; ++gone) {
      double& best = gone - full <= 2 ? step : ramp;
      if (gone - full > 2 && gone - full < 5) continue;
      best = std::min(best, left_by_ramp(e, full, gone));
    }
  // A ratio of likelihoods of e^4.5: by noise once in a hundred of the few things so weak.
  return step - ramp > 9.0 * e.course_sigma * e.course_sigma && ramp < 0.95 * step;
}

/// Under thick glass the pattern of a drying film grows and falls as its edges pass the lines. What
/// lies there undiminished shows the same pattern in all thirds of its time.
bool changes_slowly(const Episode& e) {
  const std::size_t n = e.until - e.from;
  if (n < 9 || e.until >= e.course.size()) return false;
  const std::size_t part = (n - 2) / 3;  // without the windows in which it came and went
  float thirds[3] = {};
  for (std::size_t t = 0; t < 3; ++t)
    for (std::size_t k = 0; k < part; ++k)
      thirds[t] += e.course[e.from + 1 + t * part + k] / static_cast<float>(part);
  const auto [least, most] = std::minmax_element(thirds, thirds + 3);
  // Three differences to look at: 5 standard deviations are passed once in half a million.
  const double doubt = 5.0 * e.course_sigma * std::sqrt(2.0 / static_cast<double>(part));
  return static_cast<double>(*most - *least) > std::max(0.15, doubt);
}

}  // namespace

bool is_fading(const Episode& e) {
  const auto middle = [&](const std::vector<float>& course, float low) {
    const auto doubt = static_cast<float>(3.0 * e.course_sigma);
    return std::count_if(course.begin(), course.end(),
                         [&](float v) { return v > low + doubt && v < 0.85f - doubt; });
  };
  // What dries also shrinks: little of the first pattern is left then, but something is.
  return middle(e.course, 0.15f) >= 4 || middle(e.presence, 0.1f) >= 4 || changes_slowly(e) ||
         falls_slowly(e);
}

}  // namespace bareglass::host
