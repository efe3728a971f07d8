// What must hold for diamonds whatever their numbers; on a coarse mesh.
#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>

#include "bareglass/field/diamond_window.hpp"
#include "bareglass/field/panel_window.hpp"

namespace bareglass::field {
namespace {

Mesh coarse() {
  Mesh mesh;
  mesh.edge_mm = 0.12;
  mesh.bulk_mm = 0.9;
  mesh.growth = 0.6;
  mesh.object_mm = 0.5;
  return mesh;
}

class WindowOfDiamondsWithMetal : public ::testing::Test {
 protected:
  static Scene scene() {
    Scene s;
    s.object = Footprint::disc({1.0, -0.6}, 8.0);
    return s;
  }
  const DiamondWindow window_{diamond_panel(), coarse(), scene(), 2};
};

TEST_F(WindowOfDiamondsWithMetal, ChargesOfAllConductorsDisplayAndSurroundingsAddUpToNothing) {
  for (int driven = 0; driven < window_.conductor_count(); ++driven) {
    const LayeredSolution solution = window_.field(driven);
    const double sum = solution.conductor.sum() + window_.solver().ground_charge(solution);
    EXPECT_NEAR(sum, 0.0, 1e-6 * solution.conductor(driven)) << driven;
  }
}

TEST_F(WindowOfDiamondsWithMetal, ChargesAreReciprocal) {
  std::vector<Eigen::VectorXd> charge;
  for (int driven = 0; driven < window_.conductor_count(); ++driven)
    charge.push_back(window_.drive(driven));
  for (int a = 0; a < window_.conductor_count(); ++a) {
    const Eigen::VectorXd& mine = charge[static_cast<std::size_t>(a)];
    EXPECT_GT(mine(a), 0.0) << a;
    for (int b = 0; b < window_.conductor_count(); ++b)
      EXPECT_NEAR(mine(b), charge[static_cast<std::size_t>(b)](a), 1e-6 * mine(a)) << a << ' ' << b;
  }
}

TEST(WindowOfDiamondsWithoutNecks, LooksTheSameWithRowsAndColumnsExchanged) {
  PanelSpec panel = diamond_panel();
  panel.diamonds->neck_mm = 0.0;
  const DiamondWindow window(panel, coarse(), {}, 2);
  const Eigen::VectorXd row = window.drive(window.row_id(0));
  const Eigen::VectorXd column = window.drive(window.column_id(0));
  for (int line = -2; line <= 2; ++line) {
    EXPECT_NEAR(row(window.row_id(line)), column(window.column_id(line)), 1e-6 * row.maxCoeff());
    EXPECT_NEAR(row(window.column_id(line)), column(window.row_id(line)), 1e-6 * row.maxCoeff());
    // .. and upside down.
    EXPECT_NEAR(row(window.row_id(line)), row(window.row_id(-line)), 1e-6 * row.maxCoeff());
  }
}

TEST(WindowOfDiamonds, HasNecksInItsRowsOnly) {
  const DiamondWindow window(diamond_panel(), coarse(), {}, 2);
  int on_neck = 0;
  for (int j = 0; j < window.solver().domain().y.size(); ++j) {
    for (int i = 0; i < window.solver().domain().x.size(); ++i) {
      const Point p = window.place(i, j);
      const int label = window.labels()(i, j);
      // The crossing of row 0 and column 0, and a place where four diamonds meet without one.
      if (std::hypot(p.x, p.y) < 0.12) {
        EXPECT_EQ(label, window.row_id(0)) << p.x << ' ' << p.y;
        ++on_neck;
      }
      const auto near = [&](double x, double y, double reach) {
        return std::hypot(p.x - x, p.y - y) < reach;
      };
      if (near(2.5, 2.5, 0.1)) {
        EXPECT_EQ(label, kBare);
      }
      if (near(2.5, 0.0, 1.0)) {
        EXPECT_EQ(label, window.row_id(0));
      }
      if (near(0.0, 2.5, 1.0)) {
        EXPECT_EQ(label, window.column_id(0));
      }
      if (near(2.5, -5.0, 1.0)) {
        EXPECT_EQ(label, window.row_id(-1));
      }
      if (near(-5.0, 2.5, 1.0)) {
        EXPECT_EQ(label, window.column_id(-1));
      }
    }
  }
  EXPECT_GT(on_neck, 0);
}

TEST(WindowOfDiamonds, TakesFieldsApartAndPutsThemTogetherAgain) {
  const DiamondWindow window(diamond_panel(), coarse(), {}, 2);
  Eigen::MatrixXd plane(window.solver().domain().x.size(), window.solver().domain().y.size());
  for (int j = 0; j < plane.cols(); ++j)
    for (int i = 0; i < plane.rows(); ++i)
      plane(i, j) = 3.0 * window.place(i, j).x - 2.0 * window.place(i, j).y + 1.0;
  EXPECT_NEAR(window.at(plane, {1.3, -2.1}), 3.0 * 1.3 + 2.0 * 2.1 + 1.0, 1e-9);
}

TEST(Windows, RefusePanelsOfAnotherPattern) {
  EXPECT_THROW(DiamondWindow(reference_panel(), coarse()), std::invalid_argument);
  EXPECT_THROW(PanelWindow(diamond_panel(), {0, 1, true}, {0, 1, true}, coarse()),
               std::invalid_argument);
  EXPECT_THROW(DiamondWindow(diamond_panel(), coarse(), {}, 1), std::invalid_argument);
}

TEST(SquaresPerCrossing, OfADiamondGrowWithANarrowerNeck) {
  PanelSpec panel = diamond_panel();
  const double usual = panel.squares_per_crossing(true);
  // A diamond of 4.72 mm and a neck of 0.3 mm: ln(4.72 / 0.3) = 2.755, and 0.583 mm of neck.
  EXPECT_NEAR(usual, 2.755 + 0.583 / 0.3, 0.005);
  panel.diamonds->neck_mm = 0.15;
  EXPECT_GT(panel.squares_per_crossing(true), usual);
  EXPECT_NEAR(reference_panel().squares_per_crossing(false), 5.0, 1e-12);
}

}  // namespace
}  // namespace bareglass::field
