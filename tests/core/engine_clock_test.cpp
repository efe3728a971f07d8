// The time that comes with the frames: stamps that jump, counters that wrap or begin anew, time in
// which no frame could be read. What is held against what is told: contacts lift once, input is
// never on over a glass that nobody saw, no timer runs out in time that nobody watched.
#include <gtest/gtest.h>

#include <cstdint>
#include <functional>
#include <ostream>
#include <string>
#include <vector>

#include "bareglass/core/wide_clock.hpp"
#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::policy;
using support::running;

constexpr std::uint64_t kHourUs = 3600ull * 1000000;

int tips(const Engine& engine) {
  int n = 0;
  for (const Contact& c : engine.contacts()) n += c.tip ? 1 : 0;
  return n;
}

Device with_finger_down(const std::function<void(Settings&)>& change = {}) {
  Device device = running(true, change);
  device.scene.add_finger(9.2, 7.4);
  device.run_ms(200);
  EXPECT_EQ(tips(device.engine), 1);
  return device;
}

// --- one stamp -----------------------------------------------------------------------------------

TEST(OneStampFarAhead, IsLeftOutAndTheFingerStaysDown) {
  Device device = with_finger_down();
  const std::uint64_t t_us = device.t_us;
  device.t_us += 100 * kHourUs;
  EXPECT_EQ(device.step().status, FrameStatus::stamp_ahead);
  device.t_us = t_us + 20000;
  for (int k = 0; k < 100; ++k) {
    ASSERT_EQ(device.step().status, FrameStatus::ok);
    ASSERT_EQ(tips(device.engine), 1);
  }
  EXPECT_EQ(device.lifts, 0);
  EXPECT_TRUE(device.engine.input_on());
  ASSERT_EQ(device.entries(JournalCode::stamp_ahead).size(), 1u);
  EXPECT_EQ(device.entries(JournalCode::stamp_ahead)[0].value, 360000020);
}

// --- the clock goes on from elsewhere ------------------------------------------------------------

struct Jump {
  const char* name;
  std::uint64_t to_us;
  bool restarts_sequence;
};
void PrintTo(const Jump& jump, std::ostream* out) { *out << jump.name; }

class ClockThatGoesOnFromElsewhere : public ::testing::TestWithParam<Jump> {
 protected:
  void jump(Device& device) {
    device.t_us = GetParam().to_us;
    if (GetParam().restarts_sequence) device.sequence = 0;
  }
};

TEST_P(ClockThatGoesOnFromElsewhere, LiftsTheContactOnceAndNeverRunsOverAGlassItHasNotSeen) {
  Device device = with_finger_down();
  const int lifts = device.lifts;
  device.scene.clear();
  jump(device);
  bool looked = false;
  int frames_until_lift = 0;
  for (std::uint32_t k = 1; k <= kClockFrames; ++k) {
    device.step();
    if (tips(device.engine) != 0) ++frames_until_lift;
  }
  EXPECT_LT(frames_until_lift, device.engine.settings().debounce_up);
  EXPECT_FALSE(device.engine.input_on());
  for (int k = 0; k < 100 && !device.engine.input_on(); ++k) looked |= device.step().looked;
  EXPECT_TRUE(looked);
  EXPECT_TRUE(device.engine.input_on()) << "the bare glass was seen";
  device.run_ms(3000);
  EXPECT_TRUE(device.engine.contacts().empty());
  EXPECT_EQ(device.lifts, lifts + 1);
  EXPECT_EQ(device.broken_promises, 0);
  ASSERT_EQ(device.entries(JournalCode::clock_restarted).size(), 1u);
  const JournalEntry entry = device.entries(JournalCode::clock_restarted)[0];
  EXPECT_EQ(entry.limit, entry.value > 0 ? 60000 : 0);
  EXPECT_GT(std::abs(entry.value), 1000);
  EXPECT_EQ(device.entries(JournalCode::glass_bare).size(), 2u);
  device.scene.add_finger(9.2, 7.4);
  device.run_ms(200);
  EXPECT_EQ(tips(device.engine), 1) << "and input works";
}

