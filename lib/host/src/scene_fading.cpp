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

// Of a thing that fades so little within the dump that more than this is left at its end nothing
// can be told: among the some hundred courses that are tried, noise makes one of that kind now and
// then.
constexpr double kMostLeft = 0.67;

/// A weak thing: does an even fall over four windows or more fit better than any step?
bool falls_slowly(const Episode& e) {
  double step = 1e30;
  double ramp = 1e30;
  const std::size_t n = e.course.size();
  for (std::size_t full = e.from; full < n; ++full)
    for (std::size_t gone = full + 1; gone <= n + n / 2; ++gone) {
      if (gone - full > 2 && gone - full < 5) continue;
      const double left = left_by_ramp(e, full, gone);
      if (gone - full <= 2) {
        step = std::min(step, left);
        continue;
      }
      const double at_end =
          gone < n ? 0.0 : static_cast<double>(gone - (n - 1)) / static_cast<double>(gone - full);
      if (at_end < kMostLeft) ramp = std::min(ramp, left);
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
  const double doubt = 3.0 * e.course_sigma;
  const auto middle = [&](const std::vector<float>& course, double low) {
    return std::count_if(course.begin(), course.end(), [&](float v) {
      return static_cast<double>(v) > low && static_cast<double>(v) < 0.85 - doubt;
    });
  };
  // What dries also shrinks: little of the first pattern is left then, but something is. A sum of
  // squares over nodes on which nothing lies any more scatters by the root of twice their number.
  const double scatter =
      std::sqrt(2.0 * static_cast<double>(e.standing)) * e.course_sigma * e.course_sigma;
  const double gone = std::max(0.1 + doubt, std::sqrt(0.01 + 3.0 * scatter));
  return middle(e.course, 0.15 + doubt) >= 4 || middle(e.presence, gone) >= 4 ||
         changes_slowly(e) || falls_slowly(e);
}

}  // namespace bareglass::host
