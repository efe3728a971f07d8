// One line of time for a dump in which the unit's clock begins anew, wraps or jumps.
#include "bareglass/replay/dump_clock.hpp"

#include <gtest/gtest.h>

#include <cstdint>

#include "bareglass/core/checks.hpp"

namespace bareglass::host {
namespace {

using Step = DumpClock::Step;

PanelDescription powered_at(std::optional<std::uint64_t> t_us) {
  PanelDescription panel;
  panel.frame_period_us = 8000;
  panel.power_up_us = t_us;
  return panel;
}

class ClockOfADump : public ::testing::Test {
 protected:
  /// `n` frames 8 ms apart, the first with this number and stamp; the step of the last.
  Step frames(int n, std::uint32_t sequence, std::uint64_t t_us) {
    Step step = Step::on;
    for (int k = 0; k < n; ++k) {
      const std::uint64_t before = clock_.latest_us();
      step = clock_.frame(sequence++, t_us).step;
      t_us += 8000;
      EXPECT_GE(clock_.latest_us(), before) << "the line never goes back";
      EXPECT_LE(clock_.zero_us(), clock_.latest_us()) << "no time of a run is negative";
      runs_ += step == Step::began_anew ? 1 : 0;
      jumps_ += step == Step::jumped ? 1 : 0;
    }
    return step;
  }
  DumpClock clock_;
  int runs_ = 1, jumps_ = 0;
};

TEST_F(ClockOfADump, IsTheUnitsOwnInADumpOfOneRun) {
  clock_.description(powered_at(5000000));
  frames(100, 1, 5008000);
  EXPECT_EQ(clock_.latest_us(), 5800000u);
  EXPECT_EQ(clock_.zero_us(), 5000000u);
  EXPECT_EQ(clock_.power_up_us(), 5000000u);
  EXPECT_EQ(clock_.shift_us(), 0u);
}

TEST_F(ClockOfADump, CountsFromTheFirstFrameWhereTheStartIsNotInIt) {
  clock_.description(powered_at(1000000));
  frames(10, 700, 5000000);
  EXPECT_EQ(clock_.power_up_us(), std::nullopt);
  EXPECT_EQ(clock_.zero_us(), 5000000u);
}

TEST_F(ClockOfADump, LaysARunThatBeginsAtZeroBehindTheOneBefore) {
  clock_.description(powered_at(0));
  frames(1000, 1, 8000);
  const std::uint64_t end = clock_.latest_us();
  EXPECT_EQ(frames(1, 1, 8000), Step::began_anew);
  EXPECT_EQ(clock_.latest_us(), end + 8000);
  EXPECT_EQ(clock_.power_up_us(), std::nullopt) << "nothing was said of it";
  frames(500, 2, 16000);
  EXPECT_EQ(runs_, 2);
}

TEST_F(ClockOfADump, KnowsTheSecondPowerUpThoughItIsSaidToBeAtZeroAgain) {
  clock_.description(powered_at(0));
  frames(1000, 1, 8000);
  const std::uint64_t end = clock_.latest_us();
  EXPECT_FALSE(clock_.description(powered_at(0)));
  EXPECT_EQ(frames(1, 1, 8000), Step::began_anew);
  EXPECT_EQ(clock_.power_up_us(), end + 8000);
  EXPECT_EQ(clock_.zero_us(), end + 8000);
  EXPECT_EQ(clock_.latest_us(), end + 16000);
}

TEST_F(ClockOfADump, BeginsARunWithADescriptionOfAnotherPowerUp) {
  clock_.description(powered_at(0));
  frames(100, 1, 8000);
  EXPECT_TRUE(clock_.description(powered_at(2000000))) << "the clock goes on";
  EXPECT_EQ(clock_.zero_us(), 2000000u);
  frames(100, 1, 2008000);
  EXPECT_EQ(clock_.latest_us(), 2800000u);
  EXPECT_TRUE(clock_.description(powered_at(3000))) << "the clock has begun anew";
  EXPECT_EQ(clock_.zero_us(), 2808000u);
  EXPECT_EQ(frames(1, 1, 8000), Step::on);
  EXPECT_EQ(clock_.latest_us(), 2813000u);
}

TEST_F(ClockOfADump, TakesADescriptionWithoutATimeForNoPowerUp) {
  clock_.description(powered_at(0));
  frames(100, 1, 8000);
  EXPECT_FALSE(clock_.description(powered_at(std::nullopt)));
  EXPECT_FALSE(clock_.description(powered_at(0)));
  frames(100, 101, 808000);
  EXPECT_EQ(runs_, 1);
  EXPECT_EQ(clock_.zero_us(), 0u);
}

TEST_F(ClockOfADump, SurvivesAPowerUpBeyondAllBounds) {
  frames(100, 1, 8000);
  EXPECT_TRUE(clock_.description(powered_at(~std::uint64_t{0})));
  frames(100, 101, 808000);
  EXPECT_LT(clock_.latest_us(), 10000000u);
}

TEST_F(ClockOfADump, GoesOnWhereACounterOf32BitsWraps) {
  std::uint32_t t_us = 0xffffffffu - 400000;
  for (std::uint32_t n = 0; n < 100; ++n, t_us += 8000) {
    const DumpClock::Reading now = clock_.frame(n, t_us);
    EXPECT_EQ(now.step, Step::on) << n;
    EXPECT_EQ(now.t_us, 0xffffffffull - 400000 + 8000ull * n);
  }
}

TEST_F(ClockOfADump, LeavesALateFrameWhereItIs) {
  frames(100, 1, 8000);
  const std::uint64_t end = clock_.latest_us();
  EXPECT_EQ(frames(1, 97, 97 * 8000), Step::misfit);
  EXPECT_EQ(clock_.latest_us(), end);
  EXPECT_EQ(frames(10, 101, 101 * 8000), Step::on);
  EXPECT_EQ(runs_, 1);
}

TEST_F(ClockOfADump, FollowsAClockThatJumpsInOneRun) {
  frames(100, 1, 500000000);
  EXPECT_EQ(frames(kClockFrames - 1, 101, 300000000), Step::misfit);
  EXPECT_EQ(frames(1, 108, 300056000), Step::jumped);
  frames(100, 109, 300064000);
  EXPECT_EQ(jumps_, 1);
  EXPECT_EQ(runs_, 1);
  EXPECT_EQ(clock_.latest_us(), 500000000u + 99 * 8000 + 8000 + 100 * 8000)
      << "one period between the two";
}

TEST_F(ClockOfADump, SeesARunThatBeginsAtZeroWithoutSequenceNumbers) {
  frames(1000, 0, 0);
  frames(100, 1000, 0);  // formats without them count on
  EXPECT_EQ(runs_, 2);
  EXPECT_EQ(jumps_, 0);
}

}  // namespace
}  // namespace bareglass::host
