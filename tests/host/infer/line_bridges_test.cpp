// How long two lines must read the same to be called bridged, on accounts written by hand.
#include <gtest/gtest.h>

#include <algorithm>

#include "../../../lib/host/infer/src/line_survey.hpp"
#include "scene_data.hpp"

namespace bareglass::host {
namespace {

constexpr int kWindows = 16;

class PairOfRows : public ::testing::Test {
 protected:
  /// Whether rows 6 and 7, which from window `from` until `until` both read `each` times their sum,
  /// are named.
  bool named(int from, int until, float each = 0.5f) {
    ScenePlan plan;
    plan.windows = kWindows;
    Account account = account_of(plan);
    const auto cols = static_cast<std::size_t>(plan.shape.cols);
    for (int k = from; k < until; ++k) {
      std::vector<float>& mean = account.survey.windows[static_cast<std::size_t>(k)].mean;
      for (std::size_t c = 0; c < cols; ++c) {
        float& a = mean[6 * cols + c];
        float& b = mean[7 * cols + c];
        a = b = each * (a + b);
      }
    }
    Reading reading(account);
    const std::vector<LineGroup> groups = find_line_groups(reading, account);
    return std::any_of(groups.begin(), groups.end(), [](const LineGroup& g) {
      return g.cause == Cause::bridged_lines && g.lines.of_rows && g.lines.first == 6;
    });
  }
};

TEST_F(PairOfRows, ThatReadsTheSameFromAMomentOnIsBridged) {
  EXPECT_TRUE(named(0, kWindows));
  EXPECT_TRUE(named(8, kWindows));
}

// Driven as one, each reads the charge of both; that is less than twice as much where the converter
// counts from some thousand on.
TEST_F(PairOfRows, ThatReadsItsSumIsBridged) {
  EXPECT_TRUE(named(0, kWindows, 1.f));
  EXPECT_TRUE(named(0, kWindows, 0.7f));
}

// A finger's skirt may cancel what the two lines differ by: what it does shows in parts of the dump
// that share its windows, and in no others.
TEST_F(PairOfRows, MustDoSoInPartsOfTheDumpThatShareNoWindow) {
  EXPECT_FALSE(named(kWindows - 4, kWindows));
  EXPECT_TRUE(named(kWindows - 6, kWindows));
}

TEST_F(PairOfRows, ThatComesApartAgainIsNotBridged) { EXPECT_FALSE(named(2, 8)); }

}  // namespace
}  // namespace bareglass::host
