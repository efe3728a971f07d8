// Statistics against published worked examples, against closed forms, and against enumeration.
#include "bareglass/statistics/statistics.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace bareglass::host {
namespace {

// The lady tasting tea: R. A. Fisher, The Design of Experiments, 1935, chapter II.
constexpr TwoByTwo kTea{3, 1, 1, 3};
// Convictions of like-sex twins of criminals: R. A. Fisher, Statistical Methods for Research
// Workers, section on exact treatment of 2 x 2 tables. Results from memory.
constexpr TwoByTwo kTwins{2, 15, 10, 3};

// C(n, k) in whole numbers, an independent way to the probabilities; n <= 60.
long double choose(unsigned n, unsigned k) {
  long double c = 1;
  for (unsigned i = 1; i <= k; ++i) c = c * (n - k + i) / i;
  return c;
}

struct Enumerated {
  double greater = 0, less = 0, two_sided = 0;
};
Enumerated enumerate(const TwoByTwo& t) {
  const unsigned n = static_cast<unsigned>(t.sum()), exposed = t.a + t.b, outcome = t.a + t.c;
  const auto p = [&](unsigned x) {
    return x > exposed || x > outcome || outcome - x > n - exposed
               ? 0.0L
               : choose(exposed, x) * choose(n - exposed, outcome - x) / choose(n, outcome);
  };
  Enumerated e;
  for (unsigned x = 0; x <= n; ++x) {
    if (x >= t.a) e.greater += static_cast<double>(p(x));
    if (x <= t.a) e.less += static_cast<double>(p(x));
    if (p(x) <= p(t.a) * 1.0000001L) e.two_sided += static_cast<double>(p(x));
  }
  return e;
}

TEST(FisherTestOfPublishedTables, TeaTasting) {
  const FisherTest test = fisher_exact(kTea);
  EXPECT_NEAR(test.greater, 17.0 / 70.0, 1e-12);
  EXPECT_NEAR(test.less, 69.0 / 70.0, 1e-12);
  EXPECT_NEAR(test.two_sided, 34.0 / 70.0, 1e-12);
  EXPECT_NEAR(test.least_two_sided, 2.0 / 70.0, 1e-12) << "all right or all wrong";
}

TEST(FisherTestOfPublishedTables, Twins) {
  EXPECT_NEAR(fisher_exact(kTwins).two_sided, 0.0005367, 5e-8);
  EXPECT_NEAR(fisher_exact(kTwins).less, 0.0004652, 5e-8);
}

TEST(FisherTestOfAnyTable, AgreesWithEnumeration) {
  std::mt19937 random(20261);
  for (int n = 0; n < 500; ++n) {
    const auto draw = [&] { return static_cast<std::uint32_t>(random() % 15); };
    const TwoByTwo t{draw(), draw(), draw(), draw()};
    const Enumerated e = enumerate(t);
    const FisherTest test = fisher_exact(t);
    SCOPED_TRACE(testing::Message() << "seed 20261, table " << n << ": " << t.a << ' ' << t.b << ' '
                                    << t.c << ' ' << t.d);
    EXPECT_NEAR(test.greater, e.greater, 1e-10);
    EXPECT_NEAR(test.less, e.less, 1e-10);
    EXPECT_NEAR(test.two_sided, e.two_sided, 1e-10);
    EXPECT_LE(test.least_two_sided, test.two_sided * (1 + 1e-12));
  }
}

TEST(FisherTestOfAnyTable, IsSymmetric) {
  const FisherTest test = fisher_exact({7, 12, 0, 5});
  const FisherTest turned = fisher_exact({7, 0, 12, 5});   // rows and columns exchanged
  const FisherTest swapped = fisher_exact({0, 5, 7, 12});  // exposed and not exposed exchanged
  EXPECT_NEAR(test.two_sided, turned.two_sided, 1e-12);
  EXPECT_NEAR(test.two_sided, swapped.two_sided, 1e-12);
  EXPECT_NEAR(test.greater, turned.greater, 1e-12);
  EXPECT_NEAR(test.greater, swapped.less, 1e-12);
}

TEST(FisherTestOfEmptyMargin, SaysNothing) {
  EXPECT_EQ(fisher_exact({}).two_sided, 1.0);
  EXPECT_EQ(fisher_exact({0, 0, 3, 9}).two_sided, 1.0);
  EXPECT_EQ(fisher_exact({4, 0, 3, 0}).least_two_sided, 1.0);
}

TEST(FisherTestOfManyUnits, StaysFiniteAndRefusesBeyondItsRange) {
  const FisherTest test = fisher_exact({40000, 10000, 10000, 40000});
  EXPECT_GE(test.two_sided, 0.0);
  EXPECT_LT(test.two_sided, 1e-200);
  EXPECT_NEAR(fisher_exact({5000, 5000, 5000, 5000}).two_sided, 1.0, 1e-9);
  EXPECT_THROW(fisher_exact({1000000, 1, 0, 0}), std::invalid_argument);
  EXPECT_THROW(odds_ratio({4294967295u, 4294967295u, 1, 1}), std::invalid_argument);
}

// Tail of Fisher's non-central hypergeometric distribution by enumeration.
double tail(const TwoByTwo& t, double odds, bool at_least) {
  const unsigned exposed = t.a + t.b, outcome = t.a + t.c, n = static_cast<unsigned>(t.sum());
  long double all = 0, part = 0;
  for (unsigned x = 0; x <= std::min(exposed, outcome); ++x) {
    if (outcome - x > n - exposed) continue;
    const long double w = choose(exposed, x) * choose(n - exposed, outcome - x) *
                          std::pow(static_cast<long double>(odds), static_cast<long double>(x));
    all += w;
    if (at_least ? x >= t.a : x <= t.a) part += w;
  }
  return static_cast<double>(part / all);
}

// Conditional estimates and limits as general statistics packages print them, from memory; such
// packages stop at a tolerance of about 1e-4 in the odds or in their inverse, which moves the large
// limit by 0.7 %. LimitsLeaveHalfTheTailOnEachSide holds the limits to their definition.
TEST(OddsRatioOfPublishedTables, TeaTasting) {
  const OddsRatio odds = odds_ratio(kTea);
  EXPECT_NEAR(odds.estimate, 6.408309, 1e-4);
  EXPECT_NEAR(odds.interval.low, 0.2117329, 1e-4);
  EXPECT_NEAR(odds.interval.high, 621.9337505, 0.01 * 621.9);
  EXPECT_NEAR(odds_ratio(kTea, 0.90).interval.low, 0.3135693, 1e-5) << "one-sided at 95 %";
  // The estimate solves mean = 3 for the weights 1, 16, 36, 16, 1.
  const double w = odds.estimate;
  const double all = 1 + 16 * w + 36 * w * w + 16 * w * w * w + w * w * w * w;
  EXPECT_NEAR((16 * w + 72 * w * w + 48 * w * w * w + 4 * w * w * w * w) / all, 3.0, 1e-9);
}

TEST(OddsRatioOfPublishedTables, Twins) {
  const OddsRatio odds = odds_ratio(kTwins);
  EXPECT_NEAR(odds.estimate, 0.04693661, 1e-5);
  EXPECT_NEAR(odds.interval.low, 0.003325764, 1e-5);
  EXPECT_NEAR(odds.interval.high, 0.363182271, 1e-5);
}

TEST(OddsRatioOfAnyTable, LimitsLeaveHalfTheTailOnEachSide) {
  for (const TwoByTwo& t : {kTea, kTwins, TwoByTwo{9, 4, 3, 11}, TwoByTwo{1, 20, 12, 2}}) {
    const Interval limits = odds_ratio(t).interval;
    EXPECT_NEAR(tail(t, limits.low, true), 0.025, 1e-9);
    EXPECT_NEAR(tail(t, limits.high, false), 0.025, 1e-9);
  }
}

TEST(OddsRatioOfAnyTable, TurnsOverWithTheRows) {
  const OddsRatio odds = odds_ratio({9, 4, 3, 11});
  const OddsRatio turned = odds_ratio({3, 11, 9, 4});
  EXPECT_NEAR(odds.estimate, 1.0 / turned.estimate, 1e-9);
  EXPECT_NEAR(odds.interval.low, 1.0 / turned.interval.high, 1e-9);
  EXPECT_NEAR(odds.interval.high, 1.0 / turned.interval.low, 1e-8);
}

TEST(OddsRatioOfAnyTable, LeavesOneOutsideExactlyWhenHalfTheTailRejects) {
  std::mt19937 random(7);
  for (int n = 0; n < 200; ++n) {
    const auto draw = [&] { return static_cast<std::uint32_t>(1 + random() % 20); };
    const TwoByTwo t{draw(), draw(), draw(), draw()};
    const FisherTest test = fisher_exact(t);
    const OddsRatio odds = odds_ratio(t);
    SCOPED_TRACE(testing::Message() << "seed 7, table " << n);
    EXPECT_EQ(odds.interval.low > 1.0, test.greater < 0.025);
    EXPECT_EQ(odds.interval.high < 1.0, test.less < 0.025);
  }
}

TEST(OddsRatioWithZeros, KeepsTheEndThatTheDataGive) {
  const OddsRatio none = odds_ratio({0, 10, 5, 5});
  EXPECT_TRUE(none.defined);
  EXPECT_EQ(none.estimate, 0.0);
  EXPECT_EQ(none.interval.low, 0.0);
  EXPECT_GT(none.interval.high, 0.0);
  EXPECT_LT(none.interval.high, 1.0);
  const OddsRatio all = odds_ratio({10, 0, 5, 5});
  EXPECT_TRUE(std::isinf(all.estimate));
  EXPECT_TRUE(std::isinf(all.interval.high));
  EXPECT_NEAR(all.interval.low, 1.0 / none.interval.high, 1e-9);
  EXPECT_FALSE(odds_ratio({0, 0, 5, 5}).defined);
  EXPECT_TRUE(std::isinf(odds_ratio({0, 0, 5, 5}).interval.high));
}

TEST(WilsonInterval, PublishedExamples) {
  // R. G. Newcombe, Stat. Med. 17:857, 1998, table I, score method without correction.
  const struct {
    unsigned hits, of;
    double low, high;
  } kExamples[] = {{81, 263, 0.2553, 0.3662},
                   {15, 148, 0.0624, 0.1605},
                   {0, 20, 0.0, 0.1611},
                   {1, 29, 0.0061, 0.1718}};
  for (const auto& e : kExamples) {
    EXPECT_NEAR(wilson(e.hits, e.of).low, e.low, 5.1e-5) << e.hits << " of " << e.of;
    EXPECT_NEAR(wilson(e.hits, e.of).high, e.high, 5.1e-5) << e.hits << " of " << e.of;
  }
}

TEST(WilsonInterval, LimitsAndSymmetry) {
  EXPECT_EQ(wilson(0, 0).low, 0.0);
  EXPECT_EQ(wilson(0, 0).high, 1.0);
  EXPECT_EQ(wilson(0, 7).low, 0.0);
  EXPECT_EQ(wilson(7, 7).high, 1.0);
  EXPECT_NEAR(wilson(3, 11).low, 1.0 - wilson(8, 11).high, 1e-12);
  EXPECT_LT(wilson(300, 1000).high - wilson(300, 1000).low, wilson(3, 10).high - wilson(3, 10).low);
  EXPECT_LT(wilson(3, 10, 0.8).high, wilson(3, 10, 0.99).high);
  EXPECT_THROW(wilson(4, 3), std::invalid_argument);
  EXPECT_THROW(wilson(1, 3, 1.0), std::invalid_argument);
}

TEST(Percentile, FollowsItsDefinition) {
  // Definition 7 of Hyndman & Fan 1996: rank (n - 1) p + 1, linear in between.
  EXPECT_DOUBLE_EQ(percentile({4, 1, 3, 2}, 25), 1.75);
  EXPECT_DOUBLE_EQ(percentile({4, 1, 3, 2}, 0), 1.0);
  EXPECT_DOUBLE_EQ(percentile({4, 1, 3, 2}, 100), 4.0);
  EXPECT_DOUBLE_EQ(percentile({10, 20}, 95), 19.5);
  EXPECT_DOUBLE_EQ(percentile({5}, 95), 5.0);
  EXPECT_DOUBLE_EQ(median({9, 1, 5}), 5.0);
  EXPECT_DOUBLE_EQ(median({9, 1, 5, 6}), 5.5);
  EXPECT_TRUE(std::isnan(median({})));
  EXPECT_THROW(percentile({1}, 101), std::invalid_argument);
}

}  // namespace
}  // namespace bareglass::host
