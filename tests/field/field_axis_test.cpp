#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <stdexcept>

#include "bareglass/field/axis.hpp"
#include "bareglass/field/footprint.hpp"

namespace bareglass::field {
namespace {

TEST(GradedAxis, RunsThroughEveryMark) {
  const Axis axis = graded_axis({{0, 0.1}, {1.7, 0.05}, {5, 0}, {2.0, 0}}, {0.2, 0.5});
  for (const double mark : {0.0, 1.7, 2.0, 5.0})
    EXPECT_NEAR(axis.line(axis.nearest(mark)), mark, 1e-12);
  EXPECT_TRUE(std::is_sorted(axis.at.begin(), axis.at.end()));
}

TEST(GradedAxis, CellsAreAsFineAsAskedAtTheMarkAndGrowAwayFromIt) {
  const Axis axis = graded_axis({{0, 0.1}, {10, 0}}, {0.2, 0.5});
  EXPECT_LE(axis.cell(0), 0.115);
  for (int i = 0; i + 1 < axis.size(); ++i) EXPECT_LE(axis.cell(i), 0.5001);
  for (int i = 1; i + 1 < axis.size(); ++i) EXPECT_LE(axis.cell(i), 1.25 * axis.cell(i - 1));
  EXPECT_GT(axis.cell(axis.size() - 2), 0.4);
}

TEST(GradedAxis, ZonesRefineWithoutForcingALine) {
  Grading grading{0.2, 0.5};
  grading.zones.push_back({4.0, 5.0, 0.1});
  const Axis axis = graded_axis({{0, 0}, {10, 0}}, grading);
  EXPECT_LE(axis.cell(axis.nearest(4.5)), 0.11);
  EXPECT_GT(axis.cell(axis.nearest(9.0)), 0.3);
}

TEST(GradedAxis, SharesOfAllLinesAddUpToTheLength) {
  const Axis axis = graded_axis({{-1, 0.03}, {4, 0.2}}, {0.3, 1.0});
  double sum = 0.0;
  for (int i = 0; i < axis.size(); ++i) sum += axis.share(i);
  EXPECT_NEAR(sum, 5.0, 1e-12);
}

TEST(GradedAxis, RefusesWhatGivesNoGrid) {
  EXPECT_THROW(graded_axis({{1, 0.1}}, {0.2, 1.0}), std::invalid_argument);
  EXPECT_THROW(graded_axis({{1, 0.1}, {1, 0.2}}, {0.2, 1.0}), std::invalid_argument);
  EXPECT_THROW(graded_axis({{0, 0}, {1, 0}}, {}), std::invalid_argument);
}

TEST(FootprintDistance, IsNegativeInsideAndMetricOutside) {
  EXPECT_NEAR(Footprint::disc({1, 2}, 8).distance({1, 2}), -4.0, 1e-12);
  EXPECT_NEAR(Footprint::disc({1, 2}, 8).distance({1, 8}), 2.0, 1e-12);
  const Footprint box = Footprint::rectangle({0, 0}, 4, 2);
  EXPECT_NEAR(box.distance({0, 0}), -1.0, 1e-12);
  EXPECT_NEAR(box.distance({5, 5}), 5.0, 1e-12);  // 3-4-5 from the corner (2, 1)
  const Footprint stroke = Footprint::stroke({{0, 0}, {10, 0}}, 3);
  EXPECT_NEAR(stroke.distance({5, 1}), -0.5, 1e-12);
  EXPECT_NEAR(stroke.distance({13, 4}), 3.5, 1e-12);
}

TEST(FootprintDistance, OfAUnionIsTheNearestPartAndMovesAlong) {
  const Footprint two({Disc{{0, 0}, 1}, Disc{{10, 0}, 1}});
  EXPECT_NEAR(two.distance({8, 0}), 1.0, 1e-12);
  EXPECT_NEAR(two.moved({1, 0}).distance({8, 0}), 2.0, 1e-12);
  const Box box = two.moved({1, 2}).bounds();
  EXPECT_NEAR(box.x_low, 0.0, 1e-12);
  EXPECT_NEAR(box.x_high, 12.0, 1e-12);
  EXPECT_NEAR(box.y_low, 1.0, 1e-12);
}

TEST(FootprintDistance, OfAConcavePolygonFollowsTheEvenOddRule) {
  const Footprint ell({Polygon{{{0, 0}, {4, 0}, {4, 1}, {1, 1}, {1, 4}, {0, 4}}}});
  EXPECT_LT(ell.distance({0.5, 3}), 0.0);
  EXPECT_NEAR(ell.distance({2, 2}), 1.0, 1e-12);
}

}  // namespace
}  // namespace bareglass::field
