#include "bareglass/core/wide_clock.hpp"

#include <gtest/gtest.h>

#include <cstdint>
#include <random>

namespace bareglass {
namespace {

constexpr std::uint64_t kTurn = 1ull << 32;

std::uint32_t low(std::uint64_t t_us) { return static_cast<std::uint32_t>(t_us); }

TEST(WideClock, TakesItsFirstReadingAsItIs) {
  for (const std::uint32_t first : {0u, 1u, 0x7fffffffu, 0x80000000u, 0xffffffffu}) {
    WideClock clock;
    EXPECT_EQ(widen(clock, first), first);
  }
}

TEST(WideClock, CarriesEachWrapWhereverTheStepsFall) {
  for (const std::uint64_t turn : {1ull, 2ull, 3ull, 0xffffffffull})
    for (std::uint64_t before = 1; before <= 3; ++before)
      for (std::uint64_t step = 1; step <= 5; ++step) {
        WideClock clock{turn * kTurn - before, true};
        EXPECT_EQ(widen(clock, low(turn * kTurn - before + step)), turn * kTurn - before + step);
      }
}

TEST(WideClock, FollowsEveryStepBelowHalfATurn) {
  const std::uint32_t seed = 5150;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937 random(seed);
  WideClock clock;
  std::uint64_t t_us = random();
  widen(clock, low(t_us));
  for (int k = 0; k < 100000; ++k) {
    t_us += k % 3 == 0 ? 0x7fffffffu - random() % 4 : random() % 0x80000000u;
    ASSERT_EQ(widen(clock, low(t_us)), t_us) << "reading " << k;
  }
  EXPECT_GT(t_us, 20000 * kTurn);
}

TEST(WideClock, StandsStillWithAReadingThatDoes) {
  WideClock clock{3 * kTurn + 7, true};
  EXPECT_EQ(widen(clock, 7), 3 * kTurn + 7);
  EXPECT_EQ(clock.latest_us, 3 * kTurn + 7);
}

TEST(WideClock, TakesASmallStepBackForNoWrap) {
  for (const std::uint64_t at : {kTurn - 3, kTurn, kTurn + 1, kTurn + 5000, 7 * kTurn + 2})
    for (const std::uint64_t back : {1ull, 4ull, 8000ull, 0x7fffffffull, 0x80000000ull}) {
      WideClock clock{at, true};
      EXPECT_EQ(widen(clock, low(at - back)), at - back) << at << " - " << back;
      EXPECT_EQ(widen(clock, low(at + 1)), at + 1) << "what came late moved nothing";
    }
}

TEST(WideClock, NeverGoesBelowZero) {
  WideClock clock;
  widen(clock, 5);
  EXPECT_EQ(widen(clock, 0xfffffff0u), 0u);
  EXPECT_EQ(widen(clock, 6), 6u);
}

}  // namespace
}  // namespace bareglass
