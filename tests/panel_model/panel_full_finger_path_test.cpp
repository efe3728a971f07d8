// A finger on its way from one node to the next: the simulated panel against full solutions of the
// same places. The file's name keeps it out of the sanitizer build.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include "bareglass/field/panel_window.hpp"
#include "support/quiet_panel.hpp"

namespace bareglass::test {
namespace {

constexpr double kStep = 0.25;   // mm
constexpr int kHalfWay = 10;     // steps of half a pitch
constexpr int kMiddle = 6;       // the simulated panel's line for 0
constexpr double kFull = 179.5;  // fF, what a full cover takes from a node

/// Changes of the lines before, at and after line 0, fF.
using Three = std::array<double, 3>;

struct Path {
  bool across_columns;  ///< the finger moves in x, and the nodes lie on one row
  double earth_ff;      ///< 0 or infinity
};

/// Full solutions at places up to half a pitch, where the panel's mirror begins.
std::array<std::array<Three, kHalfWay + 1>, 2> full_path(bool across_columns) {
  field::Mesh mesh;
  mesh.edge_mm = 0.06;
  mesh.growth = 0.25;
  mesh.object_mm = 0.12;
  const field::Span along{-3.0, 3.0, false};
  const field::Span beside{0.0, 2.5, true};
  std::array<std::array<Three, kHalfWay + 1>, 2> out{};
  for (int k = 0; k <= kHalfWay; ++k) {
    field::Scene scene;
    scene.object = field::Footprint::disc(
        across_columns ? field::Point{k * kStep, 0.0} : field::Point{0.0, k * kStep}, 8.0);
    const field::PanelWindow window(field::reference_panel(), across_columns ? along : beside,
                                    across_columns ? beside : along, mesh, scene);
    const field::ObjectSolution solved =
        across_columns ? solve_object(window, {0}) : solve_object(window, {-1, 0, 1});
    for (int line = -1; line <= 1; ++line) {
      const int row = across_columns ? 0 : line;
      const int column = across_columns ? line : 0;
      const auto n = static_cast<std::size_t>(line + 1);
      out[0][static_cast<std::size_t>(k)][n] = solved.change(row, column, INFINITY);
      out[1][static_cast<std::size_t>(k)][n] = solved.change(row, column, 0.0);
    }
  }
  return out;
}

Three simulated(const Path& path, double place) {
  const auto node = [&](int line) {
    return path.across_columns ? std::pair{kMiddle, kMiddle + line}
                               : std::pair{kMiddle + line, kMiddle};
  };
  field::Point at = node_at(kMiddle, kMiddle);
  (path.across_columns ? at.x : at.y) += place;
  const panel::NodeMatrix change = reference_glass().change(
      {panel::Outline::disc(8.0), at, path.earth_ff > 0.0 ? panel::kConnected : 0.0, 0.0, {}});
  Three out{};
  for (int line = -1; line <= 1; ++line)
    out[static_cast<std::size_t>(line + 1)] = change(node(line).first, node(line).second);
  return out;
}

/// Where the signal of three lines has its middle, in pitches from line 0.
double middle_of(const Three& t) { return (t[2] - t[0]) / (t[0] + t[1] + t[2]); }

class FingerOnItsWay : public ::testing::TestWithParam<bool> {};

TEST_P(FingerOnItsWay, ChangesTheThreeNearestNodesAsFullSolutionsSay) {
  const bool across_columns = GetParam();
  const auto full = full_path(across_columns);
  for (const double earth : {panel::kConnected, 0.0}) {
    double worst = 0.0;
    double off_place = 0.0;
    // Beyond half a pitch the panel is its own mirror image: the lines change places, and of the
    // three that are compared only two have been solved.
    for (int k = 0; k <= 2 * kHalfWay; ++k) {
      const Three fast = simulated({across_columns, earth}, k * kStep);
      const Three& solved =
          full[earth > 0.0 ? 0 : 1][static_cast<std::size_t>(k <= kHalfWay ? k : 2 * kHalfWay - k)];
      if (k <= kHalfWay) {
        for (std::size_t n = 0; n < 3; ++n) worst = std::max(worst, std::abs(fast[n] - solved[n]));
        if (earth > 0.0)
          off_place = std::max(off_place, std::abs(middle_of(fast) - middle_of(solved)));
      } else {
        worst = std::max({worst, std::abs(fast[2] - solved[1]), std::abs(fast[1] - solved[2])});
      }
    }
    std::printf(
        "across the %s, %s: three nodes off by at most %.2f fF, their middle by %.4f pitch\n",
        across_columns ? "columns" : "rows", earth > 0.0 ? "earthed" : "isolated", worst,
        off_place);
    EXPECT_LT(worst, 0.03 * kFull);
    EXPECT_LT(off_place, 0.02);
  }
  if (!across_columns) return;
  // The independent solution (see field_reference.toml), half a pitch aside: -158.0 earthed, +11.7
  // isolated.
  EXPECT_NEAR(full[0][kHalfWay][1], -158.0, 0.03 * 158.0);
  EXPECT_NEAR(full[1][kHalfWay][1], 11.7, 0.35);
  EXPECT_NEAR(full[0][kHalfWay][1], full[0][kHalfWay][2], 0.5);
}

INSTANTIATE_TEST_SUITE_P(, FingerOnItsWay, ::testing::Bool(), [](const auto& one) {
  return one.param ? "AcrossColumns" : "AcrossRows";
});

}  // namespace
}  // namespace bareglass::test
