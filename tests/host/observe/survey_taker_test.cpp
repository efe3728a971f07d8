// What the frames themselves say: settling, windows, bounded memory.
#include "bareglass/observe/survey_taker.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace bareglass::host {
namespace {

constexpr Shape kShape{4, 6};
constexpr std::uint32_t kPeriod_us = 20000;  // windows of 12 frames

class SurveyOfASmallPanel : public ::testing::Test {
 protected:
  SurveyOfASmallPanel() { taker_.begin(kShape, kPeriod_us); }
  void frame(double level) {
    const std::vector<std::uint16_t> raw(24, static_cast<std::uint16_t>(level + 0.5));
    taker_.take(raw.data(), t_us_ += kPeriod_us);
  }
  void frames(int count, double level) {
    for (int k = 0; k < count; ++k) frame(level);
  }
  SurveyTaker taker_;
  std::uint64_t t_us_ = 0;
};

TEST_F(SurveyOfASmallPanel, LeavesOutScansWhileTheFrontEndSettles) {
  for (const double level : {16000.0, 18400.0, 19520.0, 19856.0, 19957.0, 19990.0}) frame(level);
  frames(24, 20000);
  const Survey s = taker_.finish();
  EXPECT_EQ(s.unsettled, 6u);
  ASSERT_FALSE(s.windows.empty());
  EXPECT_NEAR(s.windows[0].mean[0], 20000, 3);
}

TEST_F(SurveyOfASmallPanel, LosesOneScanAtMostOfAPanelThatIsSettled) {
  frames(25, 20000);
  EXPECT_EQ(taker_.finish().unsettled, 1u);
}

TEST_F(SurveyOfASmallPanel, GivesUpWaitingForAPanelThatNeverSettles) {
  for (int k = 0; k < 40; ++k) frame(10000 + 200 * k);
  const Survey s = taker_.finish();
  EXPECT_EQ(s.unsettled, 8u);
  EXPECT_GE(s.windows.size(), 2u);
}

// More windows than there is room for: each two become one, and no frame is lost.
TEST_F(SurveyOfASmallPanel, MergesWindowsAndDropsNone) {
  constexpr int kFrames = 12 * 300;
  frame(20000);
  for (int k = 0; k < kFrames; ++k) frame(k < kFrames / 2 ? 20000 : 20100);
  const Survey s = taker_.finish();
  EXPECT_LE(s.windows.size(), Survey::kMaxWindows);
  int counted = 0;
  double sum = 0;
  for (const SurveyWindow& w : s.windows) {
    counted += w.frames;
    sum += static_cast<double>(w.frames) * static_cast<double>(w.mean[5]);
  }
  EXPECT_EQ(counted, kFrames);
  EXPECT_NEAR(sum / counted, 20050, 1);
  for (std::size_t k = 1; k < s.windows.size(); ++k)
    EXPECT_GT(s.windows[k].first_us, s.windows[k - 1].last_us) << k;
}

}  // namespace
}  // namespace bareglass::host
