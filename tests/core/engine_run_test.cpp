// What the engine does with a trusted baseline: contacts, things laid on the glass, noise,
// tracking.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <functional>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::engine_panel;
using support::PanelSpec;
using support::policy;
using support::running;

double mean_difference(const Device& device, int row) {
  const int cols = device.scene.spec().shape.cols;
  double sum = 0;
  for (int c = 0; c < cols; ++c)
    sum += device.engine.difference()[static_cast<std::size_t>(row * cols + c)];
  return sum / cols;
}

// --- touches -------------------------------------------------------------------------------------

TEST(RunningPanel, ReportsATapOnceWithItsPlaceAndLiftsItOnce) {
  Device device = running(true);
  device.scene.add_finger(10.25, 7.5);
  device.run_ms(400);
  ASSERT_FALSE(device.engine.contacts().empty());
  const Contact c = device.engine.contacts()[0];
  EXPECT_TRUE(c.tip && c.confidence);
  EXPECT_NEAR(c.y_q8 / 256.0, 10.25, 0.15);
  EXPECT_NEAR(c.x_q8 / 256.0, 7.5, 0.15);
  device.scene.clear();
  device.run_ms(400);
  EXPECT_EQ(device.lifts, 1);
  EXPECT_EQ(device.broken_promises, 0);
  EXPECT_TRUE(device.engine.contacts().empty());
  EXPECT_EQ(device.entries(JournalCode::input_off).size(), 0u);
}

// A tail that comes off while a finger is on the glass.
TEST(RunningPanel, LiftsAContactThatItCanNoLongerSee) {
  Device device = running(true);
  device.scene.add_finger(10, 7);
  device.run_ms(400);
  ASSERT_EQ(device.engine.contacts().size, 1u);
  const std::vector<std::uint16_t> nothing(
      static_cast<std::size_t>(device.scene.spec().shape.nodes()), 0);
  device.step(nothing);  // one spoiled frame is no lift
  ASSERT_EQ(device.engine.contacts().size, 1u);
  EXPECT_TRUE(device.engine.contacts()[0].tip);
  device.step(nothing);
  ASSERT_EQ(device.engine.contacts().size, 1u);
  EXPECT_FALSE(device.engine.contacts()[0].tip);
  for (int k = 0; k < 50; ++k) {
    device.step(nothing);
    EXPECT_TRUE(device.engine.contacts().empty());
  }
}

TEST(RunningPanel, KeepsTheBaselineUnderAndAroundARestingFinger) {
  Device device = running(true);
  const int cols = device.scene.spec().shape.cols;
  const auto base = [&](int r, int c) {
    return device.engine.baseline_q8()[static_cast<std::size_t>(r * cols + c)];
  };
  device.scene.add_finger(10, 7);
  device.step();
  std::vector<std::uint32_t> before;
  for (int r = 8; r <= 12; ++r)
    for (int c = 5; c <= 9; ++c) before.push_back(base(r, c));
  const std::uint32_t far = base(20, 3);
  device.run_ms(10000);
  std::size_t i = 0;
  int moved = 0;
  for (int r = 8; r <= 12; ++r)
    for (int c = 5; c <= 9; ++c) {
      const bool near = std::abs(r - 10) <= 2 && std::abs(c - 7) <= 2;
      if (near && std::abs(r - 10) + std::abs(c - 7) <= 3) moved += base(r, c) != before[i];
      ++i;
    }
  EXPECT_EQ(moved, 0);
  EXPECT_NE(base(20, 3), far) << "elsewhere it goes on";
  device.scene.clear();
  device.run_ms(100);
  for (std::size_t k = 0; k < device.engine.difference().size; ++k)
    EXPECT_GT(device.engine.difference()[k], -210) << "a dent is left";
}

// --- a contact held too long ---------------------------------------------------------------------

class PanelWithAContactThatStays : public ::testing::TestWithParam<StartPolicy> {};

