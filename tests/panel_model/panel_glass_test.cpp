// What things on the glass do to the frames of a quiet panel, against an independent
// three-dimensional field solution (finite volumes, about 1 % after refinement against closed
// forms) of the same stack: bars and stripes, pitch 5 mm, cover 1.1 mm. "Full loss" is what a
// grounded cover takes from a node, 179.5 fF there.
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

constexpr double kFullLoss = 179.5;
constexpr double kTolerance = 0.05 * kFullLoss;  // on nodes' centres

Conductor thing(OutlinePtr outline, field::Point place, double earth_pf) {
  return {std::move(outline), place, earth_pf, 0.0, {}};
}

TEST(PanelWithDiscOfEightMillimetres, ChangesItsNodeAsTheFieldSolutionSays) {
  const OutlinePtr disc = Outline::disc(8.0);
  const struct {
    double earth_pf, expected;
  } cases[] = {{kConnected, -175.0}, {200, -172.0}, {100, -169.0}, {30, -156.2},
               {10, -126.7},         {3, -67.9},    {1, -10.6},    {0, +49.2}};
  for (const auto& c : cases) {
    const NodeMatrix change = reference_glass().change(thing(disc, node_at(6, 5), c.earth_pf));
    EXPECT_NEAR(change(6, 5), c.expected, kTolerance) << "C_b " << c.earth_pf << " pF";
  }
}

TEST(PanelWithDiscOfEightMillimetres, IsFeltByTheNeighbourColumn) {
  const OutlinePtr disc = Outline::disc(8.0);
  const NodeMatrix grounded = reference_glass().change(thing(disc, node_at(6, 5), kConnected));
  const NodeMatrix isolated = reference_glass().change(thing(disc, node_at(6, 5), 0.0));
  EXPECT_NEAR(grounded(6, 6), -62.3, kTolerance);
  EXPECT_NEAR(grounded(6, 7), -3.2, kTolerance);
  EXPECT_NEAR(isolated(6, 6), -9.5, kTolerance);
  EXPECT_NEAR(grounded(6, 4), grounded(6, 6), 0.05);
}

TEST(PanelWithDiscsOfOtherSizes, ChangesItsNodeAsTheFieldSolutionSays) {
  const struct {
    double diameter, grounded, isolated;
  } cases[] = {{6, -164.4, 35.4}, {10, -177.4, 48.0}, {12, -178.3, 48.2}};
  for (const auto& c : cases) {
    const OutlinePtr disc = Outline::disc(c.diameter);
    EXPECT_NEAR(reference_glass().change(thing(disc, node_at(6, 5), kConnected))(6, 5), c.grounded,
                kTolerance)
        << c.diameter << " mm";
    EXPECT_NEAR(reference_glass().change(thing(disc, node_at(6, 5), 0.0))(6, 5), c.isolated,
                kTolerance)
        << c.diameter << " mm";
  }
}

TEST(PanelWithIsolatedStreakAlongTheDiagonal, LosesAlongItAndRisesOffIt) {
  // The field solution does not give the streak's outline; drops on five nodes that a thin line
  // joins meet its numbers.
  std::vector<field::Shape> drops{field::Stroke{{{0, 0}, {20, 20}}, 1.5}};
  for (int k = 0; k <= 4; ++k) drops.push_back(field::Disc{{5.0 * k, 5.0 * k}, 2.8});
  const OutlinePtr streak = std::make_shared<const Outline>(std::move(drops));
  const NodeMatrix change = reference_glass().change(thing(streak, node_at(4, 3), 0.0));
  EXPECT_NEAR(change(4, 3), -112.0, kTolerance);
  EXPECT_NEAR(change(8, 7), -112.0, kTolerance);
  EXPECT_NEAR(change(5, 4), -101.0, kTolerance);
  EXPECT_NEAR(change(6, 5), -101.0, kTolerance);
  EXPECT_NEAR(change(4, 5), 53.5, kTolerance);
  EXPECT_NEAR(change(8, 3), 53.5, kTolerance);
  EXPECT_NEAR(change(4, 7), 53.5, kTolerance);
}

