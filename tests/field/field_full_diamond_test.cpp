// Full solutions of the diamond panel: refinement, its kernels, and the fast model on it.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "bareglass/field/diamond_window.hpp"
#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/surface_model.hpp"

namespace bareglass::field {
namespace {

const std::string kShipped = BAREGLASS_SOURCE_DIR "/fixtures/panels/diamond_1_1";

TEST(DiamondPanel, ShipsWithTheKernelsOfThisSolver) {
  const SurfaceKernels solved = solve_kernels(load_panel(kShipped + ".toml"));
  const SurfaceKernels file = load_kernels(kShipped + ".kernels");
  EXPECT_NEAR(file.numbers.node / solved.numbers.node, 1.0, 1e-6);
  EXPECT_NEAR(file.numbers.cover_per_mm2 / solved.numbers.cover_per_mm2, 1.0, 1e-6);
  const PanelNumbers& n = solved.numbers;
  EXPECT_NEAR(n.loss_by_row / n.full_loss, 1.0, 1e-6);
  EXPECT_NEAR(n.loss_by_column / n.full_loss, 1.0, 1e-6);
  // Rows and columns differ in their necks alone.
  EXPECT_NEAR(n.row_self / n.column_self, 1.0, 0.01);
  EXPECT_NEAR(n.row_to_row / n.column_to_column, 1.0, 0.03);
  // Not separable: one product misses a good part of each field, a few together do not.
  EXPECT_GT(solved.loss.one_term_residual, 0.10);
  for (const Kernel* k :
       {&solved.q_row, &solved.q_column, &solved.phi_row, &solved.phi_column, &solved.loss}) {
    std::printf("terms %zu, one misses %.2f %%, all miss %.2f %%\n", k->terms.size(),
                100 * k->one_term_residual, 100 * k->residual);
    EXPECT_LT(k->residual, 0.004);
    EXPECT_GT(k->terms.size(), 1u);
  }
}

TEST(DiamondPanel, MovesLittleUnderRefinement) {
  const Mesh fine;
  const PanelNumbers a = solve_numbers(diamond_panel(), fine.finer(0.5));
  const PanelNumbers b = solve_numbers(diamond_panel(), fine);
  EXPECT_NEAR(a.node / b.node, 1.0, 0.005);
  EXPECT_NEAR(a.full_loss / b.full_loss, 1.0, 0.003);
  EXPECT_NEAR(a.row_to_row / b.row_to_row, 1.0, 0.02);
  EXPECT_NEAR(a.row_self / b.row_self, 1.0, 0.005);
  EXPECT_NEAR(a.cover_per_mm2 / b.cover_per_mm2, 1.0, 0.003);
}

TEST(DiamondPanel, DependsLittleOnHowMuchOfItIsSeen) {
  Mesh mesh;
  mesh.edge_mm = 0.08;
  mesh.bulk_mm = 0.6;
  mesh.growth = 0.3;
  const DiamondWindow small(diamond_panel(), mesh, {}, 3);
  const DiamondWindow large(diamond_panel(), mesh, {}, 6);
  const double a = -small.drive(small.row_id(0))(small.column_id(0));
  const double b = -large.drive(large.row_id(0))(large.column_id(0));
  EXPECT_NEAR(a / b, 1.0, 0.003);
}

struct Thing {
  const char* name;
  Footprint footprint;
};

class ThingOnDiamonds : public ::testing::TestWithParam<int> {};

const Thing& thing(int k) {
  static const Thing things[] = {
      {"8 mm disc on a node", Footprint::disc({0, 0}, 8)},
      {"8 mm disc between columns", Footprint::disc({2.5, 0}, 8)},
      {"6 mm disc between four nodes", Footprint::disc({2.5, 2.5}, 6)},
      {"streak along a row", Footprint::stroke({{-5, 0}, {10, 0}}, 5)},
      {"diagonal streak", Footprint::stroke({{-5, -5}, {5, 5}}, 4)},
  };
  return things[k];
}

TEST_P(ThingOnDiamonds, ChangesNodesInTheFastModelAsInTheFullSolution) {
  const Thing& t = thing(GetParam());
  Mesh mesh;
  mesh.edge_mm = 0.06;
  mesh.bulk_mm = 0.4;
  mesh.growth = 0.25;
  mesh.object_mm = 0.12;  // the outline crosses the grid
  Scene scene;
  scene.object = t.footprint;
  const ObjectSolution full = solve_object(DiamondWindow(diamond_panel(), mesh, scene), {-1, 0, 1});
  const SurfaceModel model(load_kernels(kShipped + ".kernels"));
  const double full_loss = model.kernels().numbers.full_loss;
  const Coupling fast = model.couple(t.footprint.moved({100, 100}), {41, 41});
  double worst = 0.0;
  for (const double to_ground : {static_cast<double>(INFINITY), 0.0})
    for (int row = -1; row <= 1; ++row)
      for (int column = -1; column <= 1; ++column)
        worst = std::max(worst, std::abs(fast.change(row + 20, column + 20, to_ground) -
                                         full.change(row, column, to_ground)));
  std::printf("%s: %.1f fF worst, %.2f %% of the full loss; C_FF %+.1f %%\n", t.name, worst,
              100 * worst / full_loss, 100 * (fast.self / full.self - 1));
  EXPECT_LT(worst, 0.05 * full_loss);
  EXPECT_NEAR(fast.self / full.self, 1.0, 0.03);
  // A touch takes away, the same thing isolated gives: on diamonds as well.
  if (GetParam() == 0) {
    EXPECT_LT(full.change(0, 0, INFINITY), -0.9 * full_loss);
    EXPECT_GT(full.change(0, 0, 0.0), 0.2 * full_loss);
    EXPECT_NEAR(full.change(0, 1, INFINITY), full.change(1, 0, INFINITY), 0.02 * full_loss);
  }
}

INSTANTIATE_TEST_SUITE_P(, ThingOnDiamonds, ::testing::Range(0, 5), [](const auto& one) {
  std::string name = thing(one.param).name;
  std::replace(name.begin(), name.end(), ' ', '_');
  return name;
});

}  // namespace
}  // namespace bareglass::field
