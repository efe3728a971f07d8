#include "bareglass/field/diamond_window.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "window_mesh.hpp"

namespace bareglass::field {

namespace {

const double kRoot2 = std::sqrt(2.0);
constexpr double kCoarser = 2.5;  // cells at edges far from the middle

Point turned(Point p) { return {(p.x + p.y) / kRoot2, (p.x - p.y) / kRoot2}; }

/// The box in u and v around a box in x and y.
Box box_around(const Box& b) {
  Box out{1e30, -1e30, 1e30, -1e30};
  for (const double x : {b.x_low, b.x_high}) {
    for (const double y : {b.y_low, b.y_high}) {
      const Point p = turned({x, y});
      out = {std::min(out.x_low, p.x), std::max(out.x_high, p.x), std::min(out.y_low, p.y),
             std::max(out.y_high, p.y)};
    }
  }
  return out;
}

/// What lies at a place of the electrodes' plane.
struct Spot {
  enum class Kind { bare, row, column } kind = Kind::bare;
  int line = 0;
};

/// `slack` is added to outlines that follow grid lines, `oblique` to those that do not.
Spot spot_at(const Diamonds& d, Point p, double slack, double oblique) {
  const double side = d.pitch_mm / kRoot2;
  const Point t = turned(p);
  const double m = std::floor(t.x / side);
  const double n = std::floor(t.y / side);
  const double row = std::round(p.y / d.pitch_mm);
  const double dx = std::abs(p.x - std::round(p.x / d.pitch_mm) * d.pitch_mm);
  const double dy = std::abs(p.y - row * d.pitch_mm);
  const double half_neck = 0.5 * d.neck_mm;
  if (half_neck > 0.0 && dy <= half_neck + oblique && dx <= d.gap_mm / kRoot2 + half_neck + oblique)
    return {Spot::Kind::row, static_cast<int>(row)};
  const auto from_edge = [side](double at, double low) {
    return std::min(at - low * side, (low + 1.0) * side - at);
  };
  const bool inside =
      from_edge(t.x, m) >= 0.5 * d.gap_mm - slack && from_edge(t.y, n) >= 0.5 * d.gap_mm - slack;
  if (!inside) return {};
  const auto sum = static_cast<int>(m + n);
  const auto difference = static_cast<int>(m - n);
  if (sum % 2 == 0) return {Spot::Kind::row, difference / 2};
  // The tips of a column's diamonds keep clear of the neck between them.
  if (half_neck > 0.0 && dy < half_neck + d.gap_mm - oblique && dx < d.neck_mm + d.gap_mm)
    return {};
  return {Spot::Kind::column, (sum + 1) / 2};
}

}  // namespace

DiamondWindow::DiamondWindow(const PanelSpec& panel, const Mesh& mesh, const Scene& scene,
                             int rings, int fine) {
  if (!panel.diamonds) throw std::invalid_argument("a window of diamonds needs a panel of them");
  if (rings < 2 || rings > 8)
    throw std::invalid_argument("a window holds 2 to 8 rings of diamonds");
  const Diamonds& d = *panel.diamonds;
  pitch_mm_ = d.pitch_mm;
  reach_mm_ = (rings + 0.5) * d.pitch_mm;
  first_row_ = first_column_ = -rings;
  row_count_ = column_count_ = 2 * rings + 1;
  has_object_ = scene.covered || !scene.object.empty();
  twins_.assign(static_cast<std::size_t>(row_count_ + column_count_) + 1, 1);

  LayeredDomain domain;
  const Box box = box_around(scene.object.bounds());
  constexpr double kMargin = 1.0;  // mm; where the field of the outline is steep
  const double cell = scene.object.empty() ? 0.0 : mesh.object_mm;
  domain.x = axis(d, mesh, rings, fine, {box.x_low - kMargin, box.x_high + kMargin, cell});
  domain.y = axis(d, mesh, rings, fine, {box.y_low - kMargin, box.y_high + kMargin, cell});
  stack(domain, panel, mesh, scene, {panel.height_below(d.under)});
  solver_ = std::make_unique<LayeredSolver>(std::move(domain));
  label(panel, scene, mesh.edge_mm);
}

Axis DiamondWindow::axis(const Diamonds& d, const Mesh& mesh, int rings, int fine,
                         const Zone& object) const {
  const double side = d.pitch_mm / kRoot2;
  const double end = (rings + 0.5) * side;
  std::vector<Mark> marks{{-end, 0.0}, {end, 0.0}};
  for (int k = -rings; k <= rings; ++k) {
    const double edge = std::abs(k) <= fine ? mesh.edge_mm : kCoarser * mesh.edge_mm;
    // See kEdgeInset; in a gap of less than two cells the line in it is left to the grading.
    const double outer = 0.5 * d.gap_mm + kEdgeInset * edge;
    for (const double sign : {-1.0, 1.0}) {
      marks.push_back({k * side + sign * outer, edge});
      if (outer > edge) marks.push_back({k * side + sign * (outer - edge), edge});
    }
  }
  Grading grading{mesh.growth, mesh.bulk_mm};
  if (object.spacing > 0.0) grading.zones.push_back(object);
  return graded_axis(std::move(marks), grading);
}

void DiamondWindow::label(const PanelSpec& panel, const Scene& scene, double edge_mm) {
  const int ny = solver_->domain().y.size();
  labels_ = solver_->bare_labels();
  for (int j = 0; j < ny; ++j) {
    for (int i = 0; i < solver_->domain().x.size(); ++i) {
      const Point p = place(i, j);
      const double oblique = (0.5 - kEdgeInset) * std::sqrt(solver_->area(i, j));
      // Lines of electrodes lie at least a third of a cell inside the edge, those in a gap as far
      // outside.
      const Spot spot = spot_at(*panel.diamonds, p, -0.1 * edge_mm, oblique);
      if (spot.kind == Spot::Kind::row) labels_(i, j) = row_id(spot.line);
      if (spot.kind == Spot::Kind::column) labels_(i, j) = column_id(spot.line);
      if (scene.covered || (!scene.object.empty() && scene.object.distance(p) <= oblique))
        labels_(i, ny + j) = object_id();
    }
  }
}

Point DiamondWindow::place(int i, int j) const {
  return turned({solver_->domain().x.line(i), solver_->domain().y.line(j)});
}

double DiamondWindow::at(const Eigen::MatrixXd& plane, Point p) const {
  const Point t = turned(p);
  const auto locate = [](const Axis& axis, double position, int& low, double& part) {
    const auto after = std::upper_bound(axis.at.begin(), axis.at.end(), position);
    low = std::clamp(static_cast<int>(after - axis.at.begin()) - 1, 0, axis.size() - 2);
    part = std::clamp((position - axis.line(low)) / axis.cell(low), 0.0, 1.0);
  };
  int i = 0;
  int j = 0;
  double u = 0.0;
  double v = 0.0;
  locate(solver_->domain().x, t.x, i, u);
  locate(solver_->domain().y, t.y, j, v);
  return (1 - v) * ((1 - u) * plane(i, j) + u * plane(i + 1, j)) +
         v * ((1 - u) * plane(i, j + 1) + u * plane(i + 1, j + 1));
}

double DiamondWindow::charge_per_crossing(const LayeredSolution& solution, int conductor) const {
  constexpr double kCrossings = 4.0;
  const bool is_row = conductor < row_count_;
  const double end = 0.5 * kCrossings * pitch_mm_;
  double sum = 0.0;
  for (int j = 0; j < solver_->domain().y.size(); ++j) {
    for (int i = 0; i < solver_->domain().x.size(); ++i) {
      if (labels_(i, j) != conductor) continue;
      const Point p = place(i, j);
      const double beyond = std::abs(is_row ? p.x : p.y) - end;
      // The cut runs through the middle of a neck: what lies on it counts half.
      if (beyond < 1e-6) sum += (beyond > -1e-6 ? 0.5 : 1.0) * solution.charge(i, j);
    }
  }
  return sum / kCrossings;
}

}  // namespace bareglass::field
