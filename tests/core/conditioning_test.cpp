#include "bareglass/core/conditioning.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

#include "support/guarded.hpp"

namespace bareglass {
namespace {

using support::Guarded;

constexpr std::size_t kCols = 41;  // not a multiple of any vector width

std::vector<std::uint16_t> random_raw(std::mt19937& random, std::size_t n) {
  std::vector<std::uint16_t> v(n);
  for (auto& x : v) x = static_cast<std::uint16_t>(random());
  return v;
}

TEST(SubtractRow, MatchesAFloatingReferenceInBothSigns) {
  const std::uint32_t seed = 31001;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937 random(seed);
  for (int k = 0; k < 2000; ++k) {
    const bool rise = k % 2 == 1;
    const std::vector<std::uint16_t> raw = random_raw(random, kCols);
    std::vector<BaselineQ8> base(kCols);
    for (auto& b : base) b = static_cast<BaselineQ8>(random() % ((65535u << 8) + 1));
    Guarded<std::int16_t> out(kCols);
    subtract_row(out.view(), {base.data(), kCols}, {raw.data(), kCols}, rise);
    ASSERT_TRUE(out.intact());
    for (std::size_t j = 0; j < kCols; ++j) {
      const double b = std::floor(base[j] / 256.0 + 0.5);
      const double d = rise ? raw[j] - b : b - raw[j];
      ASSERT_EQ(out[j], std::clamp(d, -32767.0, 32767.0)) << base[j] << ' ' << raw[j];
    }
  }
}

TEST(SubtractRow, SaturatesSoThatANegatedResultStillFits) {
  const std::vector<BaselineQ8> base = {0, 65535u << 8, 0, 65535u << 8, 32768u << 8};
  const std::vector<std::uint16_t> raw = {65535, 0, 32768, 32767, 0};
  Guarded<std::int16_t> out(5);
  subtract_row(out.view(), {base.data(), 5}, {raw.data(), 5}, false);
  EXPECT_EQ(out.values(), (std::vector<std::int16_t>{-32767, 32767, -32767, 32767, 32767}));
}

TEST(RowOffset, IsTheRoundedMeanOfTheQuietNodes) {
  const std::uint32_t seed = 31002;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937 random(seed);
  int valid = 0;
  for (int k = 0; k < 20000; ++k) {
    const std::size_t n = 1 + random() % 128;
    const auto quiet = static_cast<std::int32_t>(random() % 300);
    std::vector<std::int16_t> d(n);
    for (auto& x : d) x = static_cast<std::int16_t>(static_cast<int>(random() % 1001) - 500);
    if (k % 7 == 0) d[0] = -32767;
    double sum = 0;
    std::size_t votes = 0;
    for (const std::int16_t x : d)
      if (std::abs(x) <= quiet) {
        sum += x;
        ++votes;
      }
    const RowOffset offset = row_offset({d.data(), n}, quiet);
    ASSERT_EQ(offset.valid, 2 * votes >= n);
    if (!offset.valid) {
      ASSERT_EQ(offset.counts, 0);
      continue;
    }
    ++valid;
    const double mean = sum / static_cast<double>(votes);
    ASSERT_NEAR(offset.counts, mean, 0.5 + 1e-9);
  }
  EXPECT_GT(valid, 1000);
}

TEST(RowOffset, RoundsBothSignsAlike) {
  for (int sum = -9; sum <= 9; ++sum) {
    std::vector<std::int16_t> up(4, 0), down(4, 0);
    up[1] = static_cast<std::int16_t>(sum);
    down[1] = static_cast<std::int16_t>(-sum);
    EXPECT_EQ(row_offset({up.data(), 4}, 20).counts, -row_offset({down.data(), 4}, 20).counts);
  }
}

TEST(RowOffset, HasNoOpinionUnderAWideTouch) {
  std::vector<std::int16_t> d(10, 3);
  for (std::size_t j = 0; j < 5; ++j) d[j] = 900;
  EXPECT_TRUE(row_offset({d.data(), 10}, 100).valid);  // five of ten still vote
  EXPECT_EQ(row_offset({d.data(), 10}, 100).counts, 3);
  d[5] = 900;
  EXPECT_FALSE(row_offset({d.data(), 10}, 100).valid);
}

TEST(CommonModeOfARow, RemovesTheFluctuationAndLetsTheLastingOffsetBack) {
  CommonMode state;
  double slow = 0;  // the same filter in floating point
  std::vector<std::int32_t> removed;
  for (int k = 0; k < 640; ++k) {
    const std::int32_t offset = 100;
    const std::int32_t f = common_mode_step(state, {offset, true});
    EXPECT_NEAR(f, offset - slow, 1.0) << "frame " << k;
    slow += (offset - slow) / 64.0;
    removed.push_back(f);
  }
  EXPECT_EQ(removed.front(), 100);             // a step is a fluctuation at first
  EXPECT_NEAR(removed[64], 100 / 2.71828, 2);  // 1/e after one time constant of 64 frames
  EXPECT_LE(removed.back(), 1);                // and lasts in the difference in the end
}

TEST(CommonModeOfARow, StandsStillWithoutAnEstimate) {
  CommonMode state;
  state.slow_q8 = 1234;
  EXPECT_EQ(common_mode_step(state, {}), 0);
  EXPECT_EQ(state.slow_q8, 1234);
}

/// The noise estimate of one node in floating point, from the description in conditioning.hpp.
struct NoiseReference {
  double previous = 0, roughness = 0;
  void step(double d, double quiet) {
    const double jump = std::min(std::abs(d - previous), 4095.0);
    if (std::abs(d) <= quiet) roughness += (jump - roughness) / 32;
    previous = d;
  }
};

struct CleanRowState {
  Guarded<std::uint16_t> previous{kCols, static_cast<std::uint16_t>(kPreviousOffset)};
  Guarded<std::uint16_t> roughness{kCols};
};

RowExtremes clean(CleanRowState& state, Guarded<std::int16_t>& d, std::int32_t fluctuation) {
  return clean_row(d.view(), state.previous.view(), state.roughness.view(), fluctuation, 210);
}

Guarded<std::int16_t> normal_row(std::mt19937_64& random, double sigma) {
  std::normal_distribution<double> normal(0.0, sigma);
  Guarded<std::int16_t> d(kCols);
  for (std::size_t j = 0; j < kCols; ++j)
    d[j] = static_cast<std::int16_t>(std::lround(normal(random)));
  return d;
}

TEST(CleanRow, FollowsAFloatingReferenceAndFindsTheExtremes) {
  const std::uint32_t seed = 31003;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  CleanRowState state;
  std::vector<NoiseReference> reference(kCols);
  for (int k = 0; k < 500; ++k) {
    Guarded<std::int16_t> d = normal_row(random, 60);
    const std::vector<std::int16_t> before = d.values();
    const int shift = static_cast<int>(random() % 41) - 20;
    const RowExtremes extremes = clean(state, d, shift);
    ASSERT_TRUE(d.intact() && state.previous.intact() && state.roughness.intact());
    const std::vector<std::int16_t> after = d.values();
    ASSERT_EQ(extremes.highest, *std::max_element(after.begin(), after.end()));
    ASSERT_EQ(extremes.lowest, *std::min_element(after.begin(), after.end()));
    for (std::size_t j = 0; j < kCols; ++j) {
      ASSERT_EQ(after[j], before[j] - shift);
      ASSERT_EQ(state.previous[j], after[j] + kPreviousOffset);
      reference[j].step(after[j], 210);
      // Each step rounds to 1/16 count; the average forgets within 32 frames: at most one count.
      ASSERT_NEAR(state.roughness[j] / 16.0, reference[j].roughness, 1.0) << "frame " << k;
    }
  }
}

TEST(CleanRow, EstimatesTheStandardDeviationWithinAFewPercent) {
  // sigma = mean |successive difference| / d2(2), d2(2) = 1.128 (Montgomery, control-chart
  // constants). Averaged over 41 nodes and 400 frames; the estimator itself scatters by 1 %.
  const std::uint32_t seed = 31004;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  for (const double sigma : {5.0, 20.0, 50.0}) {
    CleanRowState state;
    double sum = 0;
    int n = 0;
    for (int k = 0; k < 600; ++k) {
      Guarded<std::int16_t> d = normal_row(random, sigma);
      clean(state, d, 0);
      if (k < 200) continue;
      for (std::size_t j = 0; j < kCols; ++j) sum += sigma_q4(state.roughness[j]) / 16.0;
      n += static_cast<int>(kCols);
    }
    EXPECT_NEAR(sum / n, sigma, 0.04 * sigma);
  }
}

TEST(CleanRow, DoesNotTakeATouchForNoise) {
  CleanRowState state;
  for (int k = 0; k < 100; ++k) {
    Guarded<std::int16_t> d(kCols);
    d[7] = static_cast<std::int16_t>(k % 2 == 0 ? 3000 : 300);
    d[8] = -211;
    clean(state, d, 0);
  }
  EXPECT_EQ(state.roughness[7], 0);
  EXPECT_EQ(state.roughness[8], 0);
}

TEST(CleanRow, SurvivesTheEndsOfTheRange) {
  CleanRowState state;
  Guarded<std::int16_t> d(kCols);
  d[0] = 32767;
  d[1] = -32767;
  const RowExtremes extremes = clean(state, d, -20000);
  EXPECT_EQ(d[0], 32767);
  EXPECT_EQ(d[1], -12767);
  EXPECT_EQ(extremes.highest, 32767);
  EXPECT_EQ(extremes.lowest, -12767);
  EXPECT_EQ(state.previous[0], 65535);
  // From one end of the range to the quiet middle: the jump is limited to 4095 counts.
  Guarded<std::int16_t> quiet(kCols);
  clean(state, quiet, 0);
  EXPECT_EQ(state.roughness[0], (4095 * 16 + 16) >> 5);
}

TEST(CleanRow, GivesTheSameWholeOrInTwoHalves) {
  const std::uint32_t seed = 31005;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  CleanRowState whole, halves;
  for (int k = 0; k < 64; ++k) {
    Guarded<std::int16_t> a = normal_row(random, 80);
    Guarded<std::int16_t> b(a.values());
    clean(whole, a, 3);
    constexpr std::size_t kHalf = 17;
    const auto part = [](auto view, std::size_t from, std::size_t n) {
      return decltype(view){view.data + from, n};
    };
    for (const auto& [from, n] : {std::pair{std::size_t{0}, kHalf}, {kHalf, kCols - kHalf}})
      clean_row(part(b.view(), from, n), part(halves.previous.view(), from, n),
                part(halves.roughness.view(), from, n), 3, 210);
    ASSERT_EQ(a.values(), b.values());
  }
  EXPECT_EQ(whole.previous.values(), halves.previous.values());
  EXPECT_EQ(whole.roughness.values(), halves.roughness.values());
}

TEST(RowsBetweenTheirTurns, AreCleanedAlikeWithoutTouchingTheNoise) {
  const std::uint32_t seed = 31006;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  for (int k = 0; k < 200; ++k) {
    Guarded<std::int16_t> cleaned = normal_row(random, 9000);
    Guarded<std::int16_t> levelled(cleaned.values());
    Guarded<std::int16_t> kept(cleaned.values());
    const int shift = static_cast<int>(random() % 40001) - 20000;
    CleanRowState full, keep;
    const RowExtremes a = clean(full, cleaned, shift);
    const RowExtremes b = level_row(levelled.view(), shift);
    const RowExtremes c = keep_row(kept.view(), keep.previous.view(), shift);
    ASSERT_TRUE(levelled.intact() && kept.intact() && keep.previous.intact());
    ASSERT_EQ(levelled.values(), cleaned.values());
    ASSERT_EQ(kept.values(), cleaned.values());
    ASSERT_EQ(keep.previous.values(), full.previous.values());
    ASSERT_TRUE(a.highest == b.highest && a.highest == c.highest);
    ASSERT_TRUE(a.lowest == b.lowest && a.lowest == c.lowest);
  }
}

TEST(Sigma, OfARoughnessIsTheRoughnessOverD2) {
  for (int v = 0; v <= 65535; v += 7)
    EXPECT_NEAR(sigma_q4(static_cast<std::uint16_t>(v)), v / 1.128, 0.8);
}

}  // namespace
}  // namespace bareglass