TEST_P(ClockThatGoesOnFromElsewhere, WaitsForAFingerThatLiesThereInsteadOfLocking) {
  for (const StartPolicy p :
       {StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt, StartPolicy::service}) {
    Device device = with_finger_down(policy(p));
    jump(device);
    device.run_ms(2500);
    EXPECT_EQ(device.engine.state(), InputState::waiting) << static_cast<int>(p);
    EXPECT_EQ(device.lifts, 1);
    EXPECT_TRUE(device.engine.contacts().empty());
    device.scene.clear();
    EXPECT_TRUE(device.run_until(InputState::running, 2000)) << static_cast<int>(p);
  }
}

TEST_P(ClockThatGoesOnFromElsewhere, UnlocksNothing) {
  for (const StartPolicy p : {StartPolicy::lock, StartPolicy::service}) {
    Device device(support::engine_panel(62), true, policy(p));
    device.scene.add_film(8, 14, 3, 9, 60);
    device.power_up();
    device.run_ms(1000);
    const InputState off = device.engine.state();
    ASSERT_TRUE(off == InputState::off || off == InputState::service);
    device.scene.clear();
    jump(device);
    device.run_ms(6000);
    EXPECT_EQ(device.engine.state(), off);
    EXPECT_EQ(device.entries(JournalCode::clock_restarted).size(), 1u);
  }
}

TEST_P(ClockThatGoesOnFromElsewhere, BringsBackNothingThatWasPausedForGood) {
  Device device = running(true, policy(StartPolicy::lock));
  device.scene.add_film(8, 14, 3, 9, 60);
  ASSERT_TRUE(device.run_until(InputState::paused, 4000));
  device.scene.clear();
  jump(device);
  device.run_ms(6000);
  EXPECT_EQ(device.engine.state(), InputState::off);
}

TEST_P(ClockThatGoesOnFromElsewhere, StartsALookThatWasUnderWayAnew) {
  Device device(support::engine_panel(62), true, policy(StartPolicy::lock));
  device.power_up();
  ASSERT_TRUE(device.run_until(InputState::looking, 1000));
  device.step();
  jump(device);
  ASSERT_TRUE(device.run_until(InputState::running, 1000));
  device.power_up();
  ASSERT_TRUE(device.run_until(InputState::looking, 1000));
  device.scene.add_film(8, 14, 3, 9, 60);
  device.t_us += 2 * kHourUs;
  device.run_ms(1000);
  EXPECT_EQ(device.engine.state(), InputState::off) << "an object at power-up is still one";
}

// A clock in 32 bits ends at 4294.967 s; the devices here start at 1 s.
INSTANTIATE_TEST_SUITE_P(Jumps, ClockThatGoesOnFromElsewhere,
                         ::testing::Values(Jump{"aheadByHours", 5 * kHourUs, false},
                                           Jump{"aheadAtTheEnd", ~0ull / 2, false},
                                           Jump{"backToZero", 0, false},
                                           Jump{"backToZeroWithTheSequence", 0, true}),
                         [](const auto& one) { return std::string(one.param.name); });

TEST(CounterOf32Bits, LosesNoTouchAtItsWrapWhenWidened) {
  Device device = running(true);
  WideClock clock;
  std::uint32_t counter = 0xffffffffu - 900000;
  device.engine.power_up(widen(clock, counter));
  std::uint32_t sequence = 0;
  int lifts = 0;
  const auto frames = [&](int n) {
    for (int k = 0; k < n; ++k) {
      const std::vector<std::uint16_t> raw = device.scene.frame();
      const StepResult result = device.engine.step(
          {raw.data(), device.scene.spec().shape, ++sequence, widen(clock, counter += 8000)});
      EXPECT_EQ(result.status, FrameStatus::ok);
      for (const Contact& c : device.engine.contacts()) lifts += c.tip ? 0 : 1;
    }
  };
  frames(60);
  ASSERT_TRUE(device.engine.input_on());
  device.scene.add_finger(9.2, 7.4);
  frames(400);
  EXPECT_LT(counter, 0x80000000u) << "it has wrapped";
  EXPECT_EQ(tips(device.engine), 1);
  EXPECT_EQ(lifts, 0);
}

