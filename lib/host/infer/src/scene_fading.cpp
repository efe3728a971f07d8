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
constexpr double kLeftAtEnd = 0.67;

/// By how much an even fall over five windows or more fits a weak thing's course better than any
/// step: difference of the sums of squares left, which is twice the logarithm of the ratio of
/// likelihoods times the variance of the course's noise.
double slow_over_step(const Episode& e) {
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
      if (at_end < kLeftAtEnd) ramp = std::min(ramp, left);
    }
  // What fits hardly better than a step is a step with a ripple, however small the noise.
  const double better = step - ramp;
  return better > 0.0 && better < 0.05 * step ? 0.0 : better;
}

// Twice the logarithm of the ratio of likelihoods from which on one is believed. 9 is e^4.5 to one:
// by noise once in a hundred of the few things so weak. Wet films stand out better than layers that
// hardly conduct: of 420 that did not dry (seeds 846000 and 847000 on) the highest was -0.3.
constexpr double kBelieved = 9.0;
constexpr double kBelievedOfFilms = 4.0;

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

/// Whether the course passes through the middle of its range in more windows than a thing that is
/// lifted or put down does.
bool passes_the_middle(const Episode& e) {
  const double doubt = 3.0 * e.course_sigma;
  const auto middle = [&](const std::vector<float>& course, double low) {
    return std::count_if(course.begin(), course.end(), [&](float v) {
      return static_cast<double>(v) > low && static_cast<double>(v) < 0.85 - doubt;
    });
  };
  // What dries also shrinks: little of the first pattern is left then, but something is. A sum of
  // squares over nodes on which nothing lies any more scatters by the root of twice their number.
  const double gone = std::max(0.1 + doubt, std::sqrt(0.01 + 3.0 * presence_scatter(e)));
  return middle(e.course, 0.15 + doubt) >= 4 || middle(e.presence, gone) >= 4;
}

}  // namespace

double presence_scatter(const Episode& e) {
  return std::sqrt(2.0 * static_cast<double>(e.standing)) * e.course_sigma * e.course_sigma;
}

Going going_of(const Episode& e, bool film) {
  const double variance = e.course_sigma * e.course_sigma;
  const double slow = slow_over_step(e);
  if (passes_the_middle(e) || changes_slowly(e) ||
      slow > (film ? kBelievedOfFilms : kBelieved) * variance)
    return Going::slowly;
  return slow > -kBelieved * variance ? Going::unclear : Going::at_once;
}

}  // namespace bareglass::host
