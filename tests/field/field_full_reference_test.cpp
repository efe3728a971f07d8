// Full solutions of the reference panel: what must hold between its numbers, and the kernels that
// ship. How they compare with an independent solution: field_full_table_test.cpp.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <string>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/panel_window.hpp"
#include "bareglass/field/surface_model.hpp"

namespace bareglass::field {
namespace {

std::string shipped(const char* name, const char* ending) {
  return std::string(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_") + name + ending;
}

struct GlassRow {
  const char* file;
  double glass_mm;
};

void PrintTo(const GlassRow& g, std::ostream* out) { *out << g.file; }

class FourGlasses : public ::testing::TestWithParam<GlassRow> {};

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
                         ::testing::Values(GlassRow{"0_7", 0.7}, GlassRow{"1_1", 1.1},
                                           GlassRow{"2_0", 2.0}, GlassRow{"3_0", 3.0}),
                         [](const auto& one) { return "Glass" + std::string(one.param.file); });

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

}  // namespace
}  // namespace bareglass::field