TEST(StampsWithoutAnyOrder, NeverLeaveInputOn) {
  Device device = with_finger_down();
  std::uint64_t x = 88172645463325252ull;
  for (int k = 0; k < 400; ++k) {
    x ^= x << 13, x ^= x >> 7, x ^= x << 17;  // xorshift64, Marsaglia 2003
    device.t_us = x;
    device.step();
    ASSERT_TRUE(k < 8 || !device.engine.input_on()) << k;
  }
  EXPECT_EQ(device.lifts, 1);
}

TEST(SequenceThatGoesBack, IsToldAndCostsNoTouchWhileTimeGoesOn) {
  Device device = with_finger_down();
  device.sequence = 0;
  device.run_ms(500);
  EXPECT_EQ(tips(device.engine), 1);
  EXPECT_EQ(device.lifts, 0);
  EXPECT_EQ(device.entries(JournalCode::sequence_back).size(), 1u);
}

// --- time in which nothing was seen --------------------------------------------------------------

TEST(GapOfSeconds, EndsTheTouchAndBeginsAnotherAtThePlace) {
  Device device = with_finger_down();
  device.t_us += 5000000;
  device.step();
  EXPECT_EQ(device.lifts, 1);
  EXPECT_EQ(tips(device.engine), 0);
  device.run_ms(100);
  EXPECT_EQ(tips(device.engine), 1);
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_EQ(device.broken_promises, 0);
  ASSERT_EQ(device.entries(JournalCode::frames_unwatched).size(), 1u);
  EXPECT_EQ(device.entries(JournalCode::frames_unwatched)[0].value, 5020);
  EXPECT_EQ(device.entries(JournalCode::frames_unwatched)[0].limit, 1000);
}

TEST(GapOfSeconds, IsNoTimeInWhichAFingerWasHeld) {
  Device device = with_finger_down([](Settings& s) { s.held_ms = 2000; });
  for (int k = 0; k < 10; ++k) {
    device.t_us += 30000000;
    device.run_ms(400);
  }
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_TRUE(device.entries(JournalCode::contact_judged).empty());
}

TEST(GapOfSeconds, IsNoTimeInWhichAThingLayThere) {
  Device device = running(true);
  device.scene.add_film(8, 14, 3, 9, 60);
  device.run_ms(100);
  device.t_us += 20000000;
  device.run_ms(1500);
  EXPECT_TRUE(device.engine.input_on()) << "it has been seen for no two seconds at a time";
  device.run_ms(1000);
  EXPECT_EQ(device.engine.state(), InputState::paused);
}

TEST(GapOfSeconds, IsNoTimeInWhichTheGlassWasBare) {
  Device device = running(true, [](Settings& s) {
    s.policy = StartPolicy::wait;
    s.clear_ms = 1500;
  });
  device.scene.add_film(8, 14, 3, 9, 60);
  ASSERT_TRUE(device.run_until(InputState::paused, 4000));
  device.scene.clear();
  device.run_ms(100);
  device.t_us += 20000000;
  device.step();
  EXPECT_EQ(device.engine.state(), InputState::paused);
  EXPECT_TRUE(device.run_until(InputState::running, 2000));
}

TEST(GapOfAFrameOrTwo, BreaksOffNoDrag) {
  Device device = with_finger_down();
  for (int k = 0; k < 20; ++k) {
    device.t_us += 900000;
    device.step();
  }
  EXPECT_EQ(tips(device.engine), 1);
  EXPECT_EQ(device.lifts, 0);
}

TEST(PanelScannedOnceASecond, KeepsItsTouchesFromFrameToFrame) {
  support::PanelSpec spec = support::engine_panel(61);
  spec.frame_period_us = 1000000;
  Device device(spec, true);
  device.power_up();
  ASSERT_TRUE(device.run_until(InputState::running, 60000));
  device.scene.add_finger(9.2, 7.4);
  for (int k = 0; k < 12; ++k) device.step();
  EXPECT_EQ(tips(device.engine), 1);
  EXPECT_EQ(device.lifts, 0);
  device.t_us = 0;
  for (int k = 0; k < kClockFrames; ++k) device.step();
  EXPECT_FALSE(device.engine.input_on());
  EXPECT_EQ(device.lifts, 1);
}

