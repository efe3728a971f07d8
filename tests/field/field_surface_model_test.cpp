// The fast model by itself, on shipped kernels: what must hold whatever the numbers.
#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/surface_model.hpp"

namespace bareglass::field {
namespace {

class ModelOfTheReferencePanel : public ::testing::Test {
 protected:
  const SurfaceModel model_{
      load_kernels(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_1_1.kernels")};
  const LineRange lines_{14, 24};
};

TEST_F(ModelOfTheReferencePanel, MovedObjectCouplesLikeTheSameObjectThere) {
  const Footprint disc = Footprint::disc({0, 0}, 8);
  const Coupling a = model_.couple(model_.cut(disc), {52, 31}, lines_);
  const Coupling b = model_.couple(disc.moved({52, 31}), lines_);
  ASSERT_EQ(a.first_row, b.first_row);
  EXPECT_NEAR(a.self, b.self, 1e-6 * a.self);
  for (int row = 3; row < 9; ++row)
    for (int column = 7; column < 13; ++column)
      EXPECT_NEAR(a.change(row, column, 100.0), b.change(row, column, 100.0), 1e-3);
}

TEST_F(ModelOfTheReferencePanel, GroundedTouchLowersItsNodesAndIsolatedDropRaisesIts) {
  const Coupling drop = model_.couple(Footprint::disc({50, 30}, 8), lines_);
  EXPECT_LT(drop.change(6, 10, INFINITY), -150.0);
  EXPECT_GT(drop.change(6, 10, 0.0), 40.0);
  EXPECT_LT(drop.change(6, 10, 3000.0), drop.change(6, 10, 1000.0));
  EXPECT_EQ(drop.change(0, 0, 0.0), 0.0);
  EXPECT_EQ(drop.change(-1, 99, 0.0), 0.0);
}

TEST_F(ModelOfTheReferencePanel, AnObjectByTheCornerStaysWithinThePanel) {
  const Coupling corner = model_.couple(Footprint::disc({-2, -2}, 9), lines_);
  EXPECT_EQ(corner.first_row, 0);
  EXPECT_EQ(corner.first_column, 0);
  EXPECT_LT(corner.change(0, 0, INFINITY), -50.0);
  const Coupling far = model_.couple(Footprint::disc({-60, -60}, 9), lines_);
  EXPECT_NEAR(far.change(0, 0, INFINITY), 0.0, 0.01);
}

TEST_F(ModelOfTheReferencePanel, AFilmBeyondThePanelFallsBackOnTheQuickModelAndTakesTheFullLoss) {
  const Footprint film = Footprint::rectangle({57.5, 32.5}, 400, 300);
  EXPECT_FALSE(model_.cut(film).factorised());
  const Coupling c = model_.couple(film, lines_);
  const PanelNumbers& n = model_.kernels().numbers;
  EXPECT_NEAR(c.change(6, 10, INFINITY), -n.full_loss, 0.005 * n.full_loss);
  EXPECT_NEAR(c.self, n.cover_per_mm2 * 400 * 300, 0.04 * c.self);
}

TEST_F(ModelOfTheReferencePanel, GrowsSmoothlyWithTheObject) {
  double before = model_.couple(Footprint::disc({50, 30}, 8.0), lines_).self;
  for (double diameter = 8.05; diameter < 9.0; diameter += 0.05) {
    const double self = model_.couple(Footprint::disc({50, 30}, diameter), lines_).self;
    EXPECT_GT(self, before - 5.0) << diameter;
    EXPECT_LT(self, before * 1.04) << diameter;
    before = self;
  }
}

TEST_F(ModelOfTheReferencePanel, NothingOnTheGlassChangesNothing) {
  EXPECT_EQ(model_.couple(Footprint(), lines_).change(0, 0, 0.0), 0.0);
  EXPECT_EQ(model_.quick(Footprint(), lines_).self, 0.0);
}

TEST_F(ModelOfTheReferencePanel, RefusesObjectsOutOfThisWorld) {
  for (const double x : {1e7, std::nan(""), static_cast<double>(-INFINITY)}) {
    EXPECT_THROW(model_.couple(Footprint::disc({x, 0}, 8), lines_), std::invalid_argument) << x;
    EXPECT_THROW(model_.quick(Footprint::disc({x, 0}, 8), lines_), std::invalid_argument) << x;
  }
}

TEST(Profile, IsLinearBetweenBinMiddlesAndZeroBeyond) {
  const Profile p{1.0, {4.0, 2.0, 1.0}};
  EXPECT_DOUBLE_EQ(p.local(0.0), 4.0);
  EXPECT_DOUBLE_EQ(p.local(1.0), 3.0);
  EXPECT_DOUBLE_EQ(p.local(-1.0), 3.0);
  EXPECT_DOUBLE_EQ(p.local(2.9), 1.0);
  EXPECT_DOUBLE_EQ(p.local(3.1), 0.0);
  EXPECT_DOUBLE_EQ(p.periodic(6.0, 6.0), 4.0);
  EXPECT_DOUBLE_EQ(p.periodic(7.0, 6.0), 3.0);
}

}  // namespace
}  // namespace bareglass::field
