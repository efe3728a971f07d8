// Lone nodes and overflowing tables while input is on: faults of the panel rather than things on
// it.
#include <gtest/gtest.h>

#include <cstdint>
#include <functional>

#include "bareglass/core/engine.hpp"
#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::policy;
using support::running;

TEST(PanelWithALoneNode, ReportsItAndGoesOn) {
  Device device = running(true, policy(StartPolicy::lock));
  device.scene.add_node(10, 7, -80.0);
  device.run_ms(35000);
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_EQ(device.touches, 0);
  const auto began = device.entries(JournalCode::finding_began);
  ASSERT_EQ(began.size(), 1u);
  EXPECT_EQ(began[0].detail, static_cast<int>(FindingKind::lone_node));
  EXPECT_EQ(began[0].row, 10);
  EXPECT_EQ(began[0].col, 7);
  device.scene.add_finger(16, 4);
  device.run_ms(200);
  EXPECT_GT(device.touches, 0);
}

TEST(PanelWithALoneNode, IsFollowedAroundItWhenItDrifts) {
  // Were its neighbours frozen as around a touch, a drift would grow a skirt for it in time.
  Device device = running(true);
  device.scene.add_node(10, 7, -80.0);
  for (int k = 0; k < 3000; ++k) {  // 60 s, 24 fF
    for (int r = 0; r < 24; ++r)
      for (int c = 0; c < 16; ++c) device.scene.add_node(r, c, -0.008);
    device.step();
  }
  EXPECT_EQ(device.touches, 0);
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_LT(device.engine.difference()[10 * 16 + 8], 210);
}

TEST(PausedPanel, ComesBackInSpiteOfALoneNode) {
  Device device = running(true, policy(StartPolicy::wait));
  device.scene.add_node(3, 3, -80.0);
  device.scene.add_film(14, 20, 3, 12, 18.5);
  ASSERT_TRUE(device.run_until(InputState::paused, 4000));
  device.scene.clear();
  device.scene.add_node(3, 3, -80.0);
  EXPECT_TRUE(device.run_until(InputState::running, 2000));
}

TEST(PausedPanel, StaysAwayWhenTheObjectFindsNoPlaceAmongLoneNodes) {
  Device device = running(true, policy(StartPolicy::wait));
  device.scene.add_film(18, 21, 3, 12, 18.5);
  ASSERT_TRUE(device.run_until(InputState::paused, 4000));
  for (int k = 0; k < 20; ++k) device.scene.add_node(1 + 3 * (k / 5), 1 + 3 * (k % 5), -80);
  device.run_ms(3000);
  EXPECT_EQ(device.engine.state(), InputState::paused);
}

TEST(PanelInAMess, JournalsTheOverflowOfRegionsOncePerRun) {
  Device device = running(true);
  for (int r = 0; r < 24; r += 2)
    for (int c = 0; c < 16; c += 2) device.scene.add_node(r, c, -30.0);
  device.run_ms(600);
  const auto overflow = device.entries(JournalCode::regions_overflow);
  ASSERT_EQ(overflow.size(), 1u);
  EXPECT_EQ(overflow[0].value, 12 * 8 - RegionTable::kMaxRegions);
  EXPECT_EQ(overflow[0].limit, RegionTable::kMaxRegions);
}

}  // namespace
}  // namespace bareglass
