#include "bareglass/core/arith.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

namespace bareglass {
namespace {

// NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4, "EWMA Control Charts": the
// page's 20 readings, its averages for lambda 0.3 from EWMA0 = 50, and its control limits.
constexpr double kReadings[] = {52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                                49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
constexpr double kAverages[] = {50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75,
                                49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
                                49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
constexpr int kReadingCount = 20;

TEST(EwmaOfTheHandbookExample, PrintedAveragesFollowFromThePrintedReadings) {
  double z = 50.0;
  for (int k = 0; k < kReadingCount; ++k) {
    z += 0.3 * (kReadings[k] - z);
    EXPECT_NEAR(z, kAverages[k], 0.005 + 1e-9) << "reading " << k;
  }
}

TEST(EwmaOfTheHandbookExample, FixedPointStepsGiveThePrintedAverages) {
  std::int32_t z = 50 * 65536;
  for (int k = 0; k < kReadingCount; ++k) {
    z = ewma_step(z, static_cast<std::int32_t>(std::lround(kReadings[k] * 65536)), 19661);
    EXPECT_NEAR(z / 65536.0, kAverages[k], 0.005 + 1e-3) << "reading " << k;
  }
}

TEST(EwmaOfTheHandbookExample, StaysInsideThePrintedControlLimits) {
  // The page: sigma 2.0539, factor sqrt(0.3 / 1.7) = 0.4201, limits 50 -+ 3 * 0.4201 * 2.0539.
  const double half_width = 3 * std::sqrt(0.3 / 1.7) * 2.0539;
  EXPECT_NEAR(50 + half_width, 52.5884, 2e-3);
  EXPECT_NEAR(50 - half_width, 47.4115, 2e-3);
  std::int32_t z = 50 * 65536;
  for (const double reading : kReadings) {
    z = ewma_step(z, static_cast<std::int32_t>(reading * 65536), 19661);
    EXPECT_LT(z, 52.5884 * 65536);
    EXPECT_GT(z, 47.4115 * 65536);
  }
}

TEST(EwmaStep, KeepsEveryBitOverTheWholeRange) {
  const std::uint32_t seed = 20251;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937 random(seed);
  std::uniform_int_distribution<std::int32_t> value(-1000000000, 1000000000);
  std::uniform_int_distribution<std::int32_t> lambda(0, 65536);
  for (int k = 0; k < 20000; ++k) {
    const std::int32_t z = value(random);
    const std::int32_t x = value(random);
    const std::int32_t l = lambda(random);
    const double exact = z + l / 65536.0 * (static_cast<double>(x) - z);
    ASSERT_NEAR(ewma_step(z, x, l), exact, 0.5) << z << ' ' << x << ' ' << l;
  }
  EXPECT_EQ(ewma_step(-7, 100, 65536), 100);
  EXPECT_EQ(ewma_step(-7, 100, 0), -7);
}

TEST(Log2, ErrorStaysBelowThreeStepsOverTheWholeRange) {
  double worst = 0;
  for (std::uint32_t v = 1; v <= 1u << 24; v = v < 70000 ? v + 1 : v + 97) {
    const double error = std::abs(log2_q8(v) / 256.0 - std::log2(v / 256.0));
    worst = std::max(worst, error);
  }
  EXPECT_LT(worst, 3.0 / 256);
  EXPECT_GT(worst, 0.5 / 256);  // the quadratic is an approximation: an exact answer is suspicious
}

TEST(Log2, PowersOfTwoAreExactAndTheFunctionNeverFalls) {
  for (int k = 0; k <= 24; ++k) EXPECT_EQ(log2_q8(1u << k), (k - 8) * 256);
  std::int32_t before = log2_q8(1);
  for (std::uint32_t v = 2; v < 100000; ++v) {
    const std::int32_t now = log2_q8(v);
    ASSERT_GE(now, before) << v;
    before = now;
  }
}

TEST(Median, IsTheLowerMiddleValueOfAnyList) {
  const std::uint32_t seed = 20252;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937 random(seed);
  for (int k = 0; k < 20000; ++k) {
    const auto n = 1 + random() % 128;
    const auto span = 1 + random() % (k % 3 == 0 ? 3u : 65535u);  // many ties, or few
    std::vector<std::int16_t> v(n);
    for (auto& x : v) x = static_cast<std::int16_t>(static_cast<int>(random() % span) - 32767);
    std::vector<std::int16_t> expected = v;
    const auto middle = expected.begin() + static_cast<std::ptrdiff_t>((n - 1) / 2);
    std::nth_element(expected.begin(), middle, expected.end());
    std::vector<std::int16_t> work = v;
    ASSERT_EQ(median_in_place({work.data(), n}), *middle) << "list " << k << " of " << n;
    std::sort(work.begin(), work.end());
    std::sort(v.begin(), v.end());
    ASSERT_EQ(work, v) << "the list is reordered, never changed";
  }
}

TEST(Median, SortedReversedAndEqualListsEnd) {
  for (std::size_t n = 1; n <= 128; ++n) {
    std::vector<std::int16_t> up(n), down(n), same(n, -5);
    for (std::size_t i = 0; i < n; ++i) {
      up[i] = static_cast<std::int16_t>(i);
      down[i] = static_cast<std::int16_t>(n - 1 - i);
    }
    const auto middle = static_cast<std::int16_t>((n - 1) / 2);
    EXPECT_EQ(median_in_place({up.data(), n}), middle);
    EXPECT_EQ(median_in_place({down.data(), n}), middle);
    EXPECT_EQ(median_in_place({same.data(), n}), -5);
  }
}

// Control-chart constants d2 for samples of 2 to 25: Montgomery, Introduction to Statistical
// Quality Control, appendix "Factors for constructing variables control charts".
constexpr double kD2[] = {1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.970,
                          3.078, 3.173, 3.258, 3.336, 3.407, 3.472, 3.532, 3.588,
                          3.640, 3.689, 3.735, 3.778, 3.819, 3.858, 3.895, 3.931};

TEST(D2Table, MatchesThePublishedFactors) {
  for (int n = 2; n <= 25; ++n) EXPECT_NEAR(d2_q10(n) / 1024.0, kD2[n - 2], 0.0006) << "n " << n;
  EXPECT_EQ(d2_q10(1), d2_q10(2));
  EXPECT_EQ(d2_q10(26), d2_q10(25));
  EXPECT_NEAR(kInverseD2Q16 / 65536.0, 1 / 1.128, 1e-5);
}

TEST(D2Table, IsTheMeanRangeOfSeededNormalSamples) {
  const std::uint32_t seed = 20253;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  for (const int n : {2, 5, 16, 25}) {
    constexpr int kSamples = 40000;
    double sum = 0;
    for (int k = 0; k < kSamples; ++k) {
      double low = 1e9, high = -1e9;
      for (int i = 0; i < n; ++i) {
        const double x = normal(random);
        low = std::min(low, x);
        high = std::max(high, x);
      }
      sum += high - low;
    }
    // The standard error of a mean of 40000 ranges (sd below 0.86) is below 0.0043: 4 of them.
    EXPECT_NEAR(sum / kSamples, d2_q10(n) / 1024.0, 0.018) << "n " << n;
  }
}

TEST(D2Table, MeanSuccessiveDifferenceEstimatesTheStandardDeviation) {
  const std::uint32_t seed = 20254;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal(0.0, 37.0);
  double sum = 0;
  double before = normal(random);
  constexpr int kSteps = 200000;
  for (int k = 0; k < kSteps; ++k) {
    const double x = normal(random);
    sum += std::abs(x - before);
    before = x;
  }
  EXPECT_NEAR(sum / kSteps * kInverseD2Q16 / 65536.0, 37.0, 37.0 * 0.01);
}

TEST(LambdaOfTimeConstant, IsPeriodOverTimeAndAtMostOne) {
  EXPECT_EQ(lambda_q16_of(8000, 0), 0);
  EXPECT_EQ(lambda_q16_of(8000, 8000), 65536);
  EXPECT_EQ(lambda_q16_of(8000, 100), 65536);
  EXPECT_EQ(lambda_q16_of(8000, 4000000), 131);  // 131.07
  EXPECT_EQ(lambda_q16_of(8000, 3000000), 175);  // 174.76
  EXPECT_EQ(lambda_q16_of(500, 600000000), 1);   // 0.05 would never move
}

TEST(FixedPointHelpers, SaturateAndRound) {
  EXPECT_EQ(saturate_i16(-40000), -32767);
  EXPECT_EQ(saturate_i16(40000), 32767);
  EXPECT_EQ(saturate_i16(-12), -12);
  EXPECT_EQ(permille_of(3500, 300), 1050);
  EXPECT_EQ(permille_of(65535, 32767), 2147385);
  EXPECT_EQ(permille_of(16, 5), 0);
  EXPECT_EQ(permille_of(100, 5), 1);
  EXPECT_EQ(clamp_i32(5, 1, 3), 3);
  EXPECT_EQ(clamp_i32(-5, 1, 3), 1);
  EXPECT_EQ(abs_i32(-32768), 32768);
}

TEST(LongDivision, GivesWhatTheLanguageGives) {
  const std::uint32_t seed = 20260;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  for (int k = 0; k < 20000; ++k) {
    const std::uint64_t n = random() >> (k % 64);
    const std::uint32_t d = static_cast<std::uint32_t>(random() >> (33 + k % 31)) + 1;
    ASSERT_EQ(divide_u64(n, d), n / d) << n << " / " << d;
  }
  EXPECT_EQ(divide_u64(~std::uint64_t{0}, 1), ~std::uint64_t{0});
  EXPECT_EQ(divide_u64(~std::uint64_t{0}, 0x80000000u), ~std::uint64_t{0} >> 31);
}

TEST(ShareInPermille, StaysWithinOneOfTheExactRatio) {
  const std::uint32_t seed = 20261;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  for (int k = 0; k < 20000; ++k) {
    const auto whole = static_cast<std::int64_t>((random() >> 2) >> (k % 50)) + 1;
    const double ratio = static_cast<double>(random() >> 11) / static_cast<double>(1ull << 51) - 2;
    const auto part = static_cast<std::int64_t>(ratio * static_cast<double>(whole));
    const double exact = 1000.0 * static_cast<double>(part) / static_cast<double>(whole);
    ASSERT_NEAR(share_permille(part, whole), exact, 1.01) << part << " of " << whole;
  }
}

TEST(ShareInPermille, IsLimitedAndHasNoShareOfNothing) {
  EXPECT_EQ(share_permille(7, 0), 0);
  EXPECT_EQ(share_permille(1ll << 61, 1), 2000);
  EXPECT_EQ(share_permille(-(1ll << 61), 5), -2000);
  EXPECT_EQ(share_permille(350, 1000), 350);
}

}  // namespace
}  // namespace bareglass
