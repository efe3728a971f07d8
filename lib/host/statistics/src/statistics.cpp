#include "bareglass/statistics/statistics.hpp"

#include <algorithm>
#include <boost/math/distributions/hypergeometric.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/special_functions/gamma.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace bareglass::host {

namespace {

// Probabilities that are equal on paper differ by rounding; ties within this share count as equal.
constexpr double kTie = 1e-7;
constexpr double kInfinity = std::numeric_limits<double>::infinity();

void expect_countable(const TwoByTwo& t) {
  if (t.sum() > TwoByTwo::kMostCounted)
    throw std::invalid_argument("expected a table of at most 1000000 counts");
}

double tail_of(double confidence) {
  if (!(confidence > 0.0 && confidence < 1.0))
    throw std::invalid_argument("expected a confidence between 0 and 1");
  return (1.0 - confidence) / 2.0;
}

// Values that `a` can take with the margins as they are.
struct Support {
  std::uint32_t low, high;
};

Support support_of(const TwoByTwo& t) {
  const std::uint32_t exposed = t.a + t.b, outcome = t.a + t.c, others = t.c + t.d;
  return {outcome > others ? outcome - others : 0, std::min(exposed, outcome)};
}

// Fisher's non-central hypergeometric distribution of `a` for any odds ratio.
class Conditional {
 public:
  explicit Conditional(const TwoByTwo& t) : low_(support_of(t).low) {
    const auto log_factorial = [](std::uint32_t n) { return boost::math::lgamma(n + 1.0); };
    const std::uint32_t exposed = t.a + t.b, outcome = t.a + t.c, others = t.c + t.d;
    for (std::uint32_t x = low_; x <= support_of(t).high; ++x)
      log_weight_.push_back(-log_factorial(x) - log_factorial(exposed - x) -
                            log_factorial(outcome - x) - log_factorial(others - (outcome - x)));
  }

  // Probability of `from` and more, the mean of `a`, at exp(log_odds).
  struct Moments {
    double at_least, at_most, mean;
  };
  Moments at(double log_odds, std::uint32_t a) const {
    double top = -kInfinity;
    for (std::size_t i = 0; i < log_weight_.size(); ++i)
      top = std::max(top, log_weight_[i] + static_cast<double>(i) * log_odds);
    double all = 0.0, above = 0.0, below = 0.0, first = 0.0;
    for (std::size_t i = 0; i < log_weight_.size(); ++i) {
      const double w = std::exp(log_weight_[i] + static_cast<double>(i) * log_odds - top);
      const double x = low_ + static_cast<double>(i);
      all += w;
      first += x * w;
      if (x >= a) above += w;
      if (x <= a) below += w;
    }
    return {above / all, below / all, first / all};
  }

 private:
  std::uint32_t low_;
  std::vector<double> log_weight_;
};

// Probability of every `a` without an association. The distribution's own density costs as much as
// the whole sum of a large table, so it is asked once, at the mode, and the ratio of neighbours
// does the rest; both ways it leads to smaller values, so that errors do not grow.
std::vector<double> probabilities(const TwoByTwo& t, const Support& support) {
  const std::uint32_t exposed = t.a + t.b, outcome = t.a + t.c;
  const auto sum = static_cast<unsigned>(t.sum());
  const boost::math::hypergeometric_distribution<double> central(outcome, exposed, sum);
  const double mode = std::floor((exposed + 1.0) * (outcome + 1.0) / (sum + 2.0));
  const auto top = std::clamp(static_cast<std::uint32_t>(mode), support.low, support.high);
  // Probability of x + 1 over that of x.
  const auto ratio = [&](double x) {
    return (exposed - x) * (outcome - x) / ((x + 1.0) * (1.0 * sum - exposed - outcome + x + 1.0));
  };
  std::vector<double> p(support.high - support.low + 1);
  p[top - support.low] = boost::math::pdf(central, top);
  for (std::uint32_t x = top; x < support.high; ++x)
    p[x + 1 - support.low] = p[x - support.low] * ratio(x);
  for (std::uint32_t x = top; x > support.low; --x)
    p[x - 1 - support.low] = p[x - support.low] / ratio(x - 1.0);
  return p;
}

// The odds ratio at which the increasing function `f` of its logarithm is zero.
template <typename F>
double solve(F f) {
  double low = -1.0, high = 1.0;
  while (f(low) > 0.0) low *= 2.0;
  while (f(high) < 0.0) high *= 2.0;
  std::uintmax_t rounds = 200;
  const auto found = boost::math::tools::toms748_solve(
      f, low, high, boost::math::tools::eps_tolerance<double>(45), rounds);
  return std::exp((found.first + found.second) / 2.0);
}

}  // namespace

