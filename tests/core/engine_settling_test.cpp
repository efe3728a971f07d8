// Front ends that need a while after power-up, and those that never give a usable frame.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::engine_panel;
using support::PanelSpec;
using support::policy;

/// A unit whose first frame comes `delay_ms` after power-up and reads low by `depth`, which decays
/// with `tau_ms` from that frame on.
class UnitThatSettles {
 public:
  UnitThatSettles(std::uint32_t period_us, double delay_ms, double depth, double tau_ms,
                  bool with_reference = true)
      : device(panel(period_us), with_reference, policy(StartPolicy::lock)),
        period_us_(period_us),
        depth_(depth),
        tau_us_(tau_ms * 1000) {
    device.power_up();
    power_us_ = device.t_us;
    device.t_us += static_cast<std::uint64_t>(delay_ms * 1000);
  }
  static PanelSpec panel(std::uint32_t period_us) {
    PanelSpec spec = engine_panel(41);
    spec.frame_period_us = period_us;
    return spec;
  }
  void step() {
    std::vector<std::uint16_t> raw = device.scene.frame();
    const double low =
        1 - depth_ * std::exp(-frames_++ * static_cast<double>(period_us_) / tau_us_);
    for (auto& v : raw) v = static_cast<std::uint16_t>(std::lround(v * low));
    device.step(raw);
  }
  bool decides(double most_s = 3) {
    while (frames_ * 1e-6 * period_us_ < most_s) {
      step();
      if (device.engine.input_on() || device.engine.state() == InputState::off) return true;
    }
    return false;
  }

  Device device;

 private:
  std::uint32_t period_us_;
  double depth_, tau_us_;
  int frames_ = 0;
  std::uint64_t power_us_ = 0;
};

TEST(FrontEndThatSettles, IsWaitedForFromItsFirstFrameOn) {
  for (const std::uint32_t period_us : {500u, 2000u, 8000u, 20000u})
    for (const double delay_ms : {0.0, 35.0, 400.0})
      for (const double depth : {0.02, 0.1, 0.25})
        for (const double tau_ms : {2.0, 6.0, 15.0}) {
          UnitThatSettles unit(period_us, delay_ms, depth, tau_ms);
          ASSERT_TRUE(unit.decides());
          EXPECT_TRUE(unit.device.engine.input_on())
              << period_us << " us, " << delay_ms << " ms, low by " << depth << ", " << tau_ms;
          const auto settled = unit.device.entries(JournalCode::settled);
          ASSERT_EQ(settled.size(), 1u);
          EXPECT_GE(settled[0].value, static_cast<int>(40000 / period_us)) << "frames of 40 ms";
        }
}

TEST(FrontEndThatSettles, HoldsUpTheStartWhileItDriftsButNotForEver) {
  UnitThatSettles unit(8000, 0, 0.6, 1000);  // after half a second 63 counts in 8 ms
  ASSERT_TRUE(unit.decides());
  const auto drifts = unit.device.entries(JournalCode::unsettled);
  ASSERT_EQ(drifts.size(), 1u);
  EXPECT_GT(drifts[0].value, drifts[0].limit - 1) << "it rises";
  EXPECT_EQ(drifts[0].limit, 36) << "1 % of a finger";
  const auto settled = unit.device.entries(JournalCode::settled);
  ASSERT_EQ(settled.size(), 1u);
  EXPECT_NEAR(static_cast<double>(settled[0].t_us - 1008000), 540000, 8000) << "40 + 500 ms";
  EXPECT_FALSE(unit.device.engine.input_on()) << "the panel reads far too low";
}

TEST(FrontEndThatIsNoisy, IsNotTakenForOneThatDrifts) {
  PanelSpec spec = engine_panel(43);
  spec.common_ff = 12;  // 7 % of a finger, every row of every frame
  Device device(spec, true, policy(StartPolicy::lock));
  device.power_up();
  device.run_ms(1500);
  EXPECT_TRUE(device.entries(JournalCode::unsettled).empty());
  EXPECT_EQ(device.entries(JournalCode::settled).size(), 1u);
}

// --- no usable frame -----------------------------------------------------------------------------

class SaturatedPanel : public ::testing::TestWithParam<StartPolicy> {
 protected:
  SaturatedPanel()
      : device(engine_panel(41), true, [](Settings& s) {
          s.policy = GetParam();
          s.wait_ms = 5000;
        }) {
    device.power_up();
  }
  void saturate(int frames) {
    for (int n = 0; n < frames; ++n) device.step(std::vector<std::uint16_t>(24 * 16, 65535));
  }
  Device device;
};

TEST_P(SaturatedPanel, IsDecidedAboutAfterAStatedTime) {
  saturate(25);
  EXPECT_EQ(device.engine.state(), InputState::settling) << "480 ms";
  saturate(4);
  const auto told = device.entries(JournalCode::start_saturated);
  ASSERT_EQ(told.size(), 1u);
  EXPECT_EQ(told[0].limit, 540) << "settle_ms and 500";
  EXPECT_GE(told[0].value, told[0].limit);
  switch (GetParam()) {
    case StartPolicy::lock:
      EXPECT_EQ(device.engine.state(), InputState::off);
      EXPECT_EQ(device.entries(JournalCode::input_off).size(), 1u);
      break;
    case StartPolicy::service:
      EXPECT_EQ(device.engine.state(), InputState::service);
      break;
    default:
      EXPECT_EQ(device.engine.state(), InputState::waiting) << "there is nothing to adopt";
  }
  saturate(1000);
  EXPECT_EQ(device.entries(JournalCode::start_saturated).size(), 1u) << "told once";
  const bool gave_up = GetParam() == StartPolicy::wait || GetParam() == StartPolicy::lock;
  EXPECT_EQ(device.engine.state() == InputState::off, gave_up) << "waiting ends as it should";
}

TEST_P(SaturatedPanel, ComesOnWhenItReadsAgainIfItsPolicyWaits) {
  saturate(60);
  const bool returns = GetParam() == StartPolicy::wait || GetParam() == StartPolicy::adopt;
  EXPECT_EQ(device.run_until(InputState::running, 3000), returns);
}

TEST_P(SaturatedPanel, IsDecidedAboutInTheMiddleOfALookToo) {
  device.run_ms(160);
  ASSERT_EQ(device.engine.state(), InputState::looking);
  saturate(40);
  EXPECT_EQ(device.entries(JournalCode::start_saturated).size(), 1u);
  EXPECT_NE(device.engine.state(), InputState::looking);
}

TEST_P(SaturatedPanel, IsForgivenAFewFrames) {
  saturate(10);
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
  EXPECT_TRUE(device.entries(JournalCode::start_saturated).empty());
}

INSTANTIATE_TEST_SUITE_P(EveryPolicy, SaturatedPanel,
                         ::testing::Values(StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt,
                                           StartPolicy::service),
                         support::policy_name);

}  // namespace
}  // namespace bareglass
