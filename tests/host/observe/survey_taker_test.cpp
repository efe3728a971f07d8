// What the frames themselves say: settling, windows, bounded memory.
#include "bareglass/observe/survey_taker.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>
#include <random>
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

// Steps of single lines that are smaller than what a hand on a whole line makes.

constexpr int kRows = 9;
constexpr int kColumns = 14;
constexpr double kBare = 4000.0;

/// 200 frames of a panel with noise of 10 counts a node and 20 a row; `share(frame, row, column)`
/// is what each node has of its bare reading.
Survey survey_of(const std::function<double(int, int, int)>& share, double swing = 20.0) {
  std::mt19937 random(7);
  std::normal_distribution<double> normal;
  SurveyTaker taker;
  taker.begin({kRows, kColumns}, kPeriod_us);
  for (int f = 0; f < 200; ++f) {
    std::vector<std::uint16_t> raw;
    for (int r = 0; r < kRows; ++r) {
      const double of_row = swing * normal(random);
      for (int c = 0; c < kColumns; ++c)
        raw.push_back(static_cast<std::uint16_t>(
            std::max(0.0, kBare * share(f, r, c) + of_row + 10.0 * normal(random) + 0.5)));
    }
    taker.take(raw.data(), static_cast<std::uint64_t>(f + 1) * kPeriod_us);
  }
  return taker.finish();
}

bool comes_and_goes(int frame) { return frame % 20 < 7; }

TEST(StepsOfALine, ThatLosesATenthNowAndThenAreCountedBothWays) {
  const Survey columns =
      survey_of([](int f, int, int c) { return c == 3 && comes_and_goes(f) ? 0.9 : 1.0; });
  const Survey rows =
      survey_of([](int f, int r, int) { return r == 0 && comes_and_goes(f) ? 0.9 : 1.0; });
  for (int c = 0; c < kColumns; ++c) {
    const LineSteps& s = columns.columns[static_cast<std::size_t>(c)];
    EXPECT_EQ(s.faintly_down, c == 3 ? 9u : 0u) << c;  // the first fall comes before it is known
    EXPECT_EQ(s.faintly_up, c == 3 ? 9u : 0u) << c;    // what a line does by itself
    EXPECT_EQ(s.down + s.up, 0u) << c;
  }
  for (int r = 0; r < kRows; ++r) {
    const LineSteps& s = rows.rows[static_cast<std::size_t>(r)];
    EXPECT_GE(s.faintly_down, r == 0 ? 8u : 0u) << r;
    EXPECT_LE(s.faintly_down + s.faintly_up, r == 0 ? 20u : 0u) << r;
  }
}

TEST(StepsOfALine, AreNotMadeByRowsThatSwing) {
  for (const double swing : {5.0, 50.0, 200.0}) {
    const Survey s = survey_of([](int, int, int) { return 1.0; }, swing);
    for (const LineSteps& row : s.rows) EXPECT_EQ(row.faintly_down + row.faintly_up, 0u) << swing;
  }
}

TEST(StepsOfALine, AreNotMadeByOneThatIsOpen) {
  const Survey s = survey_of([](int, int, int c) { return c == 4 ? 0.0 : 1.0; });
  for (const LineSteps& column : s.columns) EXPECT_EQ(column.faintly_down + column.faintly_up, 0u);
}

TEST(StepsOfALine, AreNotMadeByFingersThatTapAndHandsThatLie) {
  const Survey taps = survey_of([](int f, int r, int c) {
    return c == 5 && (r == 3 || r == 4) && comes_and_goes(f) ? 0.8 : 1.0;
  });
  const Survey hand = survey_of(
      [](int f, int, int c) { return c >= 5 && c <= 9 && comes_and_goes(f) ? 0.8 : 1.0; });
  for (const Survey* s : {&taps, &hand})
    for (const LineSteps& column : s->columns)
      EXPECT_EQ(column.faintly_down + column.faintly_up, 0u);
}

}  // namespace
}  // namespace bareglass::host
