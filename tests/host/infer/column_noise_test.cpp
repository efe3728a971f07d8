// Noise along a column: interference or a finger that swipes, on accounts written by hand.
#include <gtest/gtest.h>

#include <algorithm>

#include "../../../lib/host/infer/src/electrical_survey.hpp"
#include "scene_data.hpp"

namespace bareglass::host {
namespace {

constexpr int kColumn = 9;

class NoisyColumn : public ::testing::Test {
 protected:
  /// Whether interference is found if from window 6 to 11 the column's first `rows` rows are
  /// `times` as noisy as the panel.
  bool interferes(int panel_rows, int rows, float times = 3.f) {
    ScenePlan plan;
    plan.shape = {panel_rows, 20};
    Account account = account_of(plan);
    for (std::size_t k = 6; k < 12; ++k)
      for (int r = 0; r < rows; ++r)
        account.survey.windows[k].noise[static_cast<std::size_t>(r * 20 + kColumn)] *= times;
    Reading reading(account);
    const std::vector<ElectricalFound> found = find_electrical(reading, account);
    const auto it = std::find_if(found.begin(), found.end(), [](const ElectricalFound& f) {
      return f.cause == Cause::interference;
    });
    if (it == found.end()) return false;
    EXPECT_EQ(it->columns.first, kColumn);
    EXPECT_EQ(it->columns.last, kColumn);
    return true;
  }
};

TEST_F(NoisyColumn, FromEndToEndIsInterference) {
  EXPECT_TRUE(interferes(9, 9));
  EXPECT_TRUE(interferes(24, 24));
}

// A swipe of eight rows is a third of a long column and nearly all of a short one.
TEST_F(NoisyColumn, BesidesTheRowsThatASwipePassesIsNoInterference) {
  EXPECT_FALSE(interferes(9, 7));
  EXPECT_FALSE(interferes(11, 9));
  EXPECT_FALSE(interferes(24, 8));
}

// Fingers that pass over one column in turns make it half as noisy again.
TEST_F(NoisyColumn, ByHalfAsMuchAgainIsNoInterference) {
  EXPECT_FALSE(interferes(16, 16, 1.6f));
  EXPECT_TRUE(interferes(16, 16, 1.9f));
}

TEST_F(NoisyColumn, OfALongPanelMayBeQuietInAFewRows) { EXPECT_TRUE(interferes(24, 20)); }

}  // namespace
}  // namespace bareglass::host
