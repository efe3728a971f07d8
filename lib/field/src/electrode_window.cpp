#include "bareglass/field/electrode_window.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "bareglass/field/diamond_window.hpp"
#include "bareglass/field/panel_window.hpp"
#include "window_mesh.hpp"

namespace bareglass::field {

namespace {

/// Layers from the display plane upwards, with the films and the air on top.
std::vector<Layer> upwards(const PanelSpec& panel, const Mesh& mesh, const Scene& scene) {
  std::vector<Layer> layers(panel.layers.rbegin(), panel.layers.rend());
  layers.insert(layers.end(), scene.films.rbegin(), scene.films.rend());
  double films = 0.0;
  for (const Layer& film : scene.films) films += film.thickness_mm;
  const bool open = panel.surroundings_mm <= 0.0;
  layers.push_back({"air", open ? mesh.air_mm : panel.surroundings_mm - films, 1.0});
  return layers;
}

}  // namespace

void stack(LayeredDomain& domain, const PanelSpec& panel, const Mesh& mesh, const Scene& scene,
           std::vector<double> heights) {
  const std::vector<Layer> layers = upwards(panel, mesh, scene);
  heights.push_back(panel.total_thickness());
  std::vector<Mark> marks{{0.0, 0.0}};
  double top = 0.0;
  for (const Layer& layer : layers) marks.push_back({top += layer.thickness_mm, 0.0});
  // The air is meshed down to the electrode cells only where an electrode or film can be.
  for (const double height : heights) marks.push_back({height, mesh.edge_mm});
  domain.z = graded_axis(std::move(marks), {mesh.growth, 1e3});

  std::size_t layer = 0;
  double face = layers.front().thickness_mm;
  for (int k = 0; k + 1 < domain.z.size(); ++k) {
    const double middle = 0.5 * (domain.z.line(k) + domain.z.line(k + 1));
    while (middle > face) face += layers[++layer].thickness_mm;
    domain.permittivity.push_back(layers[layer].permittivity);
  }
  for (const double height : heights) domain.planes.push_back(domain.z.nearest(height));
  domain.ground_top = panel.surroundings_mm > 0.0;
}

double ObjectSolution::change(int row, int column, double to_ground) const {
  return mutual(row, column, to_ground) - bare(row - first_row, column - first_column);
}

double ObjectSolution::sign_flip(int row, int column) const {
  const int r = row - first_row;
  const int c = column - first_column;
  return to_row(r) * to_column(c) / (bare(r, c) - grounded(r, c)) - self;
}

double ObjectSolution::mutual(int row, int column, double to_ground) const {
  const int r = row - first_row;
  const int c = column - first_column;
  const double through =
      std::isinf(to_ground) ? 0.0 : to_row(r) * to_column(c) / (self + to_ground);
  return grounded(r, c) + through;
}

LayeredSolution ElectrodeWindow::field(int conductor) const {
  return solver_->solve(labels_, Eigen::VectorXd::Unit(conductor_count(), conductor));
}

Eigen::VectorXd ElectrodeWindow::charges(const LayeredSolution& solution, int driven) const {
  return charges(solution.conductor, driven);
}

Eigen::VectorXd ElectrodeWindow::charges(const Eigen::VectorXd& conductors, int driven) const {
  Eigen::VectorXd out = conductors * copies_;
  for (int c = 0; c < conductor_count(); ++c) out(c) /= twins(c) * twins(driven);
  return out;
}

Eigen::VectorXd ElectrodeWindow::drive(int conductor) const {
  return charges(solver_->conductors(labels_, Eigen::VectorXd::Unit(conductor_count(), conductor)),
                 conductor);
}

Eigen::VectorXd ElectrodeWindow::drive_bare(int conductor) const {
  const PlaneLabels bare =
      has_object_ ? PlaneLabels((labels_.array() == object_id()).select(kBare, labels_)) : labels_;
  return charges(solver_->conductors(bare, Eigen::VectorXd::Unit(conductor_count(), conductor)),
                 conductor);
}

double solve_node(const PanelSpec& panel, const Mesh& mesh, const Scene& scene) {
  if (panel.diamonds) {
    const DiamondWindow window(panel, mesh, scene);
    return -window.drive(window.row_id(0))(window.column_id(0)) + panel.diamonds->bridge_ff();
  }
  const Span quarter{0.0, 2.5, true};
  const PanelWindow window(panel, quarter, quarter, mesh, scene);
  return -window.drive(window.row_id(0))(window.column_id(0));
}

ObjectSolution solve_object(const ElectrodeWindow& window, const std::vector<int>& driven_rows) {
  ObjectSolution out;
  out.first_row = window.first_row();
  out.first_column = window.first_column();
  const int rows = window.row_count();
  const int columns = window.column_count();
  const Eigen::VectorXd object = window.drive(window.object_id());
  out.to_row = -object.head(rows);
  out.to_column = -object.segment(rows, columns);
  out.self = object(window.object_id());
  out.bare = Eigen::MatrixXd::Constant(rows, columns, std::numeric_limits<double>::quiet_NaN());
  out.grounded = out.bare;
  for (int r = 0; r < rows; ++r) {
    const int row = r + out.first_row;
    if (!driven_rows.empty() &&
        std::find(driven_rows.begin(), driven_rows.end(), row) == driven_rows.end())
      continue;
    // Each row's own bare value: the mesh is finer near the object, and its error must cancel.
    out.bare.row(r) = -window.drive_bare(window.row_id(row)).segment(rows, columns).transpose();
    out.grounded.row(r) = -window.drive(window.row_id(row)).segment(rows, columns).transpose();
  }
  return out;
}

}  // namespace bareglass::field
