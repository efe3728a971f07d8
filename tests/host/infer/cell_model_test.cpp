// The raster model against the patch model of the same panel (tests/field holds that against full
// field solutions), and its derivatives against differences.
#include "bareglass/infer/cell_model.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "bareglass/field/surface_model.hpp"
#include "bareglass/infer/kernel_bank.hpp"
#include "bareglass/infer/scene.hpp"

namespace bareglass::infer {
namespace {

constexpr int kLines = 15;
constexpr double kPitch = 5.0;

const field::SurfaceKernels& kernels() { return kernels_for(0.1535, kPitch); }

CellModel model() { return {kernels(), kLines, kLines, kPitch, kPitch}; }

Form disc(double x, double y, double diameter) {
  Form f;
  f.kind = Form::Kind::disc;
  f.x = x;
  f.y = y;
  f.width = diameter;
  return f;
}

TEST(KernelBank, ChoosesTheGlassByTheShareOfAFinger) {
  // 8 mm discs of an independent field solution: 175 of 1140 fF through 1.1 mm, 117 of 1147
  // through 2.
  EXPECT_NEAR(kernels_for(0.1535, 5.0).numbers.full_loss, 179.5, 2.0);
  EXPECT_NEAR(kernels_for(0.102, 5.0).numbers.full_loss, 126.8, 2.0);
}

TEST(CellModel, LosesTheFullLossUnderAFullCover) {
  const CellModel m = model();
  const NodeMap loss = m.loss(m.covered(CoverMap::Ones(m.cells_y(), m.cells_x())));
  EXPECT_NEAR(loss(7, 7), m.full_loss(), 0.01f * m.full_loss());
}

struct Size {
  double diameter, earthed, isolated;  ///< fF that a node may be off
};

TEST(CellModel, FollowsThePatchModelOverDiscs) {
  const CellModel m = model();
  const field::SurfaceModel patches(kernels());
  for (const Size& s : {Size{8, 12, 18}, Size{12, 15, 15}, Size{20, 12, 14}}) {
    const field::Coupling truth =
        patches.couple(field::Footprint::disc({35, 36.5}, s.diameter), {kLines, kLines});
    const CoverMap cover = draw(disc(35, 36.5, s.diameter), m);
    const BodyCoupling body = m.couple(cover);
    const NodeMap loss = m.loss(m.covered(cover));
    const NodeMap gain = CellModel::passed_on(body, 0.f);
    EXPECT_NEAR(static_cast<double>(body.self) / truth.self, 1.0, 0.03) << s.diameter;
    for (int r = 0; r < kLines; ++r)
      for (int c = 0; c < kLines; ++c) {
        EXPECT_NEAR(loss(r, c), -truth.change(r, c, INFINITY), s.earthed) << r << " " << c;
        EXPECT_NEAR(loss(r, c) - gain(r, c), -truth.change(r, c, 0.0), s.isolated) << r << " " << c;
      }
  }
}

TEST(CellModel, ScalesWithThePitchAsCapacitanceDoes) {
  const CellModel wide(kernels(), kLines, kLines, 10.0, 10.0);
  EXPECT_NEAR(wide.full_loss(), 2 * model().full_loss(), 0.1);
  EXPECT_NEAR(wide.rim_mm(), 2 * model().rim_mm(), 1e-9);
}

// Both derivatives, by central differences at some cells.
TEST(CellModel, KnowsItsDerivatives) {
  const CellModel m = model();
  std::mt19937 random(7);
  std::uniform_real_distribution<float> part(0.1f, 0.9f);
  CoverMap cover = CoverMap::Zero(m.cells_y(), m.cells_x());
  cover.block(8, 8, 8, 10) = CoverMap::NullaryExpr(8, 10, [&] { return part(random); });
  const NodeMap weight = NodeMap::NullaryExpr(kLines, kLines, [&] { return part(random) - 0.5f; });
  const float earth = 3000.f;
  const auto value = [&](const CoverMap& c) {
    return static_cast<double>(
        (weight.array() * CellModel::passed_on(m.couple(c), earth).array()).sum());
  };
  const CoverMap slope = m.passed_back(weight, cover, m.couple(cover), earth);
  const CoverMap covered_slope = m.covered_back(weight);
  for (const auto& [j, i] : {std::pair{9, 9}, {12, 14}, {15, 17}, {7, 12}}) {
    CoverMap up = cover;
    CoverMap down = cover;
    up(j, i) += 0.05f;
    down(j, i) -= 0.05f;
    EXPECT_NEAR(slope(j, i), (value(up) - value(down)) / 0.1,
                0.03 * std::abs(static_cast<double>(slope(j, i))) + 0.05);
    const double covered =
        static_cast<double>((weight.array() * (m.covered(up) - m.covered(down)).array()).sum());
    EXPECT_NEAR(covered_slope(j, i), covered / 0.1, 1e-3);
  }
}

}  // namespace
}  // namespace bareglass::infer
