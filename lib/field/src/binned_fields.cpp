#include "binned_fields.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::field {

namespace {

/// A kernel takes on terms until it misses less than this part (rms).
constexpr double kEnough = 0.004;

/// Averages a quarter-window profile over its half pitches, every second one mirrored.
Eigen::MatrixXd fold_rows(const Eigen::MatrixXd& values) {
  const Eigen::Index half = values.rows() / kKernelHalves;
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(half, values.cols());
  for (int h = 0; h < kKernelHalves; ++h) {
    const Eigen::MatrixXd part = values.middleRows(h * half, half);
    out += (h % 2 == 0 ? part : Eigen::MatrixXd(part.colwise().reverse())) / kKernelHalves;
  }
  return out;
}

std::vector<double> as_vector(const Eigen::VectorXd& v) { return {v.data(), v.data() + v.size()}; }

/// The leading terms of the singular value decomposition of `values`. By the eigenvectors of
/// values' values: Eigen's own decomposition takes minutes to compile with sanitizers, and the
/// terms wanted are large enough not to suffer from the squaring.
Kernel separate(const Eigen::MatrixXd& values, double x_step, double y_step) {
  const Eigen::MatrixXd square = values.transpose() * values;
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(square);
  Kernel out;
  Eigen::MatrixXd rest = values;
  const double whole = std::max(values.norm(), 1e-300);
  do {
    const auto term = static_cast<Eigen::Index>(out.terms.size());
    const Eigen::VectorXd right = solver.eigenvectors().col(square.cols() - 1 - term);
    const Eigen::VectorXd left = values * right;
    rest -= left * right.transpose();
    // Each side takes the root of the singular value; the x side sums to something positive.
    const double share = std::sqrt(std::max(left.norm(), 1e-300));
    const double sign = left.sum() < 0.0 ? -1.0 : 1.0;
    out.terms.push_back(
        {{x_step, as_vector(sign / share * left)}, {y_step, as_vector(sign * share * right)}});
    out.residual = rest.norm() / whole;
    if (term == 0) out.one_term_residual = out.residual;
  } while (out.residual > kEnough && out.terms.size() < Kernel::kMostTerms &&
           static_cast<Eigen::Index>(out.terms.size()) < square.cols());
  return out;
}

}  // namespace

int BinnedFields::half_bins(double pitch_mm) {
  constexpr double kStep = 0.25;  // mm
  return std::max(1, static_cast<int>(std::lround(0.5 * pitch_mm / kStep)));
}

void fill_kernels(SurfaceKernels& out, const BinnedFields& f) {
  const auto over_x = [&](const Eigen::MatrixXd& v) {
    return separate(fold_rows(v), f.x_step, f.y_step);
  };
  const auto over_y = [&](const Eigen::MatrixXd& v) {
    return separate(fold_rows(v.transpose()).transpose(), f.x_step, f.y_step);
  };
  out.q_row = over_x(f.q_row);
  out.phi_row = over_x(f.phi_row);
  out.q_column = over_y(f.q_column);
  out.phi_column = over_y(f.phi_column);
  out.loss = separate(f.loss, f.x_step, f.y_step);
}

}  // namespace bareglass::field
