// The fast solver against the general one and against what every electrostatic solution must obey.
#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>

#include "bareglass/field/film_strip.hpp"
#include "bareglass/field/panel_window.hpp"
#include "bareglass/field/sparse_solver.hpp"

namespace bareglass::field {
namespace {

/// Two rows, two columns and an off-centre piece of metal, on a grid coarse enough for a direct
/// factorisation.
class CoarseWindowWithMetal : public ::testing::Test {
 protected:
  static Mesh mesh() {
    Mesh coarse;
    coarse.edge_mm = 0.3;
    coarse.bulk_mm = 1.2;
    coarse.growth = 0.8;
    coarse.air_mm = 10.0;
    coarse.object_mm = 1.0;
    return coarse;
  }
  static Scene scene() {
    Scene s;
    s.object = Footprint({Disc{{1.0, 2.0}, 3.0}, Stroke{{{1.0, 2.0}, {6.0, 4.0}}, 2.0}});
    return s;
  }
  const PanelWindow window_{
      reference_panel(), {-0.5, 1.5, false}, {-0.5, 1.5, false}, mesh(), scene()};
};

TEST_F(CoarseWindowWithMetal, FastAndGeneralSolversGiveTheSameCharges) {
  const SparseSolver general(as_volume(window_));
  for (int driven = 0; driven < window_.conductor_count(); ++driven) {
    const Eigen::VectorXd fast = window_.drive(driven);
    const Eigen::VectorXd volts = Eigen::VectorXd::Unit(window_.conductor_count() + 1, driven);
    const SparseSolution iterated = general.solve(volts, 1e-11);
    for (int c = 0; c < window_.conductor_count(); ++c)
      EXPECT_NEAR(fast(c), iterated.conductor(c), 1e-6 * fast(driven)) << driven << " on " << c;
  }
}

TEST_F(CoarseWindowWithMetal, IteratedAndFactorisedSolutionsAgree) {
  const SparseSolver general(as_volume(window_));
  const Eigen::VectorXd volts =
      Eigen::VectorXd::Unit(window_.conductor_count() + 1, window_.object_id());
  const SparseSolution iterated = general.solve(volts, 1e-12);
  const SparseSolution direct = general.solve_direct(volts);
  EXPECT_LT((iterated.potential - direct.potential).cwiseAbs().maxCoeff(), 1e-8);
  EXPECT_GT(iterated.iterations, 3);
}

TEST_F(CoarseWindowWithMetal, ChargesOfAllConductorsAndTheDisplayAddUpToNothing) {
  for (int driven = 0; driven < window_.conductor_count(); ++driven) {
    const LayeredSolution solution = window_.field(driven);
    const double sum = solution.conductor.sum() + window_.solver().ground_charge(solution);
    EXPECT_NEAR(sum, 0.0, 1e-6 * solution.conductor(driven));
  }
}

TEST_F(CoarseWindowWithMetal, ChargesAreReciprocal) {
  const int n = window_.conductor_count();
  std::vector<Eigen::VectorXd> charge;
  for (int driven = 0; driven < n; ++driven) charge.push_back(window_.drive(driven));
  // Off the diagonal induced charges are negative, and together they never exceed the driven one.
  for (int a = 0; a < n; ++a) {
    const Eigen::VectorXd& mine = charge[static_cast<std::size_t>(a)];
    EXPECT_GT(mine(a), 0.0);
    EXPECT_GE(mine.sum(), 0.0);
    for (int b = 0; b < n; ++b)
      EXPECT_NEAR(mine(b), charge[static_cast<std::size_t>(b)](a), 1e-6 * mine(a)) << a << ' ' << b;
  }
}

TEST_F(CoarseWindowWithMetal, FloatingMetalHoldsNoNetChargeAndObeysTheNetworkFormula) {
  const ObjectSolution object = solve_object(window_);
  const int row = window_.row_id(0);
  // The potential that leaves the object without charge, set directly.
  Eigen::VectorXd volts = Eigen::VectorXd::Unit(window_.conductor_count(), row);
  volts(window_.object_id()) = object.to_row(0) / object.self;
  const LayeredSolution floating = window_.solver().solve(window_.labels(), volts);
  EXPECT_NEAR(floating.conductor(window_.object_id()), 0.0, 1e-6 * object.self);
  for (int column = 0; column < 2; ++column)
    EXPECT_NEAR(-floating.conductor(window_.column_id(column)), object.mutual(0, column, 0.0),
                1e-6 * object.self);
}

TEST_F(CoarseWindowWithMetal, GroundCapacitanceLeadsFromIsolatedToGrounded) {
  const ObjectSolution object = solve_object(window_);
  const double grounded = object.change(0, 0, INFINITY);
  EXPECT_LT(grounded, object.change(0, 0, 1000.0));
  EXPECT_LT(object.change(0, 0, 1000.0), object.change(0, 0, 0.0));
  EXPECT_NEAR(object.change(0, 0, 1e12), grounded, 1e-3);
  EXPECT_NEAR(object.change(0, 0, object.sign_flip(0, 0)), 0.0, 1e-9);
}

TEST(MirroredWindow, AgreesWithTheWholeOne) {
  Mesh mesh;
  mesh.edge_mm = 0.2;
  mesh.bulk_mm = 0.8;
  mesh.growth = 0.5;
  Scene scene;
  scene.object = Footprint::disc({0, 0}, 8.0);
  Scene lined = scene;
  lined.x_lines = lined.y_lines = {{0.0, 0.0}};  // the quarter has a line there; same grid
  const PanelWindow whole(reference_panel(), {-2.5, 2.5, false}, {-2.5, 2.5, false}, mesh, lined);
  const PanelWindow quarter(reference_panel(), {0, 2.5, true}, {0, 2.5, true}, mesh, scene);
  const ObjectSolution a = solve_object(whole, {0, 1});
  const ObjectSolution b = solve_object(quarter, {0, 1});
  EXPECT_NEAR(a.self / b.self, 1.0, 1e-6);
  for (int row = 0; row < 2; ++row) {
    EXPECT_NEAR(a.to_row(row - a.first_row), b.to_row(row), 1e-3);
    EXPECT_NEAR(a.to_column(row - a.first_column), b.to_column(row), 1e-3);
    for (int column = 0; column < 3; ++column)
      EXPECT_NEAR(a.change(row, column, 0.0), b.change(row, column, 0.0), 1e-3);
  }
}

TEST(PanelWindowSpans, MustEndOnMirrorPlanes) {
  EXPECT_THROW(PanelWindow(reference_panel(), {0, 0.7, true}, {0, 1, true}, {}),
               std::invalid_argument);
  EXPECT_THROW(PanelWindow(reference_panel(), {1, 1, true}, {0, 1, true}, {}),
               std::invalid_argument);
}

TEST(LayeredDomainCheck, NamesWhatIsMissing) {
  LayeredDomain d;
  d.x.at = {0};
  d.y.at = {0};
  d.z.at = {0, 1, 2};
  d.permittivity = {1.0};
  d.planes = {1};
  EXPECT_THROW(LayeredSolver{d}, std::invalid_argument);
  d.permittivity = {1.0, 1.0};
  EXPECT_NO_THROW(LayeredSolver{d});
  d.planes = {2};
  EXPECT_THROW(LayeredSolver{d}, std::invalid_argument);
  d.planes = {1};
  d.ground_bottom = false;
  EXPECT_THROW(LayeredSolver{d}, std::invalid_argument);
}

}  // namespace
}  // namespace bareglass::field