FisherTest fisher_exact(const TwoByTwo& t) {
  expect_countable(t);
  FisherTest test;
  const Support support = support_of(t);
  if (support.low == support.high) return test;
  const std::vector<double> probability = probabilities(t, support);
  const double here = probability[t.a - support.low];
  const double least = *std::min_element(probability.begin(), probability.end());
  test = {0.0, 0.0, 0.0, 0.0};
  for (std::size_t i = 0; i < probability.size(); ++i) {
    const double p = probability[i];
    const auto x = static_cast<std::uint32_t>(support.low + i);
    if (x >= t.a) test.greater += p;
    if (x <= t.a) test.less += p;
    if (p <= here * (1.0 + kTie)) test.two_sided += p;
    if (p <= least * (1.0 + kTie)) test.least_two_sided += p;
  }
  for (double* p : {&test.greater, &test.less, &test.two_sided, &test.least_two_sided})
    *p = std::min(*p, 1.0);
  return test;
}

OddsRatio odds_ratio(const TwoByTwo& t, double confidence) {
  expect_countable(t);
  const double tail = tail_of(confidence);
  OddsRatio odds;
  odds.interval = {0.0, kInfinity};
  const Support support = support_of(t);
  if (support.low == support.high) return odds;
  odds.defined = true;
  const Conditional conditional(t);
  const bool lowest = t.a == support.low, highest = t.a == support.high;
  if (!lowest)
    odds.interval.low = solve([&](double x) { return conditional.at(x, t.a).at_least - tail; });
  if (!highest)
    odds.interval.high = solve([&](double x) { return tail - conditional.at(x, t.a).at_most; });
  odds.estimate = lowest    ? 0.0
                  : highest ? kInfinity
                            : solve([&](double x) { return conditional.at(x, t.a).mean - t.a; });
  return odds;
}

Interval wilson(std::uint64_t hits, std::uint64_t of, double confidence) {
  const double tail = tail_of(confidence);
  if (hits > of) throw std::invalid_argument("expected no more hits than trials");
  if (of == 0) return {0.0, 1.0};
  const double z = boost::math::quantile(boost::math::complement(boost::math::normal(), tail));
  const double n = static_cast<double>(of);
  const double p = static_cast<double>(hits) / n;
  const double middle = p + z * z / (2.0 * n);
  const double half = z * std::sqrt(p * (1.0 - p) / n + z * z / (4.0 * n * n));
  const double scale = 1.0 + z * z / n;
  // At the ends the formula gives 0 and 1 exactly, but for rounding.
  return {hits == 0 ? 0.0 : (middle - half) / scale, hits == of ? 1.0 : (middle + half) / scale};
}

double percentile(std::vector<double> values, double percent) {
  if (!(percent >= 0.0 && percent <= 100.0))
    throw std::invalid_argument("expected 0 to 100 percent");
  if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
  const double place = static_cast<double>(values.size() - 1) * percent / 100.0;
  const auto index = static_cast<std::size_t>(place);
  const auto nth = values.begin() + static_cast<std::ptrdiff_t>(index);
  std::nth_element(values.begin(), nth, values.end());
  const double below = *nth;
  if (index + 1 == values.size()) return below;
  const double above = *std::min_element(nth + 1, values.end());
  return below + (place - static_cast<double>(index)) * (above - below);
}

double median(std::vector<double> values) { return percentile(std::move(values), 50.0); }

}  // namespace bareglass::host
