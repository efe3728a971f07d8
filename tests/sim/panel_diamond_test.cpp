// The simulated panel on diamonds: the same physics on another pattern.
#include <gtest/gtest.h>

#include <algorithm>

#include "bareglass/core/journal.hpp"
#include "bareglass/panel/player.hpp"
#include "support/quiet_panel.hpp"

namespace bareglass::test {
namespace {

using panel::kConnected;
using panel::NodeMatrix;
using panel::Outline;
using panel::Situation;

const std::string kPanelFile = BAREGLASS_SOURCE_DIR "/fixtures/panels/diamond_1_1.toml";

class PanelOfDiamonds : public ::testing::Test {
 protected:
  NodeMatrix change(const panel::Conductor& thing) {
    panel::GlassResponse response;
    glass_.respond(response, {thing}, {}, kConnected);
    return response.change;
  }
  const field::PanelSpec spec_ = field::load_panel(kPanelFile);
  panel::GlassModel glass_{spec_, panel::kernels_of(spec_, kPanelFile), {14, 12}};
};

TEST_F(PanelOfDiamonds, LosesTheFullLossUnderAGroundedCoverAndRisesUnderAnIsolatedOne) {
  const NodeMatrix grounded =
      change({Outline::rectangle(120, 130), node_at(6.5, 5.5), kConnected, 0.0, {}});
  const double full_loss = glass_.numbers().full_loss;
  for (Eigen::Index k = 0; k < grounded.size(); ++k)
    EXPECT_NEAR(grounded.data()[k], -full_loss, 0.03 * full_loss);
  const NodeMatrix isolated = change({Outline::rectangle(120, 130), node_at(6.5, 5.5), 0, 0, {}});
  EXPECT_GT(isolated.minCoeff(), 0.0);
}

TEST_F(PanelOfDiamonds, FeelsAFingerAlikeAlongRowsAndColumns) {
  const NodeMatrix touch = change({Outline::disc(8.0), node_at(6, 5), 150.0, 0.0, {}});
  Eigen::Index row = 0;
  Eigen::Index column = 0;
  touch.minCoeff(&row, &column);
  EXPECT_EQ(row, 6);
  EXPECT_EQ(column, 5);
  EXPECT_NEAR(touch(6, 4), touch(6, 6), 0.1);
  EXPECT_NEAR(touch(5, 5), touch(7, 5), 0.1);
  EXPECT_NEAR(touch(6, 6), touch(7, 5), 0.02 * glass_.numbers().full_loss);
}

TEST_F(PanelOfDiamonds, KeepsTheDiagonalStreaksGhosts) {
  const NodeMatrix streak =
      change({Outline::stroke({{0, 0}, {20, 20}}, 5.0), node_at(4, 3), 0.0, 0.0, {}});
  EXPECT_LT(streak(4, 3), -50.0);
  EXPECT_LT(streak(8, 7), -50.0);
  EXPECT_GT(streak(4, 7), 30.0);
  EXPECT_GT(streak(8, 3), 30.0);
}

TEST_F(PanelOfDiamonds, RaisesItsNodesUnderAFilm) {
  EXPECT_GT(glass_.film_change(100.0, 20.0), 1.0);
  EXPECT_LT(glass_.film_change(100.0, 20.0), 20.0);
}

TEST(LinesOfDiamonds, LoseTheFarPartOfACutRow) {
  const field::PanelSpec spec = field::load_panel(kPanelFile);
  panel::SimulatedPanel p(spec, panel::kernels_of(spec, kPanelFile), quiet_setup());
  std::vector<std::uint16_t> counts;
  Situation s;
  s.faults = {{panel::LineFault::Kind::cut, true, 6, 6, 5, 0.0, 0.0, 0.0}};
  p.scan(counts, s, 20000);
  const std::vector<std::uint16_t> bare = p.reference();
  EXPECT_NEAR(counts[6 * 12 + 2], bare[6 * 12 + 2], 0.01 * bare[0]);
  EXPECT_LT(counts[6 * 12 + 9], 0.02 * bare[0]);
}

/// Plays a story on the diamond panel; the codes of its journal.
std::vector<JournalCode> journal_of(const std::string& rest) {
  const std::string text = R"(story = "A finger on a panel of diamonds."
unit = "bay1-pump-09"
seed = 31
duration_s = 4.0
policy = "lock"
[panel]
file = "../panels/diamond_1_1.toml"
rows = 16
columns = 10
frame_period_ms = 20
)" + rest;
  std::vector<JournalCode> out;
  const panel::Scenario scenario =
      panel::parse_scenario(text, BAREGLASS_SOURCE_DIR "/fixtures/scenarios/case.toml");
  panel::play(scenario, [&](const host::Record& r) {
    if (const auto* entry = std::get_if<host::JournalRecord>(&r)) out.push_back(entry->code);
  });
  return out;
}

bool has(const std::vector<JournalCode>& codes, JournalCode code) {
  return std::find(codes.begin(), codes.end(), code) != codes.end();
}

TEST(ScenarioOnDiamonds, StartsWithBareGlassAndNotWithAFingerOnIt) {
  const std::vector<JournalCode> bare = journal_of("");
  EXPECT_TRUE(has(bare, JournalCode::input_on));
  EXPECT_FALSE(has(bare, JournalCode::glass_not_bare));
  const std::vector<JournalCode> touched = journal_of(R"([[thing]]
name = "finger"
kind = "conductor"
shape = "disc"
diameter_mm = 9
at_mm = [19.5, 31]
earth_pf = 150
from_s = 0
until_s = 3.0
)");
  EXPECT_TRUE(has(touched, JournalCode::glass_not_bare));
  EXPECT_FALSE(has(touched, JournalCode::input_on));
}

}  // namespace
}  // namespace bareglass::test
