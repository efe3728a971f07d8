// Several conductors and the device's own way to earth: one network.
#include <gtest/gtest.h>

#include "support/quiet_panel.hpp"

namespace bareglass::test {
namespace {

using panel::Conductor;
using panel::kConnected;
using panel::NodeMatrix;
using panel::Outline;
using panel::OutlinePtr;
using panel::Situation;

TEST(PanelOnAFloatingDevice, LosesMostOfAFingersSignal) {
  // C_b in series with the device's own path to earth. Field solution of an 8 mm disc: C_b 3 pF
  // leaves 67.9 of 175.0 fF, 39 %.
  const OutlinePtr disc = Outline::disc(8.0);
  const double earthed = reference_glass().change({disc, node_at(6, 5), kConnected, 0.0, {}})(6, 5);
  const double body = 100.0;
  // A path of 3 pF in all: 1 / (1/100 + 1/x) = 3.
  const double device = 1.0 / (1.0 / 3.0 - 1.0 / body);
  const double floating =
      reference_glass().change({disc, node_at(6, 5), body, 0.0, {}}, device)(6, 5);
  EXPECT_NEAR(floating / earthed, 0.39, 0.03);
}

TEST(PanelOnAFloatingDevice, PassesSignalsBetweenTwoFingers) {
  // Both hang on the same earth, so where one's row crosses the other's column the node rises:
  // by C_TF C_FR K^-1, worked out here for two equal fingers.
  const OutlinePtr disc = Outline::disc(8.0);
  Situation s;
  s.conductors = {{disc, node_at(3, 2), 100.0, 0.0, {}}, {disc, node_at(9, 8), 100.0, 0.0, {}}};
  s.device.earth_pf = 3.0;
  const NodeMatrix change = reference_glass().change(s);
  // C_TF 1102, C_FR 558, C_FF 2746 fF from the field solution. With F the finger, E earth:
  // the two share E, K = [[a, 0, -b], [0, a, -b], [-b, -b, d]], a = 102.746, b = 100, d = 203 pF.
  const double a = 102.746;
  const double b = 100.0;
  const double d = 203.0;
  const double off_diagonal = b * b / (a * (a * d - 2.0 * b * b));  // of K^-1, 1/pF
  const double ghost = 1.102 * 0.558 * off_diagonal * 1000.0;       // fF
  EXPECT_NEAR(change(3, 8), ghost, 0.1 * ghost);
  EXPECT_NEAR(change(9, 2), ghost, 0.1 * ghost);
  s.device.earth_pf = kConnected;
  EXPECT_NEAR(reference_glass().change(s)(3, 8), 0.0, 0.1);
}

TEST(PanelWithTwoStreaks, TakesThemAsOneConductorWhereTheyOverlap) {
  const OutlinePtr across = Outline::stroke({{0, 0}, {20, 0}}, 5.0);
  const OutlinePtr down = Outline::stroke({{0, 0}, {0, 20}}, 5.0);
  const OutlinePtr both = Outline::stroke({{20, 0}, {0, 0}, {0, 20}}, 5.0);
  Situation s;
  s.conductors = {{across, node_at(4, 4), 0.0, 0.0, {}}, {down, node_at(4, 4), 0.0, 0.0, {}}};
  const NodeMatrix two = reference_glass().change(s);
  const NodeMatrix one = reference_glass().change({both, node_at(4, 4), 0.0, 0.0, {}});
  EXPECT_LT((two - one).cwiseAbs().maxCoeff(), 3.0);  // fF; of 245
}

TEST(PanelWithFingerInAPuddle, GroundsAllOfThePuddle) {
  const OutlinePtr puddle = Outline::rectangle(25, 25);
  const OutlinePtr finger = Outline::disc(8.0);
  Situation s;
  s.conductors = {{puddle, node_at(6, 5), 0.0, 0.0, {}}, {finger, node_at(7, 5), 100.0, 0.0, {}}};
  const NodeMatrix touched = reference_glass().change(s);
  const NodeMatrix grounded = reference_glass().change({puddle, node_at(6, 5), 100.0, 0.0, {}});
  EXPECT_LT((touched - grounded).cwiseAbs().maxCoeff(), 1e-9);
  EXPECT_LT(touched(5, 4), -100.0);
}

TEST(PanelWithDropBesideAStreak, CouplesThemALittleBeforeTheyTouch) {
  const OutlinePtr streak = Outline::stroke({{0, 0}, {20, 20}}, 5.0);
  const OutlinePtr drop = Outline::disc(8.0);
  Situation s;
  // The drop comes up along the streak's own direction to its far end, at (7, 7). What it takes
  // over shows where the streak's first row crosses the drop's columns.
  const auto ghost_at = [&](double gap_mm, double drops_earth_pf) {
    const double out = (2.5 + 4.0 + gap_mm) / std::sqrt(2.0);
    s.conductors = {{streak, node_at(3, 3), 0.0, 0.0, {}},
                    {drop, {35.0 + out, 35.0 + out}, drops_earth_pf, 0.0, {}}};
    const NodeMatrix change = reference_glass().change(s);
    return change.size() > 0 ? change(3, 8) : 0.0;
  };
  const double far = ghost_at(3.5, 0.0);
  const double near = ghost_at(0.3, 0.0);
  EXPECT_GT(near, far + 0.5);
  EXPECT_LT(near, far + 5.0);                  // fF: all that the gap's charge can do
  EXPECT_GT(ghost_at(-1.0, 0.0), far + 15.0);  // one conductor
  // A grounded one takes none over, and screens the streak a little.
  EXPECT_LT(ghost_at(0.3, kConnected), far);
  EXPECT_GT(ghost_at(0.3, kConnected), far - 3.0);
}

TEST(PanelWithConductorOnASpacer, FeelsItAsThroughThickerGlass) {
  // 0.1 mm of dry paper, eps_r 3, counts as 0.1 * 7 / 3 mm more glass. Against a full solution of
  // the stack with the paper as a layer of its own.
  field::PanelSpec layered = field::reference_panel(1.1);
  layered.layers.insert(layered.layers.begin(), {"paper", 0.1, 3.0});
  ++layered.rows.under;
  ++layered.columns.under;
  const double loss = field::solve_numbers(layered).full_loss;
  panel::Spacer paper{100.0, 3.0};
  const NodeMatrix change = reference_glass().change(
      {Outline::rectangle(120, 130), node_at(6.5, 5.5), kConnected, 0.0, paper});
  EXPECT_NEAR(change(6, 5), -loss, 0.03 * loss);
  EXPECT_GT(change(6, 5), -0.95 * 179.5);  // weaker than on the bare glass
}

TEST(PanelWithManyThings, GivesTheSameAnswerInAnyOrder) {
  Situation s;
  s.conductors = {{Outline::disc(8.0), node_at(3, 2), 100.0, 0.0, {}},
                  {Outline::stroke({{0, 0}, {12, 12}}, 4.0), node_at(8, 5), 0.0, 0.0, {}},
                  {Outline::disc(6.0), node_at(11, 2), 0.0, 0.0, {}}};
  s.device.earth_pf = 20.0;
  const NodeMatrix forward = reference_glass().change(s);
  std::swap(s.conductors[0], s.conductors[2]);
  EXPECT_LT((forward - reference_glass().change(s)).cwiseAbs().maxCoeff(), 0.05);
}

}  // namespace
}  // namespace bareglass::test
