// The baseline's tracking: second half of conditioning.hpp.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

#include "bareglass/core/conditioning.hpp"
#include "support/guarded.hpp"

namespace bareglass {
namespace {

using support::Guarded;

constexpr TrackRate kOpen{65536, 1 << 24, 32767, false};

// NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4: readings, EWMA for lambda 0.3
// from 50. Scaled by 500, so that the tracker's whole counts resolve the page's two decimals.
TEST(TrackerFedTheHandbookExample, GivesThePrintedAverages) {
  constexpr double kReadings[] = {52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                                  49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
  constexpr double kAverages[] = {50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75,
                                  49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
                                  49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
  TrackRate rate = kOpen;
  rate.lambda_q16 = 19661;  // 0.3
  for (const bool rise : {false, true}) {
    rate.counts_rise = rise;
    std::vector<BaselineQ8> base(1, 25000u << 8);
    for (int k = 0; k < 20; ++k) {
      const auto raw = static_cast<std::uint16_t>(std::lround(kReadings[k] * 500));
      std::vector<std::int16_t> d(1);
      subtract_row({d.data(), 1}, {base.data(), 1}, {&raw, 1}, rise);
      track_row({base.data(), 1}, {d.data(), 1}, rate);
      // Half of the last printed digit, and half a count from the whole-count difference.
      EXPECT_NEAR(base[0] / 256.0 / 500, kAverages[k], 0.005 + 0.002) << "reading " << k;
    }
  }
}

/// conditioning.hpp in floating point, slew limit and quiet limit included.
double followed(double base, double d, const TrackRate& rate) {
  if (std::abs(d) > rate.quiet) return base;
  const double slew = rate.slew_q8 / 256.0;
  const double step = std::clamp(d * rate.lambda_q16 / 65536.0, -slew, slew);
  return std::clamp(base - (rate.counts_rise ? -step : step), 0.0, 65535.0);
}

TEST(TrackRow, MatchesAFloatingReferenceForAnyRate) {
  const std::uint32_t seed = 32001;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937 random(seed);
  constexpr std::size_t kCols = 37;
  for (int k = 0; k < 5000; ++k) {
    TrackRate rate;
    rate.lambda_q16 = static_cast<std::int32_t>(random() % 65537);
    rate.slew_q8 = static_cast<std::int32_t>(1 + random() % (k % 2 ? 2000u : 20000000u));
    rate.quiet = static_cast<std::int32_t>(random() % (k % 3 ? 6000u : 300u));
    rate.counts_rise = random() % 2 == 0;
    std::vector<BaselineQ8> base(kCols);
    std::vector<std::int16_t> d(kCols);
    for (std::size_t j = 0; j < kCols; ++j) {
      base[j] = static_cast<BaselineQ8>(random() % ((65535u << 8) + 1));
      d[j] = static_cast<std::int16_t>(static_cast<int>(random() % 12001) - 6000);
    }
    base[0] = 3;
    base[1] = (65535u << 8) - 3;
    Guarded<BaselineQ8> out(base);
    track_row(out.view(), {d.data(), kCols}, rate);
    ASSERT_TRUE(out.intact());
    for (std::size_t j = 0; j < kCols; ++j)
      ASSERT_NEAR(out[j] / 256.0, followed(base[j] / 256.0, d[j], rate), 0.6 / 256)
          << "step " << k << " node " << j << " d " << d[j];
  }
}

TEST(TrackRow, ReachesADriftedLevelWithTheTimeConstantAndRunsOnFromAnyPoint) {
  TrackRate rate{131, 358, 210, false};  // 4 s at 8 ms; 1.4 counts a frame
  std::vector<BaselineQ8> base(4, 30000u << 8);
  const std::vector<std::uint16_t> raw = {29900, 30100, 29900, 30100};
  const auto run = [&](std::vector<BaselineQ8>& b, int frames) {
    std::vector<std::int16_t> d(b.size());
    for (int k = 0; k < frames; ++k) {
      subtract_row({d.data(), d.size()}, {b.data(), b.size()}, {raw.data(), b.size()}, false);
      track_row({b.data(), b.size()}, {d.data(), d.size()}, rate);
    }
  };
  std::vector<BaselineQ8> halves = base;
  run(base, 500);
  run(halves, 250);
  run(halves, 250);
  EXPECT_EQ(base, halves);
  // One time constant: 63.2 % of the way.
  EXPECT_NEAR(base[0] / 256.0, 30000 - 63.2, 1.5);
  EXPECT_NEAR(base[1] / 256.0, 30000 + 63.2, 1.5);
  run(base, 5000);
  EXPECT_NEAR(base[0] / 256.0, 29900, 1.0);
  EXPECT_NEAR(base[1] / 256.0, 30100, 1.0);
}

TEST(TrackRow, NeverMovesFasterThanTheSlewLimit) {
  const TrackRate rate{65536, 358, 210, false};
  std::vector<BaselineQ8> base(2, 30000u << 8);
  const std::vector<std::int16_t> d = {200, -200};
  track_row({base.data(), 2}, {d.data(), 2}, rate);
  EXPECT_EQ(base[0], (30000u << 8) - 358);
  EXPECT_EQ(base[1], (30000u << 8) + 358);
}

class RowsAroundALabelledNode : public ::testing::Test {
 protected:
  static constexpr Shape kShape{6, 7};

  /// Which nodes moved when every row was tracked around the labels.
  std::vector<bool> moved() {
    std::vector<bool> out(static_cast<std::size_t>(kShape.nodes()));
    for (int r = 0; r < kShape.rows; ++r) {
      Guarded<BaselineQ8> base(static_cast<std::size_t>(kShape.cols), 1000u << 8);
      const std::vector<std::int16_t> d(static_cast<std::size_t>(kShape.cols), 50);
      track_row_around_regions(base.view(), {d.data(), d.size()}, {label_.data(), label_.size()},
                               {busy_.data(), busy_.size()}, kShape, r,
                               {6554, 1 << 20, 210, false});
      EXPECT_TRUE(base.intact());
      for (int c = 0; c < kShape.cols; ++c)
        out[static_cast<std::size_t>(r * kShape.cols + c)] =
            base[static_cast<std::size_t>(c)] != 1000u << 8;
    }
    return out;
  }

  std::vector<std::uint8_t> label_ = std::vector<std::uint8_t>(42, 0);
  std::vector<std::uint8_t> busy_ = std::vector<std::uint8_t>(6, 1);
};

TEST_F(RowsAroundALabelledNode, FreezeItAndItsEightNeighboursWhereverItLies) {
  for (int row = 0; row < kShape.rows; ++row)
    for (int col = 0; col < kShape.cols; ++col) {
      label_.assign(42, 0);
      label_[static_cast<std::size_t>(row * kShape.cols + col)] = 3;
      const std::vector<bool> out = moved();
      for (int r = 0; r < kShape.rows; ++r)
        for (int c = 0; c < kShape.cols; ++c) {
          const bool near = std::abs(r - row) <= 1 && std::abs(c - col) <= 1;
          ASSERT_EQ(out[static_cast<std::size_t>(r * kShape.cols + c)], !near)
              << "label at " << row << ',' << col << ", node " << r << ',' << c;
        }
    }
}

TEST_F(RowsAroundALabelledNode, DoNotReadStaleLabelsOfIdleRows) {
  label_.assign(42, 9);
  busy_.assign(6, 0);
  const std::vector<bool> out = moved();
  EXPECT_EQ(std::count(out.begin(), out.end(), true), 42);
}

}  // namespace
}  // namespace bareglass
