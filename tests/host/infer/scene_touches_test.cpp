// Touches in use are no thing on the glass, however they fall into a short dump.
#include <gtest/gtest.h>

#include <algorithm>

#include "../../../lib/host/infer/src/scene.hpp"
#include "../../../lib/host/infer/src/scene_story.hpp"
#include "scene_data.hpp"

namespace bareglass::host {
namespace {

/// Counts that a fingertip of 8 mm on 1.1 mm of glass takes at (x, y), in lines: a Gaussian with a
/// variance of 0.75 lines squared.
double fingertip(double row, double col, double y, double x) {
  return 2600.0 * std::exp(-((row - y) * (row - y) + (col - x) * (col - x)) / 1.5);
}

std::vector<SceneFound> scene_of(const ScenePlan& plan) {
  const Account a = account_of(plan);
  return find_scene(Reading(a), a);
}

std::string told(const std::vector<SceneFound>& found) {
  return found.empty() ? "nothing" : name_of(found.front().cause);
}

/// A finger that moves from `from` to `to` (windows) over a part of a short dump without a
/// reference: held against those windows, the rest of the dump seems to have risen along its track.
class SwipeInAShortDump : public ::testing::TestWithParam<int> {};

TEST_P(SwipeInAShortDump, IsNoThing) {
  for (unsigned seed = 1; seed <= 6; ++seed)
    for (const int windows : {7, 8, 10, 14}) {
      ScenePlan plan;
      plan.shape = {16, 10};
      plan.reference = false;
      plan.windows = windows;
      plan.seed = seed;
      const int begin = GetParam();
      plan.lost = [=](int k, int r, int c) {
        double sum = 0;
        for (int step = 0; step < 10; ++step) {  // the mean over a window of a finger that moves
          const double t = k + step / 10.0 - begin;
          if (t >= 0 && t < 3.2) sum += fingertip(r, c, 12 - 2.8 * t, 1 + 2 * t) / 10;
        }
        return sum;
      };
      const std::vector<SceneFound> found = scene_of(plan);
      EXPECT_TRUE(found.empty()) << told(found) << ", seed " << seed << ", windows " << windows;
    }
}

INSTANTIATE_TEST_SUITE_P(From, SwipeInAShortDump, ::testing::Values(2, 3, 4, 5),
                         [](const auto& one) { return "Window" + std::to_string(one.param); });

// The bend of a large panel's corner is no film; a touch in the corner must not hide that it is
// one.
TEST(TouchInTheCornerOfALargePanel, LeavesTheBendBesideItABend) {
  for (unsigned seed = 1; seed <= 10; ++seed) {
    ScenePlan plan;
    plan.shape = {24, 40};
    plan.windows = 14;
    plan.reference = false;
    plan.finger = 1200;
    plan.seed = seed;
    plan.settled = [](int r, int c) { return r <= 3 && c <= 8 ? 1.017 : 1.0; };
    plan.lost = [](int k, int r, int c) {
      return k == 11 || k == 12 ? fingertip(r, c, 1.7, 1.7) : 0.0;
    };
    const std::vector<SceneFound> found = scene_of(plan);
    EXPECT_TRUE(found.empty()) << told(found) << ", seed " << seed;
  }
}

// What rises and what falls share no row and no column: one thing would lie on its own lines.
TEST(TouchInEachPartOfAShortDump, IsNoConductorAcrossLines) {
  for (unsigned seed = 1; seed <= 10; ++seed) {
    ScenePlan plan;
    plan.windows = 5;
    plan.reference = false;
    plan.seed = seed;
    plan.lost = [](int k, int r, int c) {
      if (k >= 3) return 0.6 * fingertip(r, c, 12, 16);
      return (k == 0 ? 0.5 : 1.0) * fingertip(r, c, 4, 4);
    };
    const std::vector<SceneFound> found = scene_of(plan);
    EXPECT_TRUE(found.empty()) << told(found) << ", seed " << seed;
  }
}

// A fingertip takes a finger's worth, a light one half of it; a hundredth is no touch.
TEST(HundredthOfAFingerAllAlong, IsNoTouchAtPowerUp) {
  for (unsigned seed = 1; seed <= 10; ++seed) {
    ScenePlan plan;
    plan.seed = seed;
    plan.noise = 5;
    plan.lost = [](int, int r, int c) { return 0.012 * fingertip(r, c, 8, 9); };
    const std::vector<SceneFound> found = scene_of(plan);
    EXPECT_NE(told(found), "touch_at_power_up") << "seed " << seed;
    plan.lost = [](int, int r, int c) { return 0.12 * fingertip(r, c, 8, 9); };
    EXPECT_EQ(told(scene_of(plan)), "touch_at_power_up") << "seed " << seed;
  }
}

// Fluid along a whole border line, and half as deep on the next one, which then has no bare node.
TEST(SmoothPanel, TakesTheLevelBesideAWetBorderLineFromWithin) {
  ScenePlan plan;
  plan.reference = false;
  plan.lost = [](int, int r, int c) {
    return r == 0 ? 3150.0 : r == 1 ? 900.0 + 60.0 * (c % 5) : 0.0;
  };
  const Account a = account_of(plan);
  double sigma = 0;
  double freedom = 0;
  const Map bare = smooth_panel(sigma, freedom, a.survey.windows[0].mean,
                                std::vector<char>(16 * 20, 0), plan.shape);
  for (int c = 0; c < 20; ++c)
    EXPECT_NEAR(bare[static_cast<std::size_t>(20 + c)], plan.level, 3 * plan.spread) << c;
}

}  // namespace
}  // namespace bareglass::host
