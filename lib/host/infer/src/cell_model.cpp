#include "bareglass/infer/cell_model.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::infer {

namespace {

/// Mean of a profile over a cell, in steps small beside what it changes over.
constexpr int kSteps = 8;

/// Integrals of `profile` over the cells of each line, in units of the kernels' own lengths (mm):
/// lines x cells. Cell k of a line `l` reaches from (k / kCells - 1/2) pitches on.
Eigen::MatrixXf local_integrals(const field::Profile& profile, int lines, double pitch_mm) {
  const int cells = lines * CellModel::kCells;
  const double width = pitch_mm / CellModel::kCells;
  Eigen::MatrixXf out(lines, cells);
  for (int l = 0; l < lines; ++l)
    for (int k = 0; k < cells; ++k) {
      double sum = 0.0;
      for (int s = 0; s < kSteps; ++s) {
        const double at = (k + (s + 0.5) / kSteps) * width - pitch_mm / 2.0;
        sum += profile.local(at - l * pitch_mm);
      }
      out(l, k) = static_cast<float>(sum / kSteps * width);
    }
  return out;
}

Eigen::MatrixXf periodic_integrals(const field::Profile& profile, int lines, double pitch_mm) {
  const int cells = lines * CellModel::kCells;
  const double width = pitch_mm / CellModel::kCells;
  Eigen::MatrixXf out(1, cells);
  for (int k = 0; k < cells; ++k) {
    double sum = 0.0;
    for (int s = 0; s < kSteps; ++s)
      sum += profile.periodic((k + (s + 0.5) / kSteps) * width - pitch_mm / 2.0, pitch_mm);
    out(0, k) = static_cast<float>(sum / kSteps * width);
  }
  return out;
}

/// Integral over one crossing of a charge density, of both profiles.
double over_crossing(const field::Kernel& q, bool of_rows, double px, double py) {
  double sum = 0.0;
  for (const field::Separable& t : q.terms) {
    const field::Profile& local = of_rows ? t.y : t.x;
    const field::Profile& periodic = of_rows ? t.x : t.y;
    double along = 0.0;
    for (const double v : local.bins) along += 2.0 * v * local.step_mm;
    double across = 0.0;
    for (const double v : periodic.bins) across += v;
    sum += along * across / static_cast<double>(periodic.bins.size()) * (of_rows ? px : py);
  }
  return sum;
}

}  // namespace

CellModel::CellModel(const field::SurfaceKernels& kernels, int rows, int columns,
                     double pitch_x_mm, double pitch_y_mm)
    : rows_(rows),
      columns_(columns),
      cell_x_(pitch_x_mm / kCells),
      cell_y_(pitch_y_mm / kCells) {
  const double px = kernels.column_pitch_mm;
  const double py = kernels.row_pitch_mm;
  // All in the kernels' own lengths; capacitance then grows as the panel does.
  const double scale = std::sqrt(pitch_x_mm * pitch_y_mm / (px * py));
  const auto by = static_cast<float>(scale);
  rim_ = kernels.allowances.line_mm * scale;
  full_ = by * static_cast<float>(kernels.numbers.full_loss);
  node_ = by * static_cast<float>(kernels.numbers.node);
  cell_self_ =
      by * static_cast<float>(kernels.numbers.cover_per_mm2 * px * py / (kCells * kCells));
  const double passed = over_crossing(kernels.q_row, true, px, py) *
                        over_crossing(kernels.q_column, false, px, py) /
                        (kernels.numbers.cover_per_mm2 * px * py);
  most_layer_ = static_cast<float>(
      std::max(0.01, (passed - kernels.numbers.full_loss) / kernels.numbers.full_loss));
  for (const field::Separable& t : kernels.loss.terms)
    loss_.push_back(
        {by * local_integrals(t.y, rows, py), local_integrals(t.x, columns, px)});
  for (const field::Separable& t : kernels.q_row.terms)
    row_.push_back({by * local_integrals(t.y, rows, py), periodic_integrals(t.x, columns, px)});
  for (const field::Separable& t : kernels.q_column.terms)
    column_.push_back({by * periodic_integrals(t.y, rows, py), local_integrals(t.x, columns, px)});
}

NodeMap CellModel::loss(const CoverMap& cover) const {
  NodeMap out = NodeMap::Zero(rows_, columns_);
  for (const Term& t : loss_) out.noalias() += (t.y * cover) * t.x.transpose();
  return out;
}

BodyCoupling CellModel::couple(const CoverMap& cover) const {
  BodyCoupling out{Eigen::VectorXf::Zero(rows_), Eigen::VectorXf::Zero(columns_), 0.f};
  for (const Term& t : row_) out.to_row.noalias() += t.y * (cover * t.x.transpose());
  for (const Term& t : column_)
    out.to_column.noalias() += t.x * (cover.transpose() * t.y.transpose());
  out.self = cell_self_ * cover.sum();
  return out;
}

NodeMap CellModel::passed_on(const BodyCoupling& body, float to_earth) {
  const float whole = body.self + to_earth;
  if (std::isinf(to_earth) || whole <= 0.f)
    return NodeMap::Zero(body.to_row.size(), body.to_column.size());
  return body.to_row * (body.to_column / whole).transpose();
}

NodeMap CellModel::change(const std::vector<Body>& bodies) const {
  NodeMap out = NodeMap::Zero(rows_, columns_);
  for (const Body& b : bodies) out += loss(b.cover) - passed_on(couple(b.cover), b.to_earth);
  return out;
}

CoverMap CellModel::loss_back(const NodeMap& weight) const {
  CoverMap out = CoverMap::Zero(cells_y(), cells_x());
  for (const Term& t : loss_) out.noalias() += t.y.transpose() * (weight * t.x);
  return out;
}

CoverMap CellModel::passed_back(const NodeMap& weight, const BodyCoupling& body,
                                float to_earth) const {
  CoverMap out = CoverMap::Zero(cells_y(), cells_x());
  const float whole = body.self + to_earth;
  if (std::isinf(to_earth) || whole <= 0.f) return out;
  const Eigen::VectorXf by_row = weight * body.to_column / whole;
  const Eigen::VectorXf by_column = weight.transpose() * body.to_row / whole;
  for (const Term& t : row_) out.noalias() += (t.y.transpose() * by_row) * t.x;
  for (const Term& t : column_)
    out.noalias() += t.y.transpose() * (t.x.transpose() * by_column).transpose();
  const float both = body.to_row.dot(weight * body.to_column);
  out.array() -= cell_self_ * both / (whole * whole);
  return out;
}

}  // namespace bareglass::infer
