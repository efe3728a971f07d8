#pragma once
// What small counts and a few measured values allow to say. Distributions and root finding come
// from Boost.Math.

#include <cstdint>
#include <vector>

namespace bareglass::host {

struct Interval {
  double low = 0.0;
  double high = 0.0;  ///< may be infinite for an odds ratio
};

/// Two yes/no properties counted over units:
///                     outcome   no outcome
///     exposed            a          b
///     not exposed        c          d
/// The sum may be up to kMostCounted.
struct TwoByTwo {
  std::uint32_t a = 0, b = 0, c = 0, d = 0;
  std::uint64_t sum() const { return std::uint64_t{a} + b + c + d; }
  static constexpr std::uint64_t kMostCounted = 1000000;
};

/// Fisher's exact test (R. A. Fisher, The Design of Experiments, 1935): the probability, with all
/// four margins as they are and no association, of
struct FisherTest {
  double greater = 1.0;    ///< a table with this `a` or a larger one
  double less = 1.0;       ///< a table with this `a` or a smaller one
  double two_sided = 1.0;  ///< any table that is no more probable than this one
  /// The smallest two-sided value that any table with these margins could give: if that is above
  /// 0.05, the counts are too few to show anything.
  double least_two_sided = 1.0;
};
/// An empty margin gives 1 everywhere. Throws std::invalid_argument above kMostCounted.
FisherTest fisher_exact(const TwoByTwo& table);

/// Conditional on the margins: the estimate is the maximum of the conditional likelihood, the
/// interval holds every odds ratio that neither one-sided exact test rejects at half of
/// 1 - `confidence` (J. Cornfield, Proc. 3rd Berkeley Symp. 4:135, 1956). No correction is added to
/// zeros: a zero sends that end to 0 or to infinity, and the other end stays what the data say.
struct OddsRatio {
  bool defined = false;   ///< false: a margin is empty, any odds ratio fits
  double estimate = 1.0;  ///< 0 or infinite if `a` is as small or as large as it can be
  Interval interval{0.0, 1.0};
};
/// `confidence`: above 0, below 1. Throws std::invalid_argument otherwise and above kMostCounted.
OddsRatio odds_ratio(const TwoByTwo& table, double confidence = 0.95);

/// Wilson's score interval of a share (E. B. Wilson, J. Am. Stat. Assoc. 22:209, 1927), without
/// continuity correction. `hits` of `of`; 0..1 if `of` is 0. Throws std::invalid_argument if `hits`
/// is above `of` or `confidence` is not within 0..1.
Interval wilson(std::uint64_t hits, std::uint64_t of, double confidence = 0.95);

/// The value below which `percent` of the values lie, by linear interpolation between the order
/// statistics at (n - 1) * percent / 100 (definition 7 of Hyndman & Fan, The American Statistician
/// 50:361, 1996). NaN without values. Throws std::invalid_argument unless 0 <= percent <= 100.
double percentile(std::vector<double> values, double percent);
/// percentile(values, 50): the middle value, or the mean of the two middle ones.
double median(std::vector<double> values);

}  // namespace bareglass::host
