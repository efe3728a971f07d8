#include "bareglass/field/panel_window.hpp"

#include <cmath>
#include <stdexcept>

#include "window_mesh.hpp"

namespace bareglass::field {

namespace {

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

}  // namespace

PanelWindow::PanelWindow(const PanelSpec& panel, Span columns, Span rows, const Mesh& mesh,
                         const Scene& scene)
    : columns_(columns), rows_(rows) {
  if (panel.diamonds) throw std::invalid_argument("a panel of diamonds is no bars and stripes");
  check(columns_);
  check(rows_);
  first_row_ = first_line(rows_);
  row_count_ = last_line(rows_) - first_row_ + 1;
  first_column_ = first_line(columns_);
  column_count_ = last_line(columns_) - first_column_ + 1;
  has_object_ = scene.covered || !scene.object.empty();
  copies_ = (columns_.mirrored ? 2 : 1) * (rows_.mirrored ? 2 : 1);
  for (int c = 0; c <= row_count_ + column_count_; ++c) twins_.push_back(twins_of(c));
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

  stack(domain, panel, mesh, scene,
        {panel.height_below(panel.rows.under), panel.height_below(panel.columns.under)});
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

int PanelWindow::twins_of(int conductor) const {
  if (conductor >= row_count_ + column_count_) return 1;
  const bool is_row = conductor < row_count_;
  const Span& span = is_row ? rows_ : columns_;
  const int line = is_row ? conductor + first_row_ : conductor - row_count_ + first_column_;
  return span.mirrored && std::abs(line - span.begin) > 1e-9 ? 2 : 1;
}

}  // namespace bareglass::field
