#include "bareglass/field/panel_window.hpp"

#include <cmath>
#include <limits>
#include <stdexcept>

namespace bareglass::field {

namespace {

/// The scheme widens a thin electrode by this part of a cell beyond its outermost line (measured on
/// the centred stripline of closed form, cells as high as wide: 0.36 to 0.40 over three
/// refinements). The outermost line lies that far inside the edge, which leaves the edge itself
/// where it belongs and the convergence of second order.
constexpr double kEdgeInset = 0.38;

bool is_mirror_plane(double position) {
  return std::abs(2.0 * position - std::round(2.0 * position)) < 1e-9;
}

void check(const Span& span) {
  if (!is_mirror_plane(span.begin) || !is_mirror_plane(span.end) || span.end <= span.begin)
    throw std::invalid_argument("a panel window must end on mirror planes of the panel");
}

/// First line of the span: one cut in half by the begin counts.
int first_line(const Span& span) { return static_cast<int>(std::ceil(span.begin - 1e-9)); }
int last_line(const Span& span) { return static_cast<int>(std::floor(span.end + 1e-9)); }

/// Grid lines across parallel electrodes: on each edge (see kEdgeInset) and at the window's ends.
/// `object` is the stretch to refine; none if its spacing is zero.
Axis across(const Lines& lines, const Span& span, const Mesh& mesh, const Zone& object,
            const std::vector<Mark>& further) {
  const double begin = span.begin * lines.pitch_mm;
  const double end = span.end * lines.pitch_mm;
  std::vector<Mark> marks{{begin, 0.0}, {end, 0.0}};
  const auto add = [&](double at) {
    if (at > begin && at < end) marks.push_back({at, mesh.edge_mm});
  };
  for (int k = first_line(span); k <= last_line(span); ++k) {
    const double inner = 0.5 * lines.width_mm - kEdgeInset * mesh.edge_mm;
    for (const double side : {-1.0, 1.0}) {
      add(k * lines.pitch_mm + side * inner);
      add(k * lines.pitch_mm + side * (inner + mesh.edge_mm));
    }
  }
  marks.insert(marks.end(), further.begin(), further.end());
  Grading grading{mesh.growth, mesh.bulk_mm};
  if (object.spacing > 0.0) grading.zones.push_back(object);
  return graded_axis(std::move(marks), grading);
}

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

double ObjectSolution::change(int row, int column, double to_ground) const {
  return mutual(row, column, to_ground) - bare(column - first_column);
}

double ObjectSolution::sign_flip(int row, int column) const {
  const int r = row - first_row;
  const int c = column - first_column;
  return to_row(r) * to_column(c) / (bare(c) - grounded(r, c)) - self;
}

double ObjectSolution::mutual(int row, int column, double to_ground) const {
  const int r = row - first_row;
  const int c = column - first_column;
  const double through =
      std::isinf(to_ground) ? 0.0 : to_row(r) * to_column(c) / (self + to_ground);
  return grounded(r, c) + through;
}

PanelWindow::PanelWindow(const PanelSpec& panel, Span columns, Span rows, const Mesh& mesh,
                         const Scene& scene)
    : columns_(columns), rows_(rows) {
  check(columns_);
  check(rows_);
  first_row_ = first_line(rows_);
  row_count_ = last_line(rows_) - first_row_ + 1;
  first_column_ = first_line(columns_);
  column_count_ = last_line(columns_) - first_column_ + 1;
  has_object_ = scene.covered || !scene.object.empty();
  mesh_and_label(panel, mesh, scene);
}

void PanelWindow::mesh_and_label(const PanelSpec& panel, const Mesh& mesh, const Scene& scene) {
  LayeredDomain domain;
  const Box box = scene.object.bounds();
  constexpr double kMargin = 1.0;  // mm; where the field of the outline is steep
  const double fine = scene.object.empty() ? 0.0 : mesh.object_mm;
  domain.x = across(panel.columns, columns_, mesh,
                    {box.x_low - kMargin, box.x_high + kMargin, fine}, scene.x_lines);
  domain.y = across(panel.rows, rows_, mesh, {box.y_low - kMargin, box.y_high + kMargin, fine},
                    scene.y_lines);

  const std::vector<Layer> layers = upwards(panel, mesh, scene);
  const double row_height = panel.height_below(panel.rows.under);
  const double column_height = panel.height_below(panel.columns.under);
  const double surface = panel.total_thickness();
  std::vector<Mark> marks{{0.0, 0.0}};
  double top = 0.0;
  for (const Layer& layer : layers) marks.push_back({top += layer.thickness_mm, 0.0});
  // The air is meshed down to the electrode cells only where an electrode or film can be.
  for (const double height : {row_height, column_height, surface})
    marks.push_back({height, mesh.edge_mm});
  domain.z = graded_axis(std::move(marks), {mesh.growth, 1e3});

  std::size_t layer = 0;
  double face = layers.front().thickness_mm;
  for (int k = 0; k + 1 < domain.z.size(); ++k) {
    const double middle = 0.5 * (domain.z.line(k) + domain.z.line(k + 1));
    while (middle > face) face += layers[++layer].thickness_mm;
    domain.permittivity.push_back(layers[layer].permittivity);
  }
  domain.planes = {domain.z.nearest(row_height), domain.z.nearest(column_height),
                   domain.z.nearest(surface)};
  domain.ground_top = panel.surroundings_mm > 0.0;
  solver_ = std::make_unique<LayeredSolver>(std::move(domain));
  label(panel, scene, mesh.edge_mm);
}

void PanelWindow::label(const PanelSpec& panel, const Scene& scene, double edge_mm) {
  const LayeredDomain& domain = solver_->domain();
  const auto on_line = [edge_mm](const Lines& lines, double position) {
    const int line = static_cast<int>(std::lround(position / lines.pitch_mm));
    const double reach = 0.5 * lines.width_mm - (kEdgeInset - 0.01) * edge_mm;
    return std::abs(position - line * lines.pitch_mm) <= reach ? line : first_line({-1e6, 0.0});
  };
  labels_ = solver_->bare_labels();
  const int ny = domain.y.size();
  for (int j = 0; j < ny; ++j) {
    const double y = domain.y.line(j);
    const int row = on_line(panel.rows, y);
    for (int i = 0; i < domain.x.size(); ++i) {
      const double x = domain.x.line(i);
      const int column = on_line(panel.columns, x);
      if (row >= first_row_) labels_(i, j) = row_id(row);
      if (column >= first_column_) labels_(i, ny + j) = column_id(column);
      // Outlines that follow no grid line meet it at random, half a cell inside on average, of
      // which the scheme gives back kEdgeInset.
      const double cell = std::sqrt(solver_->area(i, j));
      const bool on_object =
          !scene.object.empty() && scene.object.distance({x, y}) <= (0.5 - kEdgeInset) * cell;
      if (scene.covered || on_object) labels_(i, 2 * ny + j) = object_id();
    }
  }
}

int PanelWindow::twins(int conductor) const {
  if (conductor >= row_count_ + column_count_) return 1;
  const bool is_row = conductor < row_count_;
  const Span& span = is_row ? rows_ : columns_;
  const int line = is_row ? conductor + first_row_ : conductor - row_count_ + first_column_;
  return span.mirrored && std::abs(line - span.begin) > 1e-9 ? 2 : 1;
}

LayeredSolution PanelWindow::field(int conductor) const {
  return solver_->solve(labels_, Eigen::VectorXd::Unit(conductor_count(), conductor));
}

Eigen::VectorXd PanelWindow::charges(const LayeredSolution& solution, int driven) const {
  const int copies = (columns_.mirrored ? 2 : 1) * (rows_.mirrored ? 2 : 1);
  Eigen::VectorXd out = solution.conductor * copies;
  for (int c = 0; c < conductor_count(); ++c) out(c) /= twins(c) * twins(driven);
  return out;
}

Eigen::VectorXd PanelWindow::drive(int conductor) const {
  return charges(field(conductor), conductor);
}

Eigen::VectorXd PanelWindow::drive_bare(int conductor) const {
  const PlaneLabels bare =
      has_object_ ? PlaneLabels((labels_.array() == object_id()).select(kBare, labels_)) : labels_;
  return charges(solver_->solve(bare, Eigen::VectorXd::Unit(conductor_count(), conductor)),
                 conductor);
}

ObjectSolution solve_object(const PanelWindow& window, const std::vector<int>& driven_rows) {
  ObjectSolution out;
  out.first_row = window.first_row();
  out.first_column = window.first_column();
  const int rows = window.row_count();
  const int columns = window.column_count();
  const Eigen::VectorXd object = window.drive(window.object_id());
  out.to_row = -object.head(rows);
  out.to_column = -object.segment(rows, columns);
  out.self = object(window.object_id());
  const int some_row = driven_rows.empty() ? out.first_row + rows / 2 : driven_rows.front();
  out.bare = -window.drive_bare(window.row_id(some_row)).segment(rows, columns);
  out.grounded = Eigen::MatrixXd::Constant(rows, columns, std::numeric_limits<double>::quiet_NaN());
  for (int r = 0; r < rows; ++r) {
    const int row = r + out.first_row;
    if (!driven_rows.empty() &&
        std::find(driven_rows.begin(), driven_rows.end(), row) == driven_rows.end())
      continue;
    out.grounded.row(r) = -window.drive(window.row_id(row)).segment(rows, columns).transpose();
  }
  return out;
}

}  // namespace bareglass::field