TEST(PanelWithIsolatedEvenStrokeAlongTheDiagonal, LosesLessAlongIt) {
  // A stroke 5 mm wide, from this program's own full solution: -109 at the end, -90 next, -89 in
  // the middle, +55 two columns off.
  const OutlinePtr stroke = Outline::stroke({{0, 0}, {20, 20}}, 5.0);
  const NodeMatrix change = reference_glass().change(thing(stroke, node_at(4, 3), 0.0));
  EXPECT_NEAR(change(4, 3), -109.4, 0.5 * kTolerance);
  EXPECT_NEAR(change(5, 4), -90.3, 0.5 * kTolerance);
  EXPECT_NEAR(change(6, 5), -89.3, 0.5 * kTolerance);
  EXPECT_NEAR(change(4, 5), 54.5, 0.5 * kTolerance);
}

TEST(PanelWithIsolatedL, RisesAtTheCornerAndLosesAlongBothArms) {
  // Arms of four pitches, 5 mm wide.
  const OutlinePtr corner = Outline::stroke({{20, 0}, {0, 0}, {0, 20}}, 5.0);
  const NodeMatrix change = reference_glass().change(thing(corner, node_at(4, 4), 0.0));
  EXPECT_NEAR(change(4, 4), 245.0, kTolerance);
  EXPECT_NEAR(change(4, 8), -58.0, kTolerance);
  EXPECT_NEAR(change(8, 4), -58.0, kTolerance);
  EXPECT_NEAR(change(4, 6), -58.0, kTolerance);
}

TEST(PanelWithIsolatedPlus, RisesInTheMiddleAndLosesAtTheEnds) {
  const OutlinePtr plus = std::make_shared<const Outline>(std::vector<field::Shape>{
      field::Stroke{{{-10, 0}, {10, 0}}, 5.0}, field::Stroke{{{0, -10}, {0, 10}}, 5.0}});
  const NodeMatrix change = reference_glass().change(thing(plus, node_at(6, 5), 0.0));
  EXPECT_NEAR(change(6, 5), 242.0, kTolerance);
  EXPECT_NEAR(change(6, 3), -54.0, kTolerance);
  EXPECT_NEAR(change(8, 5), -54.0, kTolerance);
}

TEST(PanelWithIsolatedStreakAlongOneRow, RisesAlongItAndNowhereElse) {
  const OutlinePtr streak = Outline::stroke({{0, 0}, {25, 0}}, 5.0);
  const NodeMatrix change = reference_glass().change(thing(streak, node_at(6, 3), 0.0));
  for (int c = 4; c <= 7; ++c) EXPECT_NEAR(change(6, c), 18.5, kTolerance);
  for (int c = 0; c < 12; ++c)
    for (const int r : {4, 5, 7, 8}) EXPECT_LT(std::abs(change(r, c)), kTolerance);
}

TEST(PanelWithIsolatedCompactWater, OnlyRises) {
  const NodeMatrix ten =
      reference_glass().change(thing(Outline::rectangle(10, 10), node_at(6, 5), 0.0));
  EXPECT_NEAR(ten(6, 5), 15.0, kTolerance);
  const NodeMatrix twenty =
      reference_glass().change(thing(Outline::rectangle(20, 20), node_at(6, 5), 0.0));
  EXPECT_NEAR(twenty(6, 5), 17.0, kTolerance);
  // So large that it is integrated over the kernels instead of being cut into patches.
  const NodeMatrix whole =
      reference_glass().change(thing(Outline::rectangle(120, 130), node_at(6.5, 5.5), 0.0));
  for (Eigen::Index k = 0; k < whole.size(); ++k) EXPECT_NEAR(whole.data()[k], 18.7, kTolerance);
}

TEST(PanelUnderGroundedCover, LosesTheFullLossEverywhere) {
  const NodeMatrix change =
      reference_glass().change(thing(Outline::rectangle(120, 130), node_at(6.5, 5.5), kConnected));
  for (Eigen::Index k = 0; k < change.size(); ++k)
    EXPECT_NEAR(change.data()[k], -kFullLoss, 0.03 * kFullLoss);
}