TEST(PanelThatWasBlindForMinutes, LooksAtItsGlassAnew) {
  Device device = with_finger_down();
  const std::vector<std::uint16_t> blind(16 * 24, 65535);
  const std::uint64_t since = device.t_us;
  while (device.t_us - since < kLongestStepUs) device.step(blind);
  EXPECT_TRUE(device.engine.input_on()) << "without a contact";
  EXPECT_EQ(device.lifts, 1);
  device.step(blind);
  EXPECT_FALSE(device.engine.input_on());
  ASSERT_EQ(device.entries(JournalCode::frames_unwatched).size(), 1u);
  EXPECT_EQ(device.entries(JournalCode::frames_unwatched)[0].limit, 60000);
  device.scene.clear();
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
}

// --- each lift once ------------------------------------------------------------------------------

TEST(LiftOfAContact, IsNotToldAgainAfterAFrameThatIsRefused) {
  using Feed = std::function<void(Device&)>;
  const std::vector<std::uint16_t> blind(16 * 24, 65535);
  const Feed feeds[] = {
      [](Device& d) {
        d.engine.step({d.scene.frame().data(), {24, 16}, d.sequence, d.t_us});
      },
      [](Device& d) {
        d.engine.step({d.scene.frame().data(), {9, 16}, d.sequence + 1, d.t_us});
      },
      [](Device& d) {
        d.engine.step({d.scene.frame().data(), {24, 16}, d.sequence + 1, d.t_us - 1});
      },
      [](Device& d) {
        d.engine.step({d.scene.frame().data(), {24, 16}, d.sequence + 1, d.t_us + kHourUs});
      },
      [&](Device& d) { d.step(blind); }};
  for (const Feed& feed : feeds) {
    Device device = with_finger_down();
    device.scene.clear();
    while (device.lifts == 0) device.step();
    ASSERT_EQ(device.engine.contacts().size, 1u);
    feed(device);
    EXPECT_TRUE(device.engine.contacts().empty()) << "feed " << &feed - feeds;
  }
}

TEST(FramesOfAnotherShape, LiftTheContactWithinTheDebounce) {
  Device device = with_finger_down([](Settings& s) { s.debounce_up = 4; });
  const std::vector<std::uint16_t> raw(200, 20000);
  for (std::uint32_t k = 1; k <= 4; ++k) {
    EXPECT_EQ(tips(device.engine), 1);
    device.engine.step({raw.data(), {20, 10}, device.sequence + k, device.t_us + 8000 * k});
  }
  ASSERT_EQ(device.engine.contacts().size, 1u);
  EXPECT_FALSE(device.engine.contacts()[0].tip);
  device.engine.step({raw.data(), {20, 10}, device.sequence + 5, device.t_us + 40000});
  EXPECT_TRUE(device.engine.contacts().empty());
}

TEST(ContactThatIsDown, IsLiftedOnceByTheFirstStepAfterAPowerUpOrNewSettings) {
  using Break = std::function<void(Device&)>;
  const Break breaks[] = {[](Device& d) { d.power_up(); },
                          [](Device& d) {
                            d.engine.configure(Settings(d.engine.settings()), {});
                            EXPECT_TRUE(d.engine.contacts().empty());
                            d.power_up();
                          },
                          [](Device& d) {
                            d.power_up();
                            d.power_up();
                          },
                          [](Device& d) {
                            const std::vector<std::uint16_t> bare = d.scene.reference();
                            d.engine.join_midway({bare.data(), bare.size()}, d.t_us);
                          }};
  for (const Break& each : breaks) {
    Device device = with_finger_down();
    each(device);
    EXPECT_TRUE(device.engine.contacts().empty());
    device.scene.clear();
    device.step();
    ASSERT_EQ(device.engine.contacts().size, 1u) << &each - breaks;
    EXPECT_FALSE(device.engine.contacts()[0].tip);
    device.run_ms(100);
    EXPECT_EQ(device.lifts, 1) << &each - breaks;
    EXPECT_EQ(device.broken_promises, 0);
  }
}

