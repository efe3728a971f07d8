// Distributed lines: modes of a ladder of resistances and capacitances.
#include <Eigen/Eigenvalues>
#include <cmath>

#include "bareglass/panel_model/lines.hpp"

namespace bareglass::panel {

namespace {

// Modes faster than this part of the half period count as instant: an error of that part of the
// swing that a slower mode still misses.
constexpr double kDone = 1.0 / 400.0;

double swing(double half_period_s, double tau_s) {
  return tau_s > 0.0 ? std::tanh(0.5 * half_period_s / tau_s) : 1.0;
}

// Two poles in series, square wave in steady state, end of a half period. For equal poles the
// limit of the difference quotient, by a small step aside.
double swing(double half_period_s, double first_s, double then_s) {
  if (std::abs(first_s - then_s) <= 1e-6 * std::max(first_s, then_s)) {
    if (first_s == 0.0) return 1.0;
    then_s = first_s * (1.0 - 1e-4);
  }
  return (first_s * swing(half_period_s, first_s) - then_s * swing(half_period_s, then_s)) /
         (first_s - then_s);
}

}  // namespace

LadderModes ladder_modes(const Eigen::VectorXd& ohm, const Eigen::VectorXd& farad) {
  const Eigen::Index n = ohm.size();
  Eigen::MatrixXd conductance = Eigen::MatrixXd::Zero(n, n);
  for (Eigen::Index k = 0; k < n; ++k) {
    const double g = 1.0 / ohm(k);
    conductance(k, k) += g;
    if (k == 0) continue;
    conductance(k - 1, k - 1) += g;
    conductance(k, k - 1) -= g;
    conductance(k - 1, k) -= g;
  }
  // C v' = G (1 - v): symmetric in the coordinates sqrt(C) v.
  const Eigen::VectorXd root = farad.cwiseSqrt();
  const Eigen::MatrixXd symmetric =
      root.cwiseInverse().asDiagonal() * conductance * root.cwiseInverse().asDiagonal();
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(symmetric);
  const Eigen::VectorXd start = solver.eigenvectors().transpose() * root;
  LadderModes out;
  out.amplitude = root.cwiseInverse().asDiagonal() * solver.eigenvectors() * start.asDiagonal();
  out.tau_s = solver.eigenvalues().cwiseInverse();
  return out;
}

Eigen::VectorXd captured_part(const LadderModes& modes, double half_period_s) {
  Eigen::VectorXd part(modes.tau_s.size());
  for (Eigen::Index k = 0; k < part.size(); ++k) part(k) = swing(half_period_s, modes.tau_s(k));
  return modes.amplitude * part;
}

double captured_part(const LadderModes& first, Eigen::Index x, const LadderModes& then,
                     Eigen::Index y, double half_period_s) {
  const double fast_s = kDone * half_period_s;
  const auto slow = [&](const LadderModes& m) {  // modes are sorted: slow ones first
    Eigen::Index k = 0;
    while (k < m.tau_s.size() && m.tau_s(k) > fast_s) ++k;
    return k;
  };
  const Eigen::Index first_slow = slow(first);
  const Eigen::Index then_slow = slow(then);
  // Mode index -1 stands for all fast ones together, as one that takes no time.
  double sum = 0.0;
  double first_rest = 1.0;
  double then_rest = 1.0;
  for (Eigen::Index i = 0; i < first_slow; ++i) first_rest -= first.amplitude(x, i);
  for (Eigen::Index k = 0; k < then_slow; ++k) then_rest -= then.amplitude(y, k);
  for (Eigen::Index i = -1; i < first_slow; ++i) {
    const double a = i < 0 ? first_rest : first.amplitude(x, i);
    const double first_s = i < 0 ? 0.0 : first.tau_s(i);
    for (Eigen::Index k = -1; k < then_slow; ++k) {
      const double b = k < 0 ? then_rest : then.amplitude(y, k);
      sum += a * b * swing(half_period_s, first_s, k < 0 ? 0.0 : then.tau_s(k));
    }
  }
  return sum;
}

}  // namespace bareglass::panel
