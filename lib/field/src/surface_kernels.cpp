#include "bareglass/field/surface_kernels.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/panel_window.hpp"
#include "bareglass/field/solution_store.hpp"
#include "bareglass/field/surface_model.hpp"
#include "binned_fields.hpp"
#include "diamond_kernels.hpp"

namespace bareglass::field {

namespace {

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

const Span kQuarter{0.0, kKernelReach, true};

/// Solves the bare and the covered window; fills the numbers and, if wanted, the fields.
PanelNumbers solve_windows(const PanelSpec& panel, const Mesh& mesh, SurfaceFields* fields,
                           Axis* x_axis, Axis* y_axis) {
  PanelNumbers out;
  const PanelWindow bare(panel, kQuarter, kQuarter, mesh);
  const LayeredSolution row = bare.field(bare.row_id(0));
  const LayeredSolution column = bare.field(bare.column_id(0));
  const Eigen::VectorXd row_charge = bare.charges(row, bare.row_id(0));
  const Eigen::VectorXd column_charge = bare.charges(column, bare.column_id(0));
  const double crossings = 2.0 * kKernelReach;
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
  const double area =
      4.0 * kKernelReach * kKernelReach * panel.rows.pitch_mm * panel.columns.pitch_mm;
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
  SolutionKey key("panel numbers");
  key.add(kernel_input(panel, mesh));
  const std::vector<double> kept = kept_or_solved(key, [&]() -> std::vector<double> {
    const PanelNumbers n = panel.diamonds ? solve_diamonds(panel, mesh, nullptr)
                                          : solve_windows(panel, mesh, nullptr, nullptr, nullptr);
    return {n.node,           n.full_loss,   n.loss_by_row,
            n.loss_by_column, n.row_to_row,  n.column_to_column,
            n.row_self,       n.column_self, n.cover_per_mm2};
  });
  return {kept[0], kept[1], kept[2], kept[3], kept[4], kept[5], kept[6], kept[7], kept[8]};
}

namespace {

/// Bars and stripes: the fields on the grid's own places, averaged over bins.
PanelNumbers solve_bars(const PanelSpec& panel, const Mesh& mesh, BinnedFields& binned) {
  SurfaceFields f;
  Axis x;
  Axis y;
  const PanelNumbers numbers = solve_windows(panel, mesh, &f, &x, &y);
  const int x_half = BinnedFields::half_bins(panel.columns.pitch_mm);
  const int y_half = BinnedFields::half_bins(panel.rows.pitch_mm);
  binned.x_step = 0.5 * panel.columns.pitch_mm / x_half;
  binned.y_step = 0.5 * panel.rows.pitch_mm / y_half;
  const Eigen::MatrixXd x_bins = binning(x, binned.x_step, kKernelHalves * x_half);
  const Eigen::MatrixXd y_bins = binning(y, binned.y_step, kKernelHalves * y_half);
  const auto in_bins = [&](const Eigen::MatrixXd& v) -> Eigen::MatrixXd {
    return x_bins * v * y_bins.transpose();
  };
  binned.q_row = in_bins(f.q_row);
  binned.q_column = in_bins(f.q_column);
  binned.phi_row = in_bins(f.phi_row);
  binned.phi_column = in_bins(f.phi_column);
  binned.loss =
      in_bins(0.5 * (f.q_row.cwiseProduct(f.phi_column) + f.q_column.cwiseProduct(f.phi_row)));
  return numbers;
}

}  // namespace

SurfaceKernels solve_kernels(const PanelSpec& panel, const Mesh& mesh) {
  SurfaceKernels out;
  out.column_pitch_mm = panel.columns.pitch_mm;
  out.row_pitch_mm = panel.rows.pitch_mm;
  out.cover_permittivity = panel.layers.front().permittivity;
  out.surroundings_mm = panel.surroundings_mm;
  BinnedFields binned;
  out.numbers =
      panel.diamonds ? solve_diamonds(panel, mesh, &binned) : solve_bars(panel, mesh, binned);
  fill_kernels(out, binned);
  out.allowances = fit_allowances(out);
  return out;
}

}  // namespace bareglass::field
