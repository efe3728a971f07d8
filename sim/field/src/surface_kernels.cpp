#include "bareglass/field/surface_kernels.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "bareglass/field/surface_model.hpp"

namespace bareglass::field {

namespace {

/// Half a window, pitches. There a row's charge on a cover has fallen to a millionth, its potential
/// on the bare surface to half a percent (measured).
constexpr double kReach = 3.5;
constexpr int kHalves = 7;      // half pitches within kReach
constexpr double kStep = 0.25;  // mm

/// The four fields of one node's neighbourhood on the surface, per grid node.
struct SurfaceFields {
  Eigen::MatrixXd q_row, q_column;      // fF/mm^2, positive
  Eigen::MatrixXd phi_row, phi_column;  // V
};

Eigen::MatrixXd surface_of(const PanelWindow& window, const PlaneField& field) {
  const int ny = window.solver().domain().y.size();
  return field.middleCols(window.surface_plane() * ny, ny);
}

Eigen::MatrixXd areas(const LayeredSolver& solver) {
  Eigen::MatrixXd out(solver.domain().x.size(), solver.domain().y.size());
  for (int j = 0; j < out.cols(); ++j)
    for (int i = 0; i < out.rows(); ++i) out(i, j) = solver.area(i, j);
  return out;
}

const Span kQuarter{0.0, kReach, true};

/// Solves the bare and the covered window; fills the numbers and, if wanted, the fields.
PanelNumbers solve_windows(const PanelSpec& panel, const Mesh& mesh, SurfaceFields* fields,
                           Axis* x_axis, Axis* y_axis) {
  PanelNumbers out;
  const PanelWindow bare(panel, kQuarter, kQuarter, mesh);
  const LayeredSolution row = bare.field(bare.row_id(0));
  const LayeredSolution column = bare.field(bare.column_id(0));
  const Eigen::VectorXd row_charge = bare.charges(row, bare.row_id(0));
  const Eigen::VectorXd column_charge = bare.charges(column, bare.column_id(0));
  const double crossings = 2.0 * kReach;
  out.node = -row_charge(bare.column_id(0));
  out.row_to_row = -row_charge(bare.row_id(1)) / crossings;
  out.column_to_column = -column_charge(bare.column_id(1)) / crossings;
  out.row_self = row_charge(bare.row_id(0)) / crossings;
  out.column_self = column_charge(bare.column_id(0)) / crossings;

  Scene scene;
  scene.covered = true;
  const PanelWindow covered(panel, kQuarter, kQuarter, mesh, scene);
  const LayeredSolution covered_row = covered.field(covered.row_id(0));
  const Eigen::VectorXd covered_charge = covered.charges(covered_row, covered.row_id(0));
  out.full_loss = out.node + covered_charge(covered.column_id(0));
  const double area = 4.0 * kReach * kReach * panel.rows.pitch_mm * panel.columns.pitch_mm;
  out.cover_per_mm2 = covered.drive(covered.object_id())(covered.object_id()) / area;

  const Eigen::MatrixXd area_of = areas(covered.solver());
  const LayeredSolution covered_column = covered.field(covered.column_id(0));
  SurfaceFields f;
  f.q_row = -surface_of(covered, covered_row.charge).cwiseQuotient(area_of);
  f.q_column = -surface_of(covered, covered_column.charge).cwiseQuotient(area_of);
  f.phi_row = surface_of(bare, row.potential);
  f.phi_column = surface_of(bare, column.potential);
  out.loss_by_row = 4.0 * f.q_row.cwiseProduct(f.phi_column).cwiseProduct(area_of).sum();
  out.loss_by_column = 4.0 * f.q_column.cwiseProduct(f.phi_row).cwiseProduct(area_of).sum();
  if (fields != nullptr) {
    *fields = std::move(f);
    *x_axis = covered.solver().domain().x;
    *y_axis = covered.solver().domain().y;
  }
  return out;
}

/// Row k gives the mean over bin k of values on the axis' control volumes.
Eigen::MatrixXd binning(const Axis& axis, double step, int bins) {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(bins, axis.size());
  for (int i = 0; i < axis.size(); ++i) {
    const double low = i > 0 ? 0.5 * (axis.line(i - 1) + axis.line(i)) : axis.line(0);
    const double high = low + axis.share(i);
    for (int k = std::max(0, static_cast<int>(low / step)); k < bins && k * step < high; ++k)
      out(k, i) = std::max(0.0, std::min(high, (k + 1) * step) - std::max(low, k * step)) / step;
  }
  return out;
}

/// Averages a quarter-window profile over its half pitches, every second one mirrored.
Eigen::MatrixXd fold_rows(const Eigen::MatrixXd& values) {
  const Eigen::Index half = values.rows() / kHalves;
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(half, values.cols());
  for (int h = 0; h < kHalves; ++h) {
    const Eigen::MatrixXd part = values.middleRows(h * half, half);
    out += (h % 2 == 0 ? part : Eigen::MatrixXd(part.colwise().reverse())) / kHalves;
  }
  return out;
}

std::vector<double> as_vector(const Eigen::VectorXd& v) { return {v.data(), v.data() + v.size()}; }

/// Term `term` of the singular value decomposition of `values` as a product of profiles. By the
/// eigenvectors of values' values: Eigen's own decomposition takes minutes to compile with
/// sanitizers, and the two terms wanted are large enough not to suffer from the squaring.
Separable separate(const Eigen::MatrixXd& values, double x_step, double y_step, int term) {
  const Eigen::MatrixXd square = values.transpose() * values;
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(square);
  const Eigen::VectorXd right = solver.eigenvectors().col(square.cols() - 1 - term);
  const Eigen::VectorXd left = values * right;
  // Each side takes the root of the singular value; the x side sums to something positive.
  const double share = std::sqrt(left.norm());
  const double sign = left.sum() < 0.0 ? -1.0 : 1.0;
  return {{x_step, as_vector(sign / share * left)}, {y_step, as_vector(sign * share * right)}};
}

Eigen::MatrixXd product(const Separable& s) {
  const auto vector = [](const std::vector<double>& v) {
    return Eigen::Map<const Eigen::VectorXd>(v.data(), static_cast<Eigen::Index>(v.size()));
  };
  return vector(s.x.bins) * vector(s.y.bins).transpose();
}

}  // namespace

double Profile::local(double offset_mm) const {
  const double place = std::abs(offset_mm) / step_mm - 0.5;
  const double last = static_cast<double>(bins.size()) - 1.0;
  if (place > last + 0.5) return 0.0;
  const double inside = std::clamp(place, 0.0, last);
  const auto k = std::min(static_cast<std::size_t>(inside), bins.size() - 1);
  const double next = k + 1 < bins.size() ? bins[k + 1] : bins[k];
  return bins[k] + (inside - static_cast<double>(k)) * (next - bins[k]);
}

double Profile::periodic(double position_mm, double pitch_mm) const {
  return local(position_mm - pitch_mm * std::round(position_mm / pitch_mm));
}

PanelNumbers solve_numbers(const PanelSpec& panel, const Mesh& mesh) {
  return solve_windows(panel, mesh, nullptr, nullptr, nullptr);
}

SurfaceKernels solve_kernels(const PanelSpec& panel, const Mesh& mesh) {
  SurfaceKernels out;
  out.column_pitch_mm = panel.columns.pitch_mm;
  out.row_pitch_mm = panel.rows.pitch_mm;
  out.cover_permittivity = panel.layers.front().permittivity;
  SurfaceFields f;
  Axis x;
  Axis y;
  out.numbers = solve_windows(panel, mesh, &f, &x, &y);

  const auto half_bins = [](double pitch) {
    return std::max(1, static_cast<int>(std::lround(0.5 * pitch / kStep)));
  };
  const int x_half = half_bins(out.column_pitch_mm);
  const int y_half = half_bins(out.row_pitch_mm);
  const double x_step = 0.5 * out.column_pitch_mm / x_half;
  const double y_step = 0.5 * out.row_pitch_mm / y_half;
  const Eigen::MatrixXd x_bins = binning(x, x_step, kHalves * x_half);
  const Eigen::MatrixXd y_bins = binning(y, y_step, kHalves * y_half);
  const auto binned = [&](const Eigen::MatrixXd& v) -> Eigen::MatrixXd {
    return x_bins * v * y_bins.transpose();
  };
  const auto over_x = [&](const Eigen::MatrixXd& v) { return fold_rows(binned(v)); };
  const auto over_y = [&](const Eigen::MatrixXd& v) -> Eigen::MatrixXd {
    return fold_rows(binned(v).transpose()).transpose();
  };
  // One product each; what it misses goes into the residual.
  const auto one = [&](const Eigen::MatrixXd& v, double* residual) {
    const Separable s = separate(v, x_step, y_step, 0);
    if (residual != nullptr) *residual = (v - product(s)).norm() / v.norm();
    return s;
  };
  out.q_row = one(over_x(f.q_row), &out.row_residual);
  out.q_column = one(over_y(f.q_column), &out.column_residual);
  out.phi_row = one(over_x(f.phi_row), nullptr);
  out.phi_column = one(over_y(f.phi_column), nullptr);
  const Eigen::MatrixXd w =
      binned(0.5 * (f.q_row.cwiseProduct(f.phi_column) + f.q_column.cwiseProduct(f.phi_row)));
  Eigen::MatrixXd rest = w;
  for (int term = 0; term < 2; ++term) {
    const auto t = static_cast<std::size_t>(term);
    out.loss[t] = separate(w, x_step, y_step, term);
    rest -= product(out.loss[t]);
    out.loss_residual[t] = rest.norm() / w.norm();
  }
  out.allowances = fit_allowances(out);
  return out;
}

}  // namespace bareglass::field
