// Two conductors beside each other: the network of the simulated panel against a full solution of
// both at once. The file's name keeps it out of the sanitizer build, as the field's own full tests.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <memory>

#include "bareglass/field/panel_window.hpp"
#include "support/quiet_panel.hpp"

namespace bareglass::test {
namespace {

using field::PanelWindow;

constexpr int kReach = 1;  // rows and columns beyond the discs' own that are compared
constexpr int kShift = 5;  // the simulated panel's node for (0, 0)

/// Both discs of 8 mm in a full solution, as conductors of their own.
class Pair {
 public:
  explicit Pair(double gap_mm)
      : apart_(8.0 + gap_mm),
        window_(field::reference_panel(), {-2.5, 5.5, false}, {-2.5, 2.5, false}, mesh(),
                scene(apart_)) {
    labels_ = window_.labels();
    const auto& domain = window_.solver().domain();
    const int ny = domain.y.size();
    for (int j = 0; j < ny; ++j)
      for (int i = 0; i < domain.x.size(); ++i)
        if (labels_(i, 2 * ny + j) == window_.object_id() && domain.x.line(i) > 0.5 * apart_)
          labels_(i, 2 * ny + j) = second();
    first_charge_ = drive(window_.object_id());
    second_charge_ = drive(second());
    for (int row = -kReach; row <= kReach; ++row) {
      row_charge_.push_back(drive(window_.row_id(row)));
      bare_.push_back(window_.drive_bare(window_.row_id(row)));
    }
  }

  /// Capacitance between the two, fF.
  double between() const { return -first_charge_(second()); }
  double self() const { return first_charge_(window_.object_id()); }
  /// Change of a node with `earth_ff` to ground from each.
  double change(int row, int column, std::array<double, 2> earth_ff) const {
    const int r = window_.row_id(row);
    const int c = window_.column_id(column);
    Eigen::Matrix2d k;
    k << first_charge_(window_.object_id()) + earth_ff[0], -between(), -between(),
        second_charge_(second()) + earth_ff[1];
    const Eigen::Vector2d to_row(-first_charge_(r), -second_charge_(r));
    const Eigen::Vector2d to_column(-first_charge_(c), -second_charge_(c));
    const auto n = static_cast<std::size_t>(row + kReach);
    return bare_[n](c) - row_charge_[n](c) + to_row.dot(k.inverse() * to_column);
  }
  double apart() const { return apart_; }

 private:
  static field::Mesh mesh() {
    field::Mesh m;
    m.edge_mm = 0.09;
    m.bulk_mm = 0.5;
    m.growth = 0.3;
    m.object_mm = 0.15;
    return m;
  }
  static field::Scene scene(double apart) {
    field::Scene s;
    s.object = field::Footprint({field::Disc{{0, 0}, 4.0}, field::Disc{{apart, 0}, 4.0}});
    return s;
  }
  int second() const { return window_.object_id() + 1; }
  Eigen::VectorXd drive(int conductor) const {
    return window_.solver().conductors(
        labels_, Eigen::VectorXd::Unit(window_.conductor_count() + 1, conductor));
  }

