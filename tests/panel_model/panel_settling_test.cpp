// Distributed lines against closed forms.
#include <gtest/gtest.h>

#include <cmath>

#include "bareglass/panel_model/lines.hpp"
#include "support/quiet_panel.hpp"

namespace bareglass::panel {
namespace {

constexpr double kPi = 3.14159265358979323846;

// A line of total `ohm` and `farad` in `n` equal sections, driven without source resistance; half
// a section lies before the first node.
LadderModes uniform_line(int n, double ohm, double farad) {
  Eigen::VectorXd r = Eigen::VectorXd::Constant(n, ohm / n);
  r(0) *= 0.5;
  return ladder_modes(r, Eigen::VectorXd::Constant(n, farad / n));
}

double step_response(const LadderModes& modes, Eigen::Index node, double t_s) {
  double v = 1.0;
  for (Eigen::Index k = 0; k < modes.tau_s.size(); ++k)
    v -= modes.amplitude(node, k) * std::exp(-t_s / modes.tau_s(k));
  return v;
}

// Diffusion into a slab, closed at the far end: Carslaw & Jaeger, Conduction of Heat in Solids,
// section 3.4; as a line's step response: Sakurai, IEEE JSSC 18 (1983) 418.
double diffusion(double x, double t_over_rc) {
  double v = 1.0;
  for (int k = 0; k < 200; ++k) {
    const double m = (k + 0.5) * kPi;
    v -= 2.0 / m * std::sin(m * x) * std::exp(-m * m * t_over_rc);
  }
  return v;
}

TEST(UniformLine, StepsAsTheDiffusionSeriesSays) {
  constexpr int kSections = 200;
  const double rc = 3000.0 * 45e-12;
  const LadderModes modes = uniform_line(kSections, 3000.0, 45e-12);
  for (const double t : {0.05, 0.1, 0.3, 0.5, 1.0, 2.0}) {
    for (const int node : {20, 100, kSections - 1}) {
      const double x = (node + 0.5) / kSections;
      EXPECT_NEAR(step_response(modes, node, t * rc), diffusion(x, t), 2e-4)
          << "x " << x << ", t " << t << " RC";
    }
  }
}

TEST(UniformLine, ReachesNinetyPerCentAfterOneRc) {
  // Sakurai 1983: t90 = 1.02 RC at the far end.
  const LadderModes modes = uniform_line(200, 1000.0, 1e-9);
  EXPECT_LT(step_response(modes, 199, 1.00e-6), 0.9);
  EXPECT_GT(step_response(modes, 199, 1.04e-6), 0.9);
}

TEST(LumpedLine, CapturesTanhOfHalfTheTimes) {
  // One resistance and one capacitance, square wave in steady state: tanh(T / 2RC), elementary.
  const LadderModes modes =
      ladder_modes(Eigen::VectorXd::Constant(1, 10e3), Eigen::VectorXd::Constant(1, 53.3e-12));
  EXPECT_NEAR(captured_part(modes, 2e-6)(0), std::tanh(2e-6 / (2 * 10e3 * 53.3e-12)), 1e-12);
}

TEST(UniformLine, CapturesWhatASquareWaveLeavesInSteadyState) {
  // The same by superposition: a drive that alternates between +1 and -1 is a step of 1 long ago
  // and steps of 2, with alternating signs, since.
  const double rc = 10e3 * 100e-12;
  const LadderModes modes = uniform_line(40, 10e3, 100e-12);
  const double half = 0.7 * rc;
  const Eigen::VectorXd captured = captured_part(modes, half);
  constexpr int kHalves = 101;  // the last one high
  for (const int node : {0, 20, 39}) {
    double v = step_response(modes, node, kHalves * half);
    for (int n = kHalves - 1; n >= 1; --n)
      v += (n % 2 == 1 ? 2.0 : -2.0) * step_response(modes, node, n * half);
    EXPECT_NEAR(captured(node), v, 1e-9) << "node " << node;
  }
}

TEST(RowAndColumnInSeries, CaptureAsTwoPolesInSeries) {
  // Two single poles a, b: the swing at the end of each half period is
  // (a tanh(T/2a) - b tanh(T/2b)) / (a - b), from partial fractions; checked by Euler steps.
  const double a = 1.0e-6;
  const double b = 0.4e-6;
  const double half = 2e-6;
  const auto pole = [](double tau) {
    return ladder_modes(Eigen::VectorXd::Constant(1, tau), Eigen::VectorXd::Constant(1, 1.0));
  };
  double first = 0.0;
  double then = 0.0;
  double high = 0.0;
  constexpr int kSteps = 20000;
  for (int cycle = 0; cycle < 20; ++cycle) {
    const double drive = cycle % 2 == 0 ? 1.0 : -1.0;
    for (int k = 0; k < kSteps; ++k) {
      then += half / kSteps * (first - then) / b;
      first += half / kSteps * (drive - first) / a;
    }
    if (cycle % 2 == 0) high = then;
  }
  EXPECT_NEAR(captured_part(pole(a), 0, pole(b), 0, half), high, 1e-3);
  EXPECT_NEAR(captured_part(pole(b), 0, pole(a), 0, half), high, 1e-3);
  EXPECT_NEAR(captured_part(pole(a), 0, pole(a), 0, half),
              captured_part(pole(a), 0, pole(1.001 * a), 0, half), 1e-3);
}

TEST(LargePanel, AnnouncesTheFingerThatItReads) {
  // 72 x 41 lines of 5 mm: a node has settled to less than half within 2 us.
  test::QuietPanel glass(1.1, test::quiet_setup(72, 41));
  const NodeMatrix change =
      glass.change({Outline::disc(8.0), test::node_at(36, 20), kConnected, 0.0, {}});
  const double read = -change(36, 20) * glass.panel().setup().front_end.counts_per_ff;
  EXPECT_LT(read, 0.6 * 177.0 * glass.panel().setup().front_end.counts_per_ff);
  EXPECT_NEAR(glass.panel().finger_counts() / read, 1.0, 0.01);
}

}  // namespace
}  // namespace bareglass::panel
