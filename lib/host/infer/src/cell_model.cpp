#include "bareglass/infer/cell_model.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::infer {

namespace {

/// Mean of a profile over a cell, in steps small beside what it changes over.
constexpr int kSteps = 8;

// A conductor is a layer of endless permittivity. What is found as a layer reaches a part of it:
// 0.2 mm of alcohol 0.36, wet paper 0.23, a label 0.13, tape 0.02 (field solutions of whole-area
// films through 1.1 mm of glass).
constexpr double kLayerPart = 0.5;

constexpr double kPi = 3.14159265358979323846;
constexpr float kRound = 0.05f;  // where the length of an outline turns from square to linear
// Where most of what a node sees is covered, field that gathers at the rim takes some of the rest:
// loss = full (f + kGather f^4 (1 - f)). Fitted to the patch model over discs of 6 to 30 mm on 0.7
// to 3 mm of glass, which it follows within 3 % of the full loss.
constexpr float kGather = 1.2f;

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

// Cell k of a line `l` reaches from (k / kCells - 1/2) pitches on. All in the kernels' own lengths.
CellModel::Band CellModel::local(const field::Profile& profile, int lines, double pitch_mm,
                                 float scale) {
  const Eigen::Index cells = static_cast<Eigen::Index>(lines) * kCells;
  const double width = pitch_mm / kCells;
  const double reach = profile.step_mm * static_cast<double>(profile.bins.size());
  const auto span =
      std::min<Eigen::Index>(cells, 2 * static_cast<Eigen::Index>(std::ceil(reach / width)) + 2);
  Band out;
  out.weight.resize(lines, span);
  for (int l = 0; l < lines; ++l) {
    const double left = (l * pitch_mm - reach + pitch_mm / 2.0) / width;
    const Eigen::Index first =
        std::clamp<Eigen::Index>(static_cast<Eigen::Index>(std::floor(left)), 0, cells - span);
    out.first.push_back(first);
    for (Eigen::Index k = 0; k < span; ++k) {
      double sum = 0.0;
      for (int s = 0; s < kSteps; ++s) {
        const double at =
            (static_cast<double>(first + k) + (s + 0.5) / kSteps) * width - pitch_mm / 2.0;
        sum += profile.local(at - l * pitch_mm);
      }
      out.weight(l, k) = scale * static_cast<float>(sum / kSteps * width);
    }
  }
  return out;
}

CellModel::Band CellModel::periodic(const field::Profile& profile, int lines, double pitch_mm,
                                    float scale) {
  const int cells = lines * kCells;
  const double width = pitch_mm / kCells;
  Band out;
  out.weight.resize(1, cells);
  for (int k = 0; k < cells; ++k) {
    double sum = 0.0;
    for (int s = 0; s < kSteps; ++s)
      sum += profile.periodic((k + (s + 0.5) / kSteps) * width - pitch_mm / 2.0, pitch_mm);
    out.weight(0, k) = scale * static_cast<float>(sum / kSteps * width);
  }
  return out;
}

Eigen::MatrixXf CellModel::down(const Band& y, const CoverMap& cover) {
  if (!y.is_local()) return y.weight * cover;
  Eigen::MatrixXf out(y.weight.rows(), cover.cols());
  for (Eigen::Index l = 0; l < out.rows(); ++l)
    out.row(l).noalias() =
        y.weight.row(l) * cover.middleRows(y.first[static_cast<std::size_t>(l)], y.weight.cols());
  return out;
}

Eigen::MatrixXf CellModel::across(const Eigen::MatrixXf& values, const Band& x) {
  if (!x.is_local()) return values * x.weight.transpose();
  Eigen::MatrixXf out(values.rows(), x.weight.rows());
  for (Eigen::Index l = 0; l < out.cols(); ++l)
    out.col(l).noalias() =
        values.middleCols(x.first[static_cast<std::size_t>(l)], x.weight.cols()) *
        x.weight.row(l).transpose();
  return out;
}

void CellModel::back(CoverMap& out, const Band& y, const Eigen::MatrixXf& values, const Band& x) {
  Eigen::MatrixXf wide = Eigen::MatrixXf::Zero(values.rows(), out.cols());
  if (x.is_local())
    for (Eigen::Index l = 0; l < x.weight.rows(); ++l)
      wide.middleCols(x.first[static_cast<std::size_t>(l)], x.weight.cols()).noalias() +=
          values.col(l) * x.weight.row(l);
  else
    wide.noalias() = values * x.weight;
  if (y.is_local())
    for (Eigen::Index l = 0; l < y.weight.rows(); ++l)
      out.middleRows(y.first[static_cast<std::size_t>(l)], y.weight.cols()).noalias() +=
          y.weight.row(l).transpose() * wide.row(l);
  else
    out.noalias() += y.weight.transpose() * wide;
}

CellModel::CellModel(const field::SurfaceKernels& kernels, int rows, int columns, double pitch_x_mm,
                     double pitch_y_mm)
    : rows_(rows), columns_(columns), cell_x_(pitch_x_mm / kCells), cell_y_(pitch_y_mm / kCells) {
  const double px = kernels.column_pitch_mm;
  const double py = kernels.row_pitch_mm;
  // All in the kernels' own lengths; capacitance then grows as the panel does.
  const double scale = std::sqrt(pitch_x_mm * pitch_y_mm / (px * py));
  const auto by = static_cast<float>(scale);
  rim_ = kernels.allowances.line_mm * scale;
  // A raster's outline is longer than a round one by 4 / pi.
  self_rim_ = scale * kernels.numbers.cover_per_mm2 * 0.25 * kPi *
              (kernels.allowances.self_mm - kernels.allowances.line_mm);
  full_ = by * static_cast<float>(kernels.numbers.full_loss);
  node_ = by * static_cast<float>(kernels.numbers.node);
  cell_self_ = by * static_cast<float>(kernels.numbers.cover_per_mm2 * px * py / (kCells * kCells));
  const double passed = over_crossing(kernels.q_row, true, px, py) *
                        over_crossing(kernels.q_column, false, px, py) /
                        (kernels.numbers.cover_per_mm2 * px * py);
  most_layer_ =
      static_cast<float>(kLayerPart * std::max(0.01, (passed - kernels.numbers.full_loss) /
                                                         kernels.numbers.full_loss));
  const auto part = static_cast<float>(1.0 / kernels.numbers.full_loss);
  for (const field::Separable& t : kernels.loss.terms)
    loss_.push_back({local(t.y, rows, py, part), local(t.x, columns, px, 1.f)});
  for (const field::Separable& t : kernels.q_row.terms)
    row_.push_back({local(t.y, rows, py, by), periodic(t.x, columns, px, 1.f)});
  for (const field::Separable& t : kernels.q_column.terms)
    column_.push_back({periodic(t.y, rows, py, by), local(t.x, columns, px, 1.f)});
}

NodeMap CellModel::covered(const CoverMap& cover) const {
  NodeMap out = NodeMap::Zero(rows_, columns_);
  for (const Term& t : loss_) out += across(down(t.y, cover), t.x);
  return out;
}

NodeMap CellModel::loss(const NodeMap& covered) const {
  return covered.unaryExpr([this](float f) {
    const float in = std::clamp(f, 0.f, 1.f);
    return full_ * (f + kGather * in * in * in * in * (1.f - in));
  });
}

NodeMap CellModel::loss_slope(const NodeMap& covered) const {
  return covered.unaryExpr([this](float f) {
    const float in = std::clamp(f, 0.f, 1.f);
    return full_ * (1.f + kGather * in * in * in * (4.f - 5.f * in));
  });
}

// By whole columns: a fit asks for it at every step, and a loop without branches is done four at a
// time.
double CellModel::outline(const CoverMap& m, double price, CoverMap* slope) const {
  const Eigen::Index inside = m.rows() - 1;
  const auto paid = static_cast<float>(price);
  double sum = 0.0;
  Eigen::ArrayXf step;
  Eigen::ArrayXf size;
  const auto edges = [&](float weight) {
    size = (step.square() + kRound * kRound).sqrt();
    sum += static_cast<double>(weight * (size - kRound).sum());
    if (slope != nullptr) step *= paid * weight / size;
  };
  for (Eigen::Index i = 0; i < m.cols(); ++i) {
    step = m.col(i).tail(inside) - m.col(i).head(inside);
    edges(static_cast<float>(cell_x_));
    if (slope != nullptr) {
      slope->col(i).tail(inside).array() += step;
      slope->col(i).head(inside).array() -= step;
    }
    if (i + 1 == m.cols()) break;
    step = m.col(i + 1) - m.col(i);
    edges(static_cast<float>(cell_y_));
    if (slope == nullptr) continue;
    slope->col(i + 1).array() += step;
    slope->col(i).array() -= step;
  }
  return sum;
}

BodyCoupling CellModel::couple(const CoverMap& cover) const {
  BodyCoupling out{Eigen::VectorXf::Zero(rows_), Eigen::VectorXf::Zero(columns_), 0.f};
  for (const Term& t : row_) out.to_row += down(t.y, across(cover, t.x));
  for (const Term& t : column_) out.to_column += across(down(t.y, cover), t.x).transpose();
  out.self =
      cell_self_ * cover.sum() + static_cast<float>(self_rim_ * outline(cover, 0.0, nullptr));
  return out;
}

NodeMap CellModel::passed_on(const BodyCoupling& body, float to_earth) {
  const float whole = body.self + to_earth;
  if (std::isinf(to_earth) || whole <= 0.f)
    return NodeMap::Zero(body.to_row.size(), body.to_column.size());
  return body.to_row * (body.to_column / whole).transpose();
}

CoverMap CellModel::covered_back(const NodeMap& weight) const {
  CoverMap out = CoverMap::Zero(cells_y(), cells_x());
  for (const Term& t : loss_) back(out, t.y, weight, t.x);
  return out;
}

CoverMap CellModel::passed_back(const NodeMap& weight, const CoverMap& cover,
                                const BodyCoupling& body, float to_earth) const {
  CoverMap out = CoverMap::Zero(cells_y(), cells_x());
  const float whole = body.self + to_earth;
  if (std::isinf(to_earth) || whole <= 0.f) return out;
  const Eigen::VectorXf by_row = weight * body.to_column / whole;
  const Eigen::VectorXf by_column = weight.transpose() * body.to_row / whole;
  for (const Term& t : row_) back(out, t.y, by_row, t.x);
  for (const Term& t : column_) back(out, t.y, by_column.transpose(), t.x);
  const float both = body.to_row.dot(weight * body.to_column);
  const float by_self = -both / (whole * whole);
  out.array() += cell_self_ * by_self;
  outline(cover, self_rim_ * static_cast<double>(by_self), &out);
  return out;
}

}  // namespace bareglass::infer
