// Full solutions of isolated conductors that span rows and columns: the false touches.
#include <gtest/gtest.h>

#include <cmath>

#include "bareglass/field/panel_window.hpp"
#include "sim/field_reference.hpp"

namespace bareglass::field {
namespace {

using testing::agree;

/// Large windows on a mesh twice as coarse; against the default mesh, a 4 mm diagonal stroke
/// changes by at most 0.6 fF (measured).
Mesh coarse() {
  Mesh mesh;
  mesh.edge_mm = 0.09;
  mesh.bulk_mm = 0.5;
  mesh.growth = 0.3;
  mesh.object_mm = 0.35;
  return mesh;
}

ObjectSolution solve(const Footprint& object, Span columns, Span rows,
                     const std::vector<int>& driven) {
  Scene scene;
  scene.object = object;
  return solve_object(PanelWindow(reference_panel(), columns, rows, coarse(), scene), driven);
}

constexpr double kIsolated = 0.0;

TEST(DiagonalStreakOverFiveNodes, FalselyTouchesAlongItAndRisesOffIt) {
  // The reference does not give the streak's outline: five drops of 5.6 mm on the nodes joined by
  // 1.5 mm of wet line meet its numbers; an even stroke of 5 mm gives -109 and -90.
  std::vector<Shape> drops{Stroke{{{-10, -10}, {10, 10}}, 1.5}};
  for (int k = -2; k <= 2; ++k) drops.push_back(Disc{{5.0 * k, 5.0 * k}, 2.8});
  const Span wide{-4.5, 4.5, false};
  const ObjectSolution s = solve(Footprint(drops), wide, wide, {-2, -1, 0});
  agree("diagonal: end", -112, s.change(-2, -2, kIsolated));
  agree("diagonal: next", -101, s.change(-1, -1, kIsolated));
  agree("diagonal: middle", -101, s.change(0, 0, kIsolated));
  // Off it, "+50 to +57": nodes whose row and column both cross it, away from the diagonal.
  for (const auto& [row, column] : {std::pair{-2, 0}, {-2, 1}, {-2, 2}, {-1, 1}, {-1, 2}, {0, 2}}) {
    const double rise = s.change(row, column, kIsolated);
    std::printf("diagonal: off it (%d, %d) %.1f\n", row, column, rise);
    EXPECT_GT(rise, 50 * 0.97) << row << ' ' << column;
    EXPECT_LT(rise, 57 * 1.03) << row << ' ' << column;
  }
}

TEST(EllOfFourNodeArms, RisesAtTheCornerAndFalselyTouchesAlongBothArms) {
  // Arms of four pitches, 5 mm wide.
  const ObjectSolution s = solve(Footprint::stroke({{20, 0}, {0, 0}, {0, 20}}, 5.0),
                                 {-2.5, 6.5, false}, {-2.5, 6.5, false}, {0, 3, 4});
  agree("L: corner", 245, s.change(0, 0, kIsolated));
  for (const int k : {2, 3, 4}) agree("L: along the row", -58, s.change(0, k, kIsolated));
  // The reference has one number for both arms; up the column the nodes go from -53 to -59.
  for (const int k : {3, 4}) agree("L: along the column", -58, s.change(k, 0, kIsolated), 4.0);
}

TEST(PlusOverFiveNodes, RisesInTheCentreAndFalselyTouchesAtItsEnds) {
  // Arms of two pitches either way, 5 mm wide.
  const Footprint plus({Stroke{{{-10, 0}, {10, 0}}, 5.0}, Stroke{{{0, -10}, {0, 10}}, 5.0}});
  const ObjectSolution s = solve(plus, {0, 4.5, true}, {0, 4.5, true}, {0, 2});
  agree("plus: centre", 242, s.change(0, 0, kIsolated));
  agree("plus: end of the row", -53, s.change(0, 2, kIsolated));
  agree("plus: end of the column", -55, s.change(2, 0, kIsolated));
}

TEST(StreakAlongOneRow, OnlyRises) {
  const ObjectSolution s =
      solve(Footprint::stroke({{-10, 0}, {10, 0}}, 5.0), {0, 4.5, true}, {0, 4.5, true}, {0, 1, 2});
  agree("row streak: middle", 18.5, s.change(0, 0, kIsolated), 1.0);
  agree("row streak: next", 18.5, s.change(0, 1, kIsolated), 1.0);
  for (int row = 1; row <= 2; ++row)
    for (int column = 0; column <= 3; ++column)
      EXPECT_LT(std::abs(s.change(row, column, kIsolated)), 3.5) << row << ' ' << column;
}

TEST(CompactPatches, OnlyRiseInTheMiddle) {
  Scene whole;
  whole.covered = true;
  const ObjectSolution everything =
      solve_object(PanelWindow(reference_panel(), {0, 3.5, true}, {0, 3.5, true}, {}, whole), {0});
  agree("whole panel", 18.7, everything.change(0, 0, kIsolated));
  const Span span{0, 5.5, true};
  agree("10 mm square", 15.0,
        solve(Footprint::rectangle({0, 0}, 10, 10), span, span, {0}).change(0, 0, kIsolated), 0.6);
  agree("20 mm square", 17.0,
        solve(Footprint::rectangle({0, 0}, 20, 20), span, span, {0}).change(0, 0, kIsolated), 0.7);
}

TEST(CoinOf24Millimetres, RisesInTheMiddleAndFalselyTouchesAtItsEdge) {
  const Span span{0, 5.5, true};
  const ObjectSolution s = solve(Footprint::disc({0, 0}, 24), span, span, {0, 1, 2});
  agree("24 mm coin: middle", 66, s.change(0, 0, kIsolated));
  agree("24 mm coin: edge node of the row", -25, s.change(0, 2, kIsolated), 1.0);
}

}  // namespace
}  // namespace bareglass::field