TEST(ContactThatIsDown, StaysDownWhereNewSettingsAreRefused) {
  Device device = with_finger_down();
  Settings wrong = device.engine.settings();
  wrong.debounce_up = 0;
  ASSERT_NE(device.engine.configure(wrong, {}), SettingsField::none);
  device.step();
  EXPECT_EQ(tips(device.engine), 1);
}

// --- frames that show nothing
// -----------------------------------------------------------------------

struct NothingNew {
  const char* name;
  bool misshapen;
};
void PrintTo(const NothingNew& kind, std::ostream* out) { *out << kind.name; }

class FramesThatShowNothing : public ::testing::TestWithParam<NothingNew> {
 protected:
  /// A frame of another shape, or the last scan once more.
  static void feed(Device& device) {
    const std::vector<std::uint16_t> raw = device.scene.frame();
    const bool misshapen = GetParam().misshapen;
    const Shape shape = misshapen ? Shape{9, 7} : device.scene.spec().shape;
    const FrameStatus expected = misshapen ? FrameStatus::wrong_shape : FrameStatus::repeated;
    EXPECT_EQ(device.engine.step({raw.data(), shape, device.sequence, device.t_us}).status,
              expected);
    for (const Contact& c : device.engine.contacts()) lifts_told_ += c.tip ? 0 : 1;
  }
  static inline int lifts_told_ = 0;
  FramesThatShowNothing() { lifts_told_ = 0; }
};

TEST_P(FramesThatShowNothing, LiftTheContactOnceAndPauseInputAfterTheStatedNumber) {
  Device device = with_finger_down();
  for (int k = 1; k < kUnreadFrames; ++k) feed(device);
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_EQ(tips(device.engine), GetParam().misshapen ? 0 : 1);
  for (int k = 0; k < 1000; ++k) {
    feed(device);
    ASSERT_FALSE(device.engine.input_on());
    ASSERT_EQ(tips(device.engine), 0);
  }
  EXPECT_EQ(lifts_told_, 1);
  ASSERT_EQ(device.entries(JournalCode::frames_unread).size(), 1u);
  EXPECT_EQ(device.entries(JournalCode::frames_unread)[0].value, kUnreadFrames);
  EXPECT_EQ(device.entries(JournalCode::frames_unread)[0].limit, kUnreadFrames);
}

TEST_P(FramesThatShowNothing, AreOverWhenTheGlassWasSeenBare) {
  Device device = with_finger_down(policy(StartPolicy::lock));
  for (int k = 0; k < kUnreadFrames; ++k) feed(device);
  device.run_ms(1000);
  EXPECT_EQ(device.engine.state(), InputState::waiting) << "the finger lies there";
  device.scene.clear();
  ASSERT_TRUE(device.run_until(InputState::running, 3000));
  device.scene.add_finger(9.2, 7.4);
  device.run_ms(200);
  EXPECT_EQ(tips(device.engine), 1) << "and input works";
  EXPECT_EQ(lifts_told_, 1);
}

TEST_P(FramesThatShowNothing, CostNothingWhereWholeOnesComeBetweenThem) {
  Device device = with_finger_down();
  for (int k = 0; k < 20; ++k) {
    for (int n = 0; n < kUnreadFrames - 1; ++n) feed(device);
    device.step();
    ASSERT_TRUE(device.engine.input_on());
  }
  EXPECT_TRUE(device.entries(JournalCode::frames_unread).empty());
}

TEST_P(FramesThatShowNothing, UnlockNothing) {
  Device device(support::engine_panel(62), true, policy(StartPolicy::lock));
  device.scene.add_film(8, 14, 3, 9, 60);
  device.power_up();
  ASSERT_TRUE(device.run_until(InputState::off, 1000));
  device.scene.clear();
  for (int k = 0; k < 3 * kUnreadFrames; ++k) feed(device);
  device.run_ms(6000);
  EXPECT_EQ(device.engine.state(), InputState::off);
}

INSTANTIATE_TEST_SUITE_P(Kinds, FramesThatShowNothing,
                         ::testing::Values(NothingNew{"of_another_shape", true},
                                           NothingNew{"the_same_scan_again", false}),
                         [](const auto& one) { return std::string(one.param.name); });

}  // namespace
}  // namespace bareglass
