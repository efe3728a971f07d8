#include "diamond_kernels.hpp"

#include "bareglass/field/diamond_window.hpp"

namespace bareglass::field {

namespace {

/// Means of a field over the bins of a quarter around the node.
Eigen::MatrixXd in_bins(const DiamondWindow& window, const Eigen::MatrixXd& field,
                        const BinnedFields& bins, int x_bins, int y_bins) {
  constexpr int kPoints = 3;
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(x_bins, y_bins);
  for (int j = 0; j < y_bins * kPoints; ++j)
    for (int i = 0; i < x_bins * kPoints; ++i)
      out(i / kPoints, j / kPoints) +=
          window.at(field, {(i + 0.5) / kPoints * bins.x_step, (j + 0.5) / kPoints * bins.y_step});
  return out / (kPoints * kPoints);
}

Eigen::MatrixXd areas(const LayeredSolver& solver) {
  Eigen::MatrixXd out(solver.domain().x.size(), solver.domain().y.size());
  for (int j = 0; j < out.cols(); ++j)
    for (int i = 0; i < out.rows(); ++i) out(i, j) = solver.area(i, j);
  return out;
}

}  // namespace

PanelNumbers solve_diamonds(const PanelSpec& panel, const Mesh& mesh, BinnedFields* fields) {
  PanelNumbers out;
  const DiamondWindow bare(panel, mesh);
  const LayeredSolution row = bare.field(bare.row_id(0));
  const LayeredSolution column = bare.field(bare.column_id(0));
  const double bridge = panel.diamonds->bridge_ff();
  const double between = -row.conductor(bare.column_id(0));
  out.node = between + bridge;
  out.row_to_row = -bare.charge_per_crossing(row, bare.row_id(1));
  out.column_to_column = -bare.charge_per_crossing(column, bare.column_id(1));
  out.row_self = bare.charge_per_crossing(row, bare.row_id(0)) + bridge;
  out.column_self = bare.charge_per_crossing(column, bare.column_id(0)) + bridge;

  Scene scene;
  scene.covered = true;
  const DiamondWindow covered(panel, mesh, scene);
  const LayeredSolution covered_row = covered.field(covered.row_id(0));
  const LayeredSolution covered_column = covered.field(covered.column_id(0));
  out.full_loss = between + covered_row.conductor(covered.column_id(0));
  const Eigen::MatrixXd area = areas(covered.solver());
  out.cover_per_mm2 = covered.drive(covered.object_id())(covered.object_id()) / area.sum();

  const auto ny = area.cols();
  const Eigen::MatrixXd q_row = -covered_row.charge.rightCols(ny).cwiseQuotient(area);
  const Eigen::MatrixXd q_column = -covered_column.charge.rightCols(ny).cwiseQuotient(area);
  const Eigen::MatrixXd phi_row = row.potential.rightCols(ny);
  const Eigen::MatrixXd phi_column = column.potential.rightCols(ny);
  out.loss_by_row = q_row.cwiseProduct(phi_column).cwiseProduct(area).sum();
  out.loss_by_column = q_column.cwiseProduct(phi_row).cwiseProduct(area).sum();
  if (fields == nullptr) return out;

  const int half = BinnedFields::half_bins(panel.diamonds->pitch_mm);
  fields->x_step = fields->y_step = 0.5 * panel.diamonds->pitch_mm / half;
  const auto binned = [&](const Eigen::MatrixXd& field) {
    return in_bins(covered, field, *fields, kKernelHalves * half, kKernelHalves * half);
  };
  fields->q_row = binned(q_row);
  fields->q_column = binned(q_column);
  fields->phi_row = binned(phi_row);
  fields->phi_column = binned(phi_column);
  fields->loss = binned(0.5 * (q_row.cwiseProduct(phi_column) + q_column.cwiseProduct(phi_row)));
  return out;
}

}  // namespace bareglass::field
