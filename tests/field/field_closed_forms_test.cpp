// The solver against capacitances known in closed form, each at several refinements.
#include <gtest/gtest.h>

#include <cmath>

#include "bareglass/field/layered_solver.hpp"

namespace bareglass::field {
namespace {

/// The scheme's own widening of an electrode edge, in cells; see panel_window.cpp.
constexpr double kInset = 0.38;

/// Complete elliptic integral of the first kind by its modulus.
double K(double k) { return std::comp_ellint_1(k); }
double complement(double k) { return std::sqrt(1.0 - k * k); }

TEST(VacuumPermittivity, IsTheCodata2018Value) {
  // CODATA 2018: 8.854 187 8128e-12 F/m; 1e-12 F/m is 1 fF/mm.
  EXPECT_DOUBLE_EQ(kEps0, 8.8541878128);
}

TEST(EllipticIntegral, AgreesWithThePublishedTable) {
  // Abramowitz & Stegun, Handbook of Mathematical Functions, table 17.1: K(m = 0.5).
  EXPECT_NEAR(K(std::sqrt(0.5)), 1.854074677, 5e-10);
}

/// Charge of a cover on the default stack between plates, fF/mm^2, at some refinement.
double plates_in_series(double cell) {
  LayeredDomain d;
  d.x.at = {0.0};
  d.y.at = {0.0};
  d.z = graded_axis({{0, 0}, {0.2, 0}, {0.35, 0}, {1.45, cell}, {3, 0}}, {0.3, 0.5});
  for (int k = 0; k + 1 < d.z.size(); ++k) {
    const double z = 0.5 * (d.z.line(k) + d.z.line(k + 1));
    d.permittivity.push_back(z < 0.2 ? 3.2 : z < 0.35 ? 3.3 : z < 1.45 ? 7.0 : 1.0);
  }
  d.planes = {d.z.nearest(1.45)};
  const LayeredSolver solver(d);
  PlaneLabels labels = solver.bare_labels();
  labels.setZero();
  return solver.solve(labels, Eigen::VectorXd::Ones(1)).conductor(0);
}

TEST(ParallelPlates, WithLayersInSeriesAreExactOnAnyGrid) {
  // C/A = eps0 / sum(t_i / eps_i), any electromagnetics text; default stack 0.0333998 pF/mm^2.
  const double exact = kEps0 / (0.2 / 3.2 + 0.15 / 3.3 + 1.1 / 7.0);
  EXPECT_NEAR(exact, 33.3998, 5e-5);
  EXPECT_NEAR(plates_in_series(0.5), exact, 1e-9);
  EXPECT_NEAR(plates_in_series(0.02), exact, 1e-9);
}

/// Strip of width 1 midway between grounded plates 0.7 apart, fF/mm (half the strip is solved).
double stripline(double cell, double inset) {
  LayeredDomain d;
  const double last = 0.5 - inset * cell;
  d.x = graded_axis({{0, 0}, {last, cell}, {last + cell, cell}, {3, 0}}, {0.1, 0.5});
  d.y.at = {0.0};
  d.z = graded_axis({{0, 0}, {0.35, cell}, {0.7, 0}}, {0.1, 0.5});
  d.permittivity.assign(static_cast<std::size_t>(d.z.size() - 1), 1.0);
  d.ground_top = true;
  d.planes = {d.z.nearest(0.35)};
  const LayeredSolver solver(d);
  PlaneLabels labels = solver.bare_labels();
  for (int i = 0; d.x.line(i) <= last + 1e-9; ++i) labels(i, 0) = 0;
  return 2.0 * solver.solve(labels, Eigen::VectorXd::Ones(1)).conductor(0);
}

TEST(CentredStripline, ConvergesToCohn) {
  // S. B. Cohn, Characteristic Impedance of the Shielded-Strip Transmission Line, IRE Trans. MTT
  // 1954: C' = 4 eps0 K(k)/K(k'), k = tanh(pi w / 2b); 66.2234 pF/m for w = 1, b = 0.7.
  const double k = std::tanh(3.14159265358979323846 * 1.0 / (2.0 * 0.7));
  const double exact = 4.0 * kEps0 * K(k) / K(complement(k));
  EXPECT_NEAR(exact, 66.2234, 5e-4);
  const double coarse = stripline(0.05, 0.0) / exact - 1.0;
  const double middle = stripline(0.025, 0.0) / exact - 1.0;
  const double fine = stripline(0.0125, 0.0) / exact - 1.0;
  // First order with the outermost line on the edge ..
  EXPECT_LT(coarse, 0.03);
  EXPECT_NEAR(middle / coarse, 0.5, 0.08);
  EXPECT_NEAR(fine / middle, 0.5, 0.08);
  // .. and ten times better with it as far inside as the scheme widens the strip.
  EXPECT_LT(std::abs(stripline(0.05, kInset) / exact - 1.0), 0.003);
  EXPECT_LT(std::abs(stripline(0.025, kInset) / exact - 1.0), 0.001);
}

/// Two strips `width` wide, `gap` apart in free space, at +-1/2 V, fF/mm.
double coplanar_strips(double width, double gap, double cell, double growth) {
  LayeredDomain d;
  const double far = 400.0;
  const double inner = 0.5 * gap + kInset * cell;
  const double outer = 0.5 * gap + width - kInset * cell;
  std::vector<Mark> marks{{-far, 0}, {far, 0}};
  for (const double side : {-1.0, 1.0})
    for (const double at : {inner, inner - cell, outer, outer + cell})
      marks.push_back({side * at, cell});
  d.x = graded_axis(marks, {growth, 1e3});
  d.y.at = {0.0};
  d.z = graded_axis({{-far, 0}, {0, cell}, {far, 0}}, {growth, 1e3});
  d.permittivity.assign(static_cast<std::size_t>(d.z.size() - 1), 1.0);
  d.ground_top = true;
  d.planes = {d.z.nearest(0.0)};
  const LayeredSolver solver(d);
  PlaneLabels labels = solver.bare_labels();
  for (int i = 0; i < d.x.size(); ++i) {
    const double x = std::abs(d.x.line(i));
    if (x > inner - 1e-9 && x < outer + 1e-9) labels(i, 0) = d.x.line(i) < 0 ? 0 : 1;
  }
  return solver.solve(labels, Eigen::Vector2d(-0.5, 0.5)).conductor(1);
}

TEST(CoplanarStrips, ConvergeToConformalMapping) {
  // W. R. Smythe, Static and Dynamic Electricity: C' = eps0 K(k')/K(k), k = s / (s + 2 w).
  for (const auto& [gap, printed] : {std::pair{1.0, 13.8427}, std::pair{0.2, 21.3188}}) {
    const double k = gap / (gap + 2.0);
    const double exact = kEps0 * K(complement(k)) / K(k);
    EXPECT_NEAR(exact, printed, 5e-4);
    const double coarse = std::abs(coplanar_strips(1.0, gap, 0.02, 0.2) / exact - 1.0);
    const double fine = std::abs(coplanar_strips(1.0, gap, 0.01, 0.05) / exact - 1.0);
    // Free space is unkind to widening cells: what is left is their growth.
    EXPECT_LT(coarse, 0.09) << "gap " << gap;
    EXPECT_LT(fine, 0.018) << "gap " << gap;
    EXPECT_LT(fine, 0.3 * coarse) << "gap " << gap;
  }
}

/// A quarter of a disc of 4 mm radius at height 0 between permittivities, the whole disc's fF.
double disc(double below, double cell, double growth) {
  LayeredDomain d;
  const double far = 2000.0;
  Grading grading{growth, 1e4};
  grading.zones.push_back({0.0, 5.0, cell});
  d.x = graded_axis({{0, 0}, {far, 0}}, grading);
  d.y = d.x;
  d.z = graded_axis({{-far, 0}, {0, cell}, {far, 0}}, {growth, 1e4});
  for (int k = 0; k + 1 < d.z.size(); ++k)
    d.permittivity.push_back(d.z.line(k + 1) < 1e-9 ? below : 1.0);
  d.ground_top = true;
  d.planes = {d.z.nearest(0.0)};
  const LayeredSolver solver(d);
  PlaneLabels labels = solver.bare_labels();
  for (int j = 0; j < d.y.size(); ++j)
    for (int i = 0; i < d.x.size(); ++i)
      if (std::hypot(d.x.line(i), d.y.line(j)) <= 4.0 + (0.5 - kInset) * cell) labels(i, j) = 0;
  return 4.0 * solver.solve(labels, Eigen::VectorXd::Ones(1)).conductor(0);
}

TEST(FreeDisc, ConvergesToTheClassicalValue) {
  // J. D. Jackson, Classical Electrodynamics: C = 8 eps0 a; a = 4 mm: 0.283334 pF.
  const double exact = 8.0 * kEps0 * 4.0;
  EXPECT_NEAR(exact, 283.334, 1e-3);
  const double coarse = std::abs(disc(1.0, 0.25, 0.2) / exact - 1.0);
  const double fine = std::abs(disc(1.0, 0.0625, 0.05) / exact - 1.0);
  EXPECT_LT(coarse, 0.05);
  EXPECT_LT(fine, 0.012);
  EXPECT_LT(fine, 0.5 * coarse);
}

TEST(DiscOnAHalfSpace, HasTheMeanOfBothPermittivities) {
  // By images: C = 4 eps0 (1 + eps_r) a; eps_r = 7, a = 4 mm: 1.13334 pF.
  const double exact = 4.0 * kEps0 * 8.0 * 4.0;
  EXPECT_NEAR(exact, 1133.34, 0.01);
  EXPECT_NEAR(disc(7.0, 0.0625, 0.05) / exact, 1.0, 0.012);
}

}  // namespace
}  // namespace bareglass::field