TEST_P(PanelWithAContactThatStays, IsJudgedAnObjectWithItsEvidence) {
  Device device = running(true, [](Settings& s) {
    s.policy = GetParam();
    s.held_ms = 30000;
  });
  device.scene.add_finger(10, 7);
  device.run_ms(29000);
  EXPECT_TRUE(device.entries(JournalCode::contact_judged).empty());
  EXPECT_TRUE(device.engine.input_on());
  device.run_ms(2500);
  const auto judged = device.entries(JournalCode::contact_judged);
  ASSERT_EQ(judged.size(), 1u);
  EXPECT_GE(judged[0].value, judged[0].limit);
  EXPECT_EQ(judged[0].limit, 30000);
  EXPECT_EQ(judged[0].row, 10);
  EXPECT_EQ(judged[0].col, 7);
  const auto off = device.entries(JournalCode::input_off);
  ASSERT_EQ(off.size(), 1u);
  EXPECT_EQ(off[0].detail, static_cast<int>(FindingKind::held_touch));
  EXPECT_GE(off[0].value, off[0].limit);
  ASSERT_FALSE(device.engine.findings().empty());
  const Finding& held = device.engine.findings()[0];
  EXPECT_EQ(held.kind, FindingKind::held_touch);
  EXPECT_GT(held.measured, held.limit) << "it tells its evidence";
  EXPECT_GT(held.confidence, 900) << "a finger's signal, far above its limit";
  EXPECT_EQ(device.lifts, 1);
  EXPECT_EQ(device.broken_promises, 0);
  const bool adopts = GetParam() == StartPolicy::adopt;
  EXPECT_EQ(device.engine.state(), adopts ? InputState::running : InputState::paused);
  EXPECT_EQ(device.entries(JournalCode::adopted).size(), adopts ? 2u : 0u)
      << "adopted when judged; the look that follows sees it again";
  device.scene.clear();
  device.run_ms(4000);
  const bool stays_off = GetParam() == StartPolicy::lock || GetParam() == StartPolicy::service;
  EXPECT_EQ(device.engine.input_on(), !stays_off);
}

INSTANTIATE_TEST_SUITE_P(EveryPolicy, PanelWithAContactThatStays,
                         ::testing::Values(StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt,
                                           StartPolicy::service),
                         support::policy_name);

TEST(PanelWithATremblingFinger, DoesNotJudgeItHoweverLongItStays) {
  Device device = running(true);
  for (int k = 0; k < 2250; ++k) {  // 45 s
    device.scene.clear();
    device.scene.add_finger(10 + 0.12 * std::sin(0.21 * k), 7 + 0.1 * std::cos(0.13 * k));
    device.step();
  }
  EXPECT_TRUE(device.entries(JournalCode::contact_judged).empty());
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_GT(device.touches, 2200);
}

// --- a thing laid on the glass while input is on
// ----------------------------------------------------

class PanelThatGetsAStreakWhileRunning : public ::testing::TestWithParam<StartPolicy> {};

TEST_P(PanelThatGetsAStreakWhileRunning, PausesAndReturnsAsItsPolicySays) {
  Device device = running(true, policy(GetParam()));
  device.scene.add_diagonal_streak(5, 2, 5);
  device.run_ms(1900);
  EXPECT_TRUE(device.engine.input_on()) << "a finding must last for surface_ms";
  EXPECT_EQ(device.touches, 0) << "but is no touch from its first frame on";
  const auto held = device.entries(JournalCode::phantom_held_back);
  ASSERT_EQ(held.size(), 1u);
  EXPECT_GE(held[0].value, held[0].limit);
  device.run_ms(1500);
  const auto off = device.entries(JournalCode::input_off);
  ASSERT_EQ(off.size(), 1u);
  EXPECT_EQ(off[0].detail, static_cast<int>(FindingKind::two_sign_conductor));
  EXPECT_GE(std::abs(off[0].value), off[0].limit);
  const bool adopts = GetParam() == StartPolicy::adopt;
  EXPECT_EQ(device.engine.state(), adopts ? InputState::running : InputState::paused);
  device.run_ms(5000);
  EXPECT_EQ(device.engine.state(), adopts ? InputState::running : InputState::paused);
  device.scene.clear();
  device.run_ms(4000);
  const bool returns = GetParam() == StartPolicy::wait || adopts;
  EXPECT_EQ(device.engine.input_on(), returns);
  EXPECT_EQ(device.touches, 0);
  if (!returns) return;
  device.scene.add_finger(7, 4);
  device.run_ms(200);
  EXPECT_GT(device.touches, 0) << "a touch where it lay is a touch again";
}

INSTANTIATE_TEST_SUITE_P(EveryPolicy, PanelThatGetsAStreakWhileRunning,
                         ::testing::Values(StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt,
                                           StartPolicy::service),
                         support::policy_name);

TEST(PanelThatPauses, ReportsTheLiftOfAFingerThatLeavesInTheVeryFrameOfThePause) {
  for (int leave = -6; leave <= 2; ++leave) {
    Device device = running(true, policy(StartPolicy::wait));
    device.scene.add_film(14, 20, 3, 12, 18.5);
    int frames = 0;
    // The pause comes with frame 101 (2000 ms after the first).
    for (; device.engine.input_on() && frames < 200; ++frames) {
      if (frames == 50) device.scene.add_finger(5, 5);
      if (frames == 101 + leave) {
        device.scene.clear();
        device.scene.add_film(14, 20, 3, 12, 18.5);
      }
      device.step();
    }
    EXPECT_EQ(frames, 101) << "the sweep below is built around it";
    device.run_ms(500);
    EXPECT_EQ(device.lifts, 1) << "finger leaves at " << leave;
    EXPECT_EQ(device.broken_promises, 0) << "finger leaves at " << leave;
  }
}

