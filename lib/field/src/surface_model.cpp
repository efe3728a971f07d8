#include "bareglass/field/surface_model.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include "line_block.hpp"
#include "spot_response.hpp"
#include "squares.hpp"

namespace bareglass::field {

namespace {

/// Lines further from an object than this many pitches are left alone: full solutions of streaks
/// change them by less than 0.2 fF.
constexpr double kFelt = 3.0;

/// First and last line at `pitch` within `margin` of low..high, kept within 0..count-1.
void range(double low, double high, double pitch, int count, int& first, int& last) {
  first = std::clamp(static_cast<int>(std::ceil(low / pitch - kFelt)), 0, count - 1);
  last = std::clamp(static_cast<int>(std::floor(high / pitch + kFelt)), first, count - 1);
}

double sum(const Profile& profile) {
  return std::accumulate(profile.bins.begin(), profile.bins.end(), 0.0);
}

double sum(const Kernel& kernel) {
  double out = 0.0;
  for (const Separable& term : kernel.terms) out += sum(term.x) * sum(term.y);
  return out;
}

/// A function of a line's offset, averaged over a square of `step` at `position`.
template <typename Function>
double mean_over(double position, double step, const Function& function) {
  constexpr int kPoints = 4;
  double sum = 0.0;
  for (int i = 0; i < kPoints; ++i) sum += function(position + ((i + 0.5) / kPoints - 0.5) * step);
  return sum / kPoints;
}

/// A footprint cut into squares.
struct Squares {
  double step = 0.0;
  SquareGrid grid;
  std::vector<PatchedObject::Patch> patches;
};

/// Squares lie evenly about the middle, so that a symmetric thing is cut symmetrically.
Squares squares_of(const Footprint& footprint, double step) {
  const Box box = footprint.bounds();
  Squares out;
  out.step = step;
  out.grid.nx = static_cast<int>(std::ceil((box.x_high - box.x_low) / step)) + 1;
  out.grid.ny = static_cast<int>(std::ceil((box.y_high - box.y_low) / step)) + 1;
  out.grid.corner = {0.5 * (box.x_low + box.x_high - (out.grid.nx - 1) * step),
                     0.5 * (box.y_low + box.y_high - (out.grid.ny - 1) * step)};
  for (int j = 0; j < out.grid.ny; ++j) {
    for (int i = 0; i < out.grid.nx; ++i) {
      const Point p{out.grid.corner.x + i * step, out.grid.corner.y + j * step};
      const double part = covered_part(footprint.distance(p), step);
      if (part >= kSliver) out.patches.push_back({p, part, i, j});
    }
  }
  return out;
}

}  // namespace

double Coupling::change(int row, int column, double to_ground) const {
  const int r = row - first_row;
  const int c = column - first_column;
  if (r < 0 || c < 0 || r >= loss.rows() || c >= loss.cols()) return 0.0;
  // Nothing on the glass has no couplings either.
  const bool none = std::isinf(to_ground) || self + to_ground <= 0.0;
  return (none ? 0.0 : to_row(r) * to_column(c) / (self + to_ground)) - loss(r, c);
}

SurfaceModel::SurfaceModel(SurfaceKernels kernels)
    : kernels_(std::move(kernels)),
      spot_(std::make_shared<const SpotResponse>(
          kernels_.cover_permittivity, kernels_.numbers.cover_per_mm2, kernels_.surroundings_mm)) {
  const auto scale = [&](const Kernel& charge, const Kernel& potential) {
    const double slab = kernels_.numbers.cover_per_mm2 * sum(potential);
    return slab > 0.0 ? sum(charge) / slab : 1.0;
  };
  row_scale_ = scale(kernels_.q_row, kernels_.phi_row);
  column_scale_ = scale(kernels_.q_column, kernels_.phi_column);
}

PatchedObject SurfaceModel::cut(const Footprint& footprint, double step_mm) const {
  PatchedObject out;
  out.footprint_ = footprint;
  check_extent(footprint.bounds());
  Squares squares;
  for (double step = step_mm; step <= std::max(step_mm, kWidestStep); step *= 1.15) {
    squares = squares_of(footprint, step);
    if (squares.patches.size() <= static_cast<std::size_t>(kMostPatches)) break;
  }
  out.step_mm_ = squares.step;
  out.grid_ = squares.grid;
  out.patches_ = std::move(squares.patches);
  const auto count = static_cast<Eigen::Index>(out.patches_.size());
  if (count == 0 || count > kMostPatches) return out;

  const double step = out.step_mm_;
  const double own = spot_->own(step);
  const double reflected = spot_->reflected(0.0);
  // Squares lie on a grid: one table serves all pairs.
  Eigen::MatrixXd table(out.grid_.nx, out.grid_.ny);
  for (Eigen::Index j = 0; j < table.cols(); ++j)
    for (Eigen::Index i = 0; i < table.rows(); ++i)
      table(i, j) = i + j == 0 ? reflected
                               : spot_->between(static_cast<double>(i) * step,
                                                static_cast<double>(j) * step, step);
  Eigen::MatrixXd potential(count, count);
  for (Eigen::Index b = 0; b < count; ++b) {
    const PatchedObject::Patch& at = out.patches_[static_cast<std::size_t>(b)];
    for (Eigen::Index a = b; a < count; ++a) {
      const PatchedObject::Patch& other = out.patches_[static_cast<std::size_t>(a)];
      potential(a, b) = table(std::abs(at.i - other.i), std::abs(at.j - other.j));
    }
    // A sliver's charge grows as its width, so that an outline moves smoothly through the squares.
    potential(b, b) += own / at.coverage;
  }
  out.factor_ = std::make_shared<const Eigen::LLT<Eigen::MatrixXd>>(potential);
  if (out.factor_->info() != Eigen::Success) {
    out.factor_ = nullptr;
    return out;
  }
  const Eigen::VectorXd unit = out.factor_->solve(Eigen::VectorXd::Ones(count));
  out.unit_ = unit.cast<float>();
  out.self_ = unit.sum();
  return out;
}

void SurfaceModel::prepare(PatchedObject& object) const {
  if (!object.factorised() || object.inverse_ != nullptr) return;
  const Eigen::Index count = object.unit_.size();
  object.inverse_ = std::make_shared<const Eigen::MatrixXf>(
      object.factor_->solve(Eigen::MatrixXd::Identity(count, count)).cast<float>());
}

void check_extent(const Box& box) {
  constexpr double kLargest = 2000.0;  // mm; no panel is as large
  for (const double edge : {box.x_low, box.x_high, box.y_low, box.y_high})
    if (!(std::abs(edge) <= kLargest))
      throw std::invalid_argument("an object must lie within 2 m of the first node");
}

Coupling block_around(const SurfaceKernels& kernels, const Box& box, const LineRange& lines) {
  check_extent(box);
  Coupling out;
  int last_row = 0;
  int last_column = 0;
  range(box.y_low, box.y_high, kernels.row_pitch_mm, lines.rows, out.first_row, last_row);
  range(box.x_low, box.x_high, kernels.column_pitch_mm, lines.columns, out.first_column,
        last_column);
  const int rows = last_row - out.first_row + 1;
  const int columns = last_column - out.first_column + 1;
  out.loss = Eigen::MatrixXd::Zero(rows, columns);
  out.to_row = Eigen::VectorXd::Zero(rows);
  out.to_column = Eigen::VectorXd::Zero(columns);
  return out;
}

Eigen::MatrixXf SurfaceModel::bare_volts(const PatchedObject& object, Point shift,
                                         const Coupling& block) const {
  const SurfaceKernels& k = kernels_;
  const double step = object.step_mm();
  const Eigen::Index rows = block.to_row.size();
  const Eigen::Index columns = block.to_column.size();
  // Values on the lines of squares, of which there are far fewer than squares.
  const auto along = [step](Eigen::MatrixXf& out, double first, const auto& value) {
    for (Eigen::Index n = 0; n < out.rows(); ++n)
      for (Eigen::Index l = 0; l < out.cols(); ++l)
        out(n, l) = static_cast<float>(
            mean_over(first + static_cast<double>(n) * step, step,
                      [&](double at) { return value(at, static_cast<double>(l)); }));
  };
  const double x0 = object.grid_.corner.x + shift.x;
  const double y0 = object.grid_.corner.y + shift.y;
  Eigen::MatrixXf out = Eigen::MatrixXf::Zero(object.unit_.size(), rows + columns);
  Eigen::MatrixXf periodic;
  Eigen::MatrixXf local;
  for (const Separable& term : k.phi_row.terms) {
    periodic.resize(object.grid_.nx, 1);
    local.resize(object.grid_.ny, rows);
    along(periodic, x0, [&](double x, double) { return term.x.periodic(x, k.column_pitch_mm); });
    along(local, y0, [&](double y, double row) {
      return term.y.local(y - (row + block.first_row) * k.row_pitch_mm);
    });
    for (Eigen::Index r = 0; r < rows; ++r)
      for (Eigen::Index n = 0; n < out.rows(); ++n) {
        const PatchedObject::Patch& p = object.patches_[static_cast<std::size_t>(n)];
        out(n, r) += periodic(p.i, 0) * local(p.j, r);
      }
  }
  for (const Separable& term : k.phi_column.terms) {
    periodic.resize(object.grid_.ny, 1);
    local.resize(object.grid_.nx, columns);
    along(periodic, y0, [&](double y, double) { return term.y.periodic(y, k.row_pitch_mm); });
    along(local, x0, [&](double x, double column) {
      return term.x.local(x - (column + block.first_column) * k.column_pitch_mm);
    });
    for (Eigen::Index c = 0; c < columns; ++c)
      for (Eigen::Index n = 0; n < out.rows(); ++n) {
        const PatchedObject::Patch& p = object.patches_[static_cast<std::size_t>(n)];
        out(n, rows + c) += periodic(p.j, 0) * local(p.i, c);
      }
  }
  return out;
}

Eigen::MatrixXf SurfaceModel::held(const PatchedObject& object, const Eigen::MatrixXf& volts) {
  if (object.inverse_ != nullptr) return *object.inverse_ * volts;
  return object.factor_->solve(volts.cast<double>()).cast<float>();
}

Coupling SurfaceModel::couple(const PatchedObject& object, Point shift,
                              const LineRange& lines) const {
  Box box = object.footprint().bounds();
  box = {box.x_low + shift.x, box.x_high + shift.x, box.y_low + shift.y, box.y_high + shift.y};
  Coupling out = block_around(kernels_, box, lines);
  if (!object.factorised()) return out;
  const Eigen::Index rows = out.to_row.size();
  const Eigen::Index columns = out.to_column.size();
  const Eigen::MatrixXf volts = bare_volts(object, shift, out);
  const auto row_volts = volts.leftCols(rows);
  const auto column_volts = volts.rightCols(columns);
  // Charges that hold the object at 0 V against the fewer of the two.
  const bool rows_charge = rows < columns;
  const Eigen::MatrixXf charge = held(object, rows_charge ? row_volts : column_volts);
  const Eigen::MatrixXf loss = rows_charge ? Eigen::MatrixXf(charge.transpose() * column_volts)
                                           : Eigen::MatrixXf(row_volts.transpose() * charge);
  out.loss = row_scale_ * column_scale_ * loss.cast<double>();
  out.to_row = row_scale_ * (row_volts.transpose() * object.unit_).cast<double>();
  out.to_column = column_scale_ * (column_volts.transpose() * object.unit_).cast<double>();
  out.self = object.self();
  return out;
}

Coupling SurfaceModel::couple(const Footprint& footprint, const LineRange& lines) const {
  if (footprint.empty()) return block_around(kernels_, {}, lines);
  const PatchedObject object = cut(footprint);
  return object.factorised() ? couple(object, {}, lines) : quick(footprint, lines);
}

}  // namespace bareglass::field