  double apart_;
  PanelWindow window_;
  field::PlaneLabels labels_;
  Eigen::VectorXd first_charge_, second_charge_;
  std::vector<Eigen::VectorXd> row_charge_, bare_;
};

/// Worst difference of any node near the pair, fF.
double worst_difference(const Pair& pair, std::array<double, 2> earth_pf) {
  panel::Situation s;
  s.conductors = {{panel::Outline::disc(8.0), node_at(kShift, kShift), earth_pf[0], 0.0, {}},
                  {panel::Outline::disc(8.0),
                   {kPitch * kShift + pair.apart(), kPitch * kShift},
                   earth_pf[1],
                   0.0,
                   {}}};
  static QuietPanel panel(1.1, quiet_setup(12, 16));
  const panel::NodeMatrix fast = panel.change(s);
  double worst = 0.0;
  for (int row = -kReach; row <= kReach; ++row)
    for (int column = -kReach; column <= 2 + kReach; ++column)
      worst = std::max(worst, std::abs(fast(row + kShift, column + kShift) -
                                       pair.change(row, column,
                                                   {1e3 * std::min(earth_pf[0], 1e6),
                                                    1e3 * std::min(earth_pf[1], 1e6)})));
  return worst;
}

class TwoDiscsApart : public ::testing::TestWithParam<double> {};

TEST_P(TwoDiscsApart, ChangeNodesAsAFullSolutionOfBothSays) {
  const Pair pair(GetParam());
  const double isolated = worst_difference(pair, {0.0, 0.0});
  const double grounded = worst_difference(pair, {panel::kConnected, panel::kConnected});
  const double mixed = worst_difference(pair, {panel::kConnected, 0.0});
  std::printf(
      "gap %.1f mm: %.1f fF between them; nodes off by at most %.2f fF (isolated), %.2f "
      "(earthed), %.2f (one of each)\n",
      GetParam(), pair.between(), isolated, grounded, mixed);
  const double limit = 0.05 * 179.5;
  EXPECT_LT(isolated, limit);
  EXPECT_LT(grounded, limit);
  EXPECT_LT(mixed, limit);
}

INSTANTIATE_TEST_SUITE_P(, TwoDiscsApart, ::testing::Values(0.5, 1.0, 2.0, 4.0),
                         [](const auto& one) {
                           return "By" + std::to_string(static_cast<int>(10 * one.param)) +
                                  "TenthsOfAMillimetre";
                         });

/// The same pair with the second disc on 0.2 mm of paper (eps_r 3), which lies all over the glass.
class StackedPair {
 public:
  explicit StackedPair(double gap_mm) : window_(window(8.0 + gap_mm)) {
    field::LayeredDomain domain = window_.solver().domain();
    const int ny = domain.y.size();
    const double height = domain.z.line(domain.planes.back()) + kPaper;
    domain.planes.push_back(domain.z.nearest(height));
    EXPECT_NEAR(domain.z.line(domain.planes.back()), height, 1e-6);
    labels_ = field::PlaneLabels::Constant(domain.x.size(), 4 * ny, field::kBare);
    labels_.leftCols(3 * ny) = window_.labels();
    bare_ = labels_;
    const int object = window_.object_id();
    for (int j = 0; j < ny; ++j)
      for (int i = 0; i < domain.x.size(); ++i) {
        int& below = labels_(i, 2 * ny + j);
        if (below != object) continue;
        bare_(i, 2 * ny + j) = field::kBare;
        if (domain.x.line(i) < 0.5 * (8.0 + gap_mm)) continue;
        below = field::kBare;
        labels_(i, 3 * ny + j) = object + 1;
      }
    solver_ = std::make_unique<field::LayeredSolver>(std::move(domain));
  }

  /// Change of a node with both earthed.
  double change(int row, int column) const {
    const auto charge = [&](const field::PlaneLabels& labels) {
      const Eigen::VectorXd volts =
          Eigen::VectorXd::Unit(window_.conductor_count() + 1, window_.row_id(row));
      return solver_->conductors(labels, volts)(window_.column_id(column));
    };
    return charge(bare_) - charge(labels_);
  }

  static constexpr double kPaper = 0.2;  // mm

 private:
  static PanelWindow window(double apart) {
    field::Mesh m;
    m.edge_mm = 0.09;
    m.bulk_mm = 0.5;
    m.growth = 0.3;
    m.object_mm = 0.15;
    field::Scene s;
    s.films = {{"paper", kPaper, 3.0}};
    s.object = field::Footprint({field::Disc{{0, 0}, 4.0}, field::Disc{{apart, 0}, 4.0}});
    return {field::reference_panel(), {-2.5, 5.5, false}, {-2.5, 2.5, false}, m, s};
  }

  PanelWindow window_;
  field::PlaneLabels labels_, bare_;
  std::unique_ptr<field::LayeredSolver> solver_;
};

TEST(TwoDiscsAtDifferentHeights, ScreenEachOtherAsAFullSolutionSays) {
  for (const double gap : {0.5, 2.0}) {
    const StackedPair pair(gap);
    panel::Situation s;
    const panel::Spacer paper{1e3 * StackedPair::kPaper, 3.0};
    s.conductors = {
        {panel::Outline::disc(8.0), node_at(kShift, kShift), panel::kConnected, 0.0, {}},
        {panel::Outline::disc(8.0),
         {kPitch * kShift + 8.0 + gap, kPitch * kShift},
         panel::kConnected,
         0.0,
         paper}};
    static QuietPanel panel(1.1, quiet_setup(12, 16));
    const panel::NodeMatrix fast = panel.change(s);
    double worst = 0.0;
    double apart = 0.0;
    panel::NodeMatrix alone = panel.change(s.conductors[0]) + panel.change(s.conductors[1]);
    for (int column = -kReach; column <= 2 + kReach; ++column) {
      const double full = pair.change(0, column);
      worst = std::max(worst, std::abs(fast(kShift, column + kShift) - full));
      apart = std::max(apart, std::abs(alone(kShift, column + kShift) - full));
    }
    std::printf("gap %.1f mm: nodes off by at most %.2f fF, by %.2f if each stood alone\n", gap,
                worst, apart);
    EXPECT_LT(worst, 0.05 * 179.5);
    if (gap < 1.0) {
      EXPECT_GT(apart, 10.0);
    }
  }
}

}  // namespace
}  // namespace bareglass::test