TEST(PausedPanel, WaitsForBareGlassAsLongAsFingersComeAndGo) {
  Device device = running(true, policy(StartPolicy::wait));
  device.scene.add_film(14, 20, 3, 12, 18.5);
  ASSERT_TRUE(device.run_until(InputState::paused, 4000));
  for (int k = 0; k < 10; ++k) {
    device.scene.clear();
    device.run_ms(700);
    device.scene.add_finger(5, 5);
    device.run_ms(100);
  }
  EXPECT_EQ(device.engine.state(), InputState::paused);
  EXPECT_EQ(device.touches, 0);
  device.scene.clear();
  EXPECT_TRUE(device.run_until(InputState::running, 1200));
}

// --- noise, common mode, drift -------------------------------------------------------------------

TEST(PanelWithCommonModeNoise, SeesItNeitherInTheDifferenceNorAsTouches) {
  PanelSpec spec = engine_panel(62);
  spec.common_ff = 3.0;  // 60 counts, twice the nodes' own noise
  Device device = running(true, {}, spec);
  double sum_sq = 0;
  int n = 0;
  for (int k = 0; k < 500; ++k) {
    device.step();
    for (int r = 0; r < spec.shape.rows; ++r) {
      const double mean = mean_difference(device, r);
      sum_sq += mean * mean;
      ++n;
    }
  }
  // What is left of 60 counts: rounding, the slow average's own noise of 60 * sqrt(1/127), and the
  // tracking's.
  EXPECT_LT(std::sqrt(sum_sq / n), 12.0);
  EXPECT_EQ(device.touches, 0);
  EXPECT_TRUE(device.engine.input_on());
  // 1.5 fF at 20 counts per fF is 30 counts.
  EXPECT_NEAR(device.engine.panel_sigma_q4() / 16.0, 30.0, 3.0);
}

TEST(PanelWithALastingRowOffset, KeepsItInTheDifference) {
  Device device = running(true, [](Settings& s) { s.track_ms = 0; });
  for (int c = 0; c < 16; ++c) device.scene.add_node(9, c, -9.0);  // 180 counts
  device.step();
  EXPECT_LT(mean_difference(device, 9), 60) << "a step is taken for a fluctuation at first";
  device.run_ms(10000);
  double late = 0;
  for (int k = 0; k < 50; ++k) {
    device.step();
    late += mean_difference(device, 9) / 50;
  }
  EXPECT_NEAR(late, 180, 15);
}

TEST(PanelThatDrifts, IsFollowedWithoutAFinding) {
  Device device = running(true);
  for (int k = 0; k < 3000; ++k) {  // 60 s, 24 fF in all: far beyond the limit for findings
    for (int r = 0; r < 24; ++r)
      for (int c = 0; c < 16; ++c) device.scene.add_node(r, c, -0.008);
    device.step();
  }
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_TRUE(device.engine.findings().empty());
  double mean = 0;
  for (int r = 0; r < 24; ++r) mean += mean_difference(device, r) / 24;
  // A follower with a time constant of 4 s lags a ramp of 8 counts/s by 32 counts.
  EXPECT_NEAR(mean, 32, 12);
}

TEST(PanelThatDrifts, IsNotFollowedWithTrackingOff) {
  Device device = running(true, [](Settings& s) { s.track_ms = 0; });
  for (int r = 0; r < 24; ++r)
    for (int c = 0; c < 16; ++c) device.scene.add_node(r, c, -9.0);
  device.run_ms(20000);
  EXPECT_NEAR(mean_difference(device, 3), 180, 25);
}

TEST(NoisyPanel, RaisesItsLimitToSixSigma) {
  PanelSpec spec = engine_panel(63);
  spec.noise_ff = 4.0;  // 80 counts: 6 sigma is 480, above the 280 of the settings
  Device device = running(
      true, [](Settings& s) { s.unsteady_permille = 500; }, spec);
  device.run_ms(5000);
  EXPECT_NEAR(device.engine.region_limit(), 480, 50);
  EXPECT_TRUE(device.engine.findings().empty());
  EXPECT_EQ(device.touches, 0);
}

}  // namespace
}  // namespace bareglass
