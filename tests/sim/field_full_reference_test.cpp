// Full solutions of the reference panel: its own numbers, and discs on it.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <string>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/panel_window.hpp"
#include "bareglass/field/surface_model.hpp"
#include "sim/field_reference.hpp"

namespace bareglass::field {
namespace {

using testing::agree;

std::string shipped(const char* name, const char* ending) {
  return std::string(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_") + name + ending;
}

struct GlassRow {
  const char* file;
  double glass_mm, node, cover, rows, columns;
};

class FourGlasses : public ::testing::TestWithParam<GlassRow> {};

TEST_P(FourGlasses, GiveTheReferenceCapacitances) {
  const GlassRow& r = GetParam();
  const PanelNumbers n = solve_numbers(load_panel(shipped(r.file, ".toml")));
  const std::string glass = std::to_string(r.glass_mm).substr(0, 3) + " mm: ";
  agree(glass + "node", r.node, n.node);
  agree(glass + "full grounded cover, change", r.cover, -n.full_loss);
  agree(glass + "row to next row", r.rows, n.row_to_row);
  agree(glass + "column to next column", r.columns, n.column_to_column);
}

TEST_P(FourGlasses, CoverLossIsTheSameByEitherIntegral) {
  const PanelNumbers n = solve_numbers(reference_panel(GetParam().glass_mm));
  EXPECT_NEAR(n.loss_by_row / n.full_loss, 1.0, 1e-6);
  EXPECT_NEAR(n.loss_by_column / n.full_loss, 1.0, 1e-6);
}

TEST_P(FourGlasses, ShipWithTheKernelsOfThisSolver) {
  const PanelSpec panel = load_panel(shipped(GetParam().file, ".toml"));
  const SurfaceKernels solved = solve_kernels(panel);
  const SurfaceKernels file = load_kernels(shipped(GetParam().file, ".kernels"));
  EXPECT_NEAR(file.numbers.node / solved.numbers.node, 1.0, 1e-6);
  EXPECT_NEAR(file.numbers.cover_per_mm2 / solved.numbers.cover_per_mm2, 1.0, 1e-6);
  EXPECT_NEAR(file.allowances.line_mm, solved.allowances.line_mm, 5e-3);
  ASSERT_EQ(file.loss.terms.size(), solved.loss.terms.size());
  const std::vector<double>& bins = file.loss.terms[0].x.bins;
  ASSERT_EQ(bins.size(), solved.loss.terms[0].x.bins.size());
  for (std::size_t k = 0; k < bins.size(); ++k)
    EXPECT_NEAR(bins[k], solved.loss.terms[0].x.bins[k], 1e-5);
  // q_T and q_R are nearly products, w is one of two terms.
  EXPECT_LT(solved.q_row.one_term_residual, 0.006);
  EXPECT_LT(solved.q_column.one_term_residual, 0.002);
  EXPECT_LT(solved.loss.one_term_residual, 0.04);
  EXPECT_LT(solved.loss.residual, 0.004);
}

INSTANTIATE_TEST_SUITE_P(, FourGlasses,
                         ::testing::Values(GlassRow{"0_7", 0.7, 1126, -208.1, 139.7, 3.6},
                                           GlassRow{"1_1", 1.1, 1140, -179.5, 147.5, 6.0},
                                           GlassRow{"2_0", 2.0, 1147, -126.8, 156.7, 10.0},
                                           GlassRow{"3_0", 3.0, 1148, -92.4, 159.7, 11.7}));

TEST(ReferencePanel, GivesTheReferenceLineCapacitances) {
  const PanelNumbers n = solve_numbers(reference_panel());
  agree("row of 24 columns, pF", 45.3, 24 * n.row_self * 1e-3, 0.03 * 45.3);
  agree("column of 14 rows, pF", 16.2, 14 * n.column_self * 1e-3, 0.03 * 16.2);
  agree("c_F, fF/mm2", 36.52, n.cover_per_mm2);
}

TEST(ReferencePanel, NumbersMoveLittleUnderRefinement) {
  Mesh coarse;
  coarse.edge_mm = 0.08;
  coarse.bulk_mm = 0.6;
  coarse.growth = 0.3;
  const PanelNumbers a = solve_numbers(reference_panel(), coarse);
  const PanelNumbers b = solve_numbers(reference_panel());
  EXPECT_NEAR(a.node / b.node, 1.0, 0.005);
  EXPECT_NEAR(a.full_loss / b.full_loss, 1.0, 0.005);
  EXPECT_NEAR(a.row_to_row / b.row_to_row, 1.0, 0.02);
  EXPECT_NEAR(a.column_to_column / b.column_to_column, 1.0, 0.02);
}

Mesh fine_object() {
  Mesh mesh;
  mesh.object_mm = 0.1;
  return mesh;
}

ObjectSolution on_node(const Footprint& object, double glass_mm = 1.1) {
  Scene scene;
  scene.object = object;
  return solve_object(
      PanelWindow(reference_panel(glass_mm), {0, 3.5, true}, {0, 3.5, true}, fine_object(), scene),
      {0});
}

constexpr std::array<double, 8> kToGround = {INFINITY, 200e3, 100e3, 30e3, 10e3, 3e3, 1e3, 0};

struct DiscRow {
  double diameter, to_row, to_column, self;
  std::array<double, 8> change;  ///< for each of kToGround
  double flip_pf;
  /// Limit for the change at 1 pF, fF; 0 for the rule. The rule fails in one place, 12 mm: 12.7
  /// against 13.5 fF, the difference of two terms of 180 fF in which the solutions differ by 0.4 %.
  double at_1pf_limit;
};

class DiscOnNode : public ::testing::TestWithParam<DiscRow> {};

TEST_P(DiscOnNode, CouplesAsInTheReference) {
  const DiscRow& r = GetParam();
  const Footprint disc = Footprint::disc({0, 0}, r.diameter);
  const ObjectSolution full = on_node(disc);
  const SurfaceModel model(load_kernels(shipped("1_1", ".kernels")));
  const Coupling fast = model.couple(disc.moved({50, 50}), {21, 21});
  const std::string name = std::to_string(static_cast<int>(r.diameter)) + " mm: ";
  const auto limit = [](double reference) { return testing::allowed(reference); };
  agree(name + "C_TF", r.to_row, full.to_row(0), limit(r.to_row), fast.to_row(10 - fast.first_row));
  agree(name + "C_FR", r.to_column, full.to_column(0), limit(r.to_column),
        fast.to_column(10 - fast.first_column));
  agree(name + "C_FF", r.self, full.self, limit(r.self), fast.self);
  for (std::size_t i = 0; i < kToGround.size(); ++i) {
    const bool wide = kToGround[i] == 1e3 && r.at_1pf_limit > 0.0;
    const double quick = fast.change(10, 10, kToGround[i]);
    agree(name + "change, C_b " + std::to_string(kToGround[i] * 1e-3).substr(0, 5) + " pF",
          r.change[i], full.change(0, 0, kToGround[i]), wide ? r.at_1pf_limit : limit(r.change[i]),
          quick);
    EXPECT_NEAR(quick, full.change(0, 0, kToGround[i]), 0.05 * 181.3) << name << i;
  }
  agree(name + "sign flips at, pF", r.flip_pf, full.sign_flip(0, 0) * 1e-3, 0.03 * r.flip_pf);
}

INSTANTIATE_TEST_SUITE_P(
    , DiscOnNode,
    ::testing::Values(DiscRow{6,
                              810,
                              430,
                              1744,
                              {-164.4, -162.7, -161.0, -153.4, -134.7, -91.0, -37.4, 35.4},
                              0.38,
                              0},
                      DiscRow{8,
                              1102,
                              558,
                              2746,
                              {-175.0, -172.0, -169.0, -156.2, -126.7, -67.9, -10.6, 49.2},
                              0.77,
                              0},
                      DiscRow{10,
                              1320,
                              685,
                              4010,
                              {-177.4, -173.0, -168.8, -150.9, -112.9, -48.5, 3.0, 48.0},
                              1.08,
                              0},
                      DiscRow{12,
                              1549,
                              808,
                              5530,
                              {-178.3, -172.2, -166.4, -143.0, -97.6, -31.5, 13.5, 48.2},
                              1.49,
                              1.0}));

TEST(DiscBeside, NeighboursFollowTheReference) {
  const ObjectSolution full = on_node(Footprint::disc({0, 0}, 8));
  agree("8 mm: neighbour column, grounded", -62.3, full.change(0, 1, INFINITY));
  agree("8 mm: neighbour column, isolated", -9.5, full.change(0, 1, 0));
  agree("8 mm: second neighbour, grounded", -3.2, full.change(0, 2, INFINITY));
}

TEST(DiscBeside, HalfAPitchAcrossTheColumnsFollowsTheReference) {
  Scene scene;
  scene.object = Footprint::disc({2.5, 0}, 8);
  const ObjectSolution full = solve_object(
      PanelWindow(reference_panel(), {0.5, 4.0, true}, {0, 3.5, true}, fine_object(), scene), {0});
  agree("8 mm, half a pitch aside: grounded", -158.0, full.change(0, 1, INFINITY));
  agree("8 mm, half a pitch aside: isolated", 11.7, full.change(0, 1, 0));
}

TEST(DiscOnOtherGlass, FollowsTheReference) {
  const std::array<std::array<double, 3>, 3> rows = {
      {{0.7, -205.2, 108.4}, {2.0, -117.2, 11.6}, {3.0, -77.7, 3.3}}};
  for (const auto& [glass, grounded, isolated] : rows) {
    const ObjectSolution full = on_node(Footprint::disc({0, 0}, 8), glass);
    const std::string name = "8 mm on " + std::to_string(glass).substr(0, 3) + " mm glass: ";
    agree(name + "grounded", grounded, full.change(0, 0, INFINITY));
    agree(name + "isolated", isolated, full.change(0, 0, 0));
  }
}

}  // namespace
}  // namespace bareglass::field
