#include "bareglass/field/surface_model.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "line_block.hpp"
#include "line_relief.hpp"
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
          kernels_.cover_permittivity, kernels_.numbers.cover_per_mm2, kernels_.surroundings_mm)),
      relief_(std::make_shared<const LineRelief>(kernels_, *spot_)),
      loss_scale_(relief_->cover_loss() > 0.0 ? kernels_.numbers.full_loss / relief_->cover_loss()
                                              : 1.0) {}

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
  out.unit_ = out.factor_->solve(Eigen::VectorXd::Ones(count)).cast<float>();
  add_relief(out);
  return out;
}

void SurfaceModel::add_relief(PatchedObject& object) const {
  const auto count = static_cast<Eigen::Index>(object.patches_.size());
  for (std::size_t w = 0; w < relief_->waves().size(); ++w) {
    const LineRelief::Wave& wave = relief_->waves()[w];
    Eigen::MatrixXf table(object.grid_.nx, object.grid_.ny);
    for (Eigen::Index j = 0; j < table.cols(); ++j)
      for (Eigen::Index i = 0; i < table.rows(); ++i)
        table(i, j) = static_cast<float>(relief_->between(
            w, static_cast<double>(i) * object.step_mm_, static_cast<double>(j) * object.step_mm_));
    // The phase of two patches' middle, from either one's half of it.
    Eigen::ArrayXf cosine(count);
    Eigen::ArrayXf sine(count);
    for (Eigen::Index n = 0; n < count; ++n) {
      const Point p = object.patches_[static_cast<std::size_t>(n)].centre;
      const double half = 0.5 * wave.k * (wave.along_x ? p.x : p.y);
      cosine(n) = static_cast<float>(std::cos(half));
      sine(n) = static_cast<float>(std::sin(half));
    }
    Eigen::MatrixXf crest(count, count);
    Eigen::MatrixXf quarter(count, count);
    for (Eigen::Index b = 0; b < count; ++b) {
      const PatchedObject::Patch& at = object.patches_[static_cast<std::size_t>(b)];
      for (Eigen::Index a = 0; a < count; ++a) {
        const PatchedObject::Patch& other = object.patches_[static_cast<std::size_t>(a)];
        const float part = table(std::abs(at.i - other.i), std::abs(at.j - other.j));
        crest(a, b) = part * (cosine(a) * cosine(b) - sine(a) * sine(b));
        quarter(a, b) = -part * (sine(a) * cosine(b) + cosine(a) * sine(b));
      }
    }
    object.relief_.push_back(std::make_shared<const Eigen::MatrixXf>(std::move(crest)));
    object.relief_.push_back(std::make_shared<const Eigen::MatrixXf>(std::move(quarter)));
  }
}

double SurfaceModel::between(Point p, Point q, double step) const {
  double volts = spot_->across(p.x - q.x, p.y - q.y, step);
  for (std::size_t w = 0; w < relief_->waves().size(); ++w) {
    const LineRelief::Wave& wave = relief_->waves()[w];
    const double part = relief_->between(w, p.x - q.x, p.y - q.y);
    if (part != 0.0)
      volts -= part * std::cos(0.5 * wave.k * (wave.along_x ? p.x + q.x : p.y + q.y));
  }
  return volts;
}

std::vector<float> SurfaceModel::phases(Point shift) const {
  std::vector<float> out;
  for (const LineRelief::Wave& wave : relief_->waves()) {
    const double phase = wave.k * (wave.along_x ? shift.x : shift.y);
    out.push_back(static_cast<float>(std::cos(phase)));
    out.push_back(static_cast<float>(std::sin(phase)));
  }
  return out;
}

void SurfaceModel::prepare(PatchedObject& object) const {
  if (!object.factorised() || object.inverse_ != nullptr) return;
  const Eigen::Index count = object.unit_.size();
  object.inverse_ = std::make_shared<const Eigen::MatrixXf>(
      object.factor_->solve(Eigen::MatrixXd::Identity(count, count)).cast<float>());
  if (count > kMostRelieved) return;
  for (const auto& part : object.relief_)
    object.relieved_.push_back(
        std::make_shared<const Eigen::MatrixXf>(*object.inverse_ * (*part * *object.inverse_)));
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
  for (const Separable& term : relief_->phi_row().terms) {
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
  for (const Separable& term : relief_->phi_column().terms) {
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

Eigen::MatrixXf SurfaceModel::held_flat(const PatchedObject& object, const Eigen::MatrixXf& volts) {
  if (object.inverse_ != nullptr) return *object.inverse_ * volts;
  return object.factor_->solve(volts.cast<double>()).cast<float>();
}

Eigen::MatrixXf SurfaceModel::held(const PatchedObject& object, Point shift,
                                   const Eigen::MatrixXf& volts) const {
  const std::vector<float> phase = phases(shift);
  if (!object.relieved_.empty()) {
    Eigen::MatrixXf inverse = *object.inverse_;
    for (std::size_t k = 0; k < phase.size(); ++k) inverse += phase[k] * *object.relieved_[k];
    return inverse * volts;
  }
  Eigen::MatrixXf charge = held_flat(object, volts);
  if (phase.empty()) return charge;
  Eigen::MatrixXf taken = Eigen::MatrixXf::Zero(charge.rows(), charge.cols());
  for (std::size_t k = 0; k < phase.size(); ++k)
    taken.noalias() += *object.relief_[k] * (phase[k] * charge);
  return charge + held_flat(object, taken);
}

Eigen::VectorXf SurfaceModel::unit_charge(const PatchedObject& object, Point shift) const {
  return held(object, shift, Eigen::VectorXf::Ones(object.unit_.size()));
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
  // Charges that hold the object at 0 V against the fewer of the two, and those at 1 V.
  const bool rows_charge = rows < columns;
  const Eigen::Index fewer = std::min(rows, columns);
  Eigen::MatrixXf wanted(volts.rows(), fewer + 1);
  if (rows_charge)
    wanted.leftCols(fewer) = row_volts;
  else
    wanted.leftCols(fewer) = column_volts;
  wanted.rightCols(1).setOnes();
  const Eigen::MatrixXf charge = held(object, shift, wanted);
  const auto line_charge = charge.leftCols(fewer);
  const Eigen::VectorXf unit = charge.rightCols(1);
  const Eigen::MatrixXf loss = rows_charge ? Eigen::MatrixXf(line_charge.transpose() * column_volts)
                                           : Eigen::MatrixXf(row_volts.transpose() * line_charge);
  out.loss = loss_scale_ * loss.cast<double>();
  out.to_row = (row_volts.transpose() * unit).cast<double>();
  out.to_column = (column_volts.transpose() * unit).cast<double>();
  out.self = unit.cast<double>().sum();
  return out;
}

Coupling SurfaceModel::couple(const Footprint& footprint, const LineRange& lines) const {
  if (footprint.empty()) return block_around(kernels_, {}, lines);
  const PatchedObject object = cut(footprint);
  return object.factorised() ? couple(object, {}, lines) : quick(footprint, lines);
}

}  // namespace bareglass::field