TEST(PanelWithWaterAtTheBezel, LosesAFingersWorthOnlyIfTheBezelIsEarthed) {
  // A band over the first row, reaching beyond the last columns. Raw change in per cent; the line
  // table of the same field solution: covered nodes -15.7 % earthed, +1.5 % floating; half covered
  // -8 to -9 %.
  Situation s;
  s.conductors = {{Outline::rectangle(90, 10), node_at(0, 5.5), 0.0, kConnected, {}}};
  const NodeMatrix earthed = reference_glass().percent(s);
  for (int c = 1; c < 11; ++c) EXPECT_NEAR(earthed(0, c), -15.7, 0.8) << "column " << c;
  s.conductors[0].device_pf = 0.0;
  const NodeMatrix floating = reference_glass().percent(s);
  for (int c = 1; c < 11; ++c) EXPECT_NEAR(floating(0, c), 1.5, 0.8) << "column " << c;
  // "Half covered" moves by 1.8 % for every half millimetre that the water's edge lies off the
  // middle of the row, so the table's value must come within 0.7 mm of it.
  const auto half = [&](double edge_mm) {
    Situation band;
    band.conductors.push_back(
        {Outline::rectangle(90, 10), {27.5, edge_mm - 5.0}, 0.0, kConnected, {}});
    const NodeMatrix p = reference_glass().percent(band);
    return p.size() > 5 ? p(0, 5) : 0.0;
  };
  EXPECT_LT(half(0.0), -8.0);
  EXPECT_GT(half(-0.7), -9.0);
}

TEST(PanelOfOtherGlass, ChangesUnderADiscAsTheFieldSolutionSays) {
  const struct {
    double glass_mm, full_loss, grounded, isolated;
  } cases[] = {{0.7, 208.1, -205.2, 108.4}, {2.0, 126.8, -117.2, 11.6}, {3.0, 92.4, -77.7, 3.3}};
  for (const auto& c : cases) {
    QuietPanel panel(c.glass_mm);
    const OutlinePtr disc = Outline::disc(8.0);
    EXPECT_NEAR(panel.change(thing(disc, node_at(6, 5), kConnected))(6, 5), c.grounded,
                0.05 * c.full_loss)
        << c.glass_mm << " mm";
    EXPECT_NEAR(panel.change(thing(disc, node_at(6, 5), 0.0))(6, 5), c.isolated, 0.05 * c.full_loss)
        << c.glass_mm << " mm";
  }
}

TEST(PanelWithMovingDisc, ChangesSmoothlyAndAlikeInEveryPitch) {
  const OutlinePtr disc = Outline::disc(8.0);
  double before = 0.0;
  for (int k = 0; k <= 200; ++k) {
    const double x = 25.0 + 0.025 * k;  // from one column to the next
    const NodeMatrix change = reference_glass().change(thing(disc, {x, 30.0}, 100.0));
    const NodeMatrix next = reference_glass().change(thing(disc, {x + kPitch, 35.0}, 100.0));
    EXPECT_NEAR(change(6, 5), next(7, 6), 0.06) << "at " << x;
    // 175 fF over 5 mm, steepest about 60 fF/mm.
    if (k > 0) {
      EXPECT_NEAR(change(6, 5), before, 2.5) << "at " << x;
    }
    before = change(6, 5);
  }
}

TEST(PanelWithDiscHalfAPitchOff, ChangesItsNodeAsTheFieldSolutionSays) {
  // Half way to the next column: grounded -158.0, isolated +11.7.
  const OutlinePtr disc = Outline::disc(8.0);
  const field::Point off{27.5, 30.0};
  EXPECT_NEAR(reference_glass().change(thing(disc, off, kConnected))(6, 5), -158.0, kTolerance);
  EXPECT_NEAR(reference_glass().change(thing(disc, off, 0.0))(6, 5), 11.7, kTolerance);
}

}  // namespace
}  // namespace bareglass::test
