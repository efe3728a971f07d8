#include "bareglass/field/surface_model.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "line_block.hpp"
#include "line_relief.hpp"
#include "spot_response.hpp"

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

Eigen::MatrixXf SurfaceModel::held_flat(const PatchedObject& object, const Eigen::MatrixXf& volts) {
  if (object.inverse_ != nullptr) return *object.inverse_ * volts;
  return object.factor_->solve(volts.cast<double>()).cast<float>();
}

Eigen::MatrixXf SurfaceModel::held(const PatchedObject& object, Point shift,
                                   const Eigen::MatrixXf& volts) const {
  const std::vector<float> phase = phases(shift);
  if (!object.relieved_.empty()) {
    // Two parts at a time: reading the matrices takes longer than adding them.
    Eigen::MatrixXf inverse =
        *object.inverse_ + phase[0] * *object.relieved_[0] + phase[1] * *object.relieved_[1];
    for (std::size_t k = 2; k < phase.size(); k += 2)
      inverse += phase[k] * *object.relieved_[k] + phase[k + 1] * *object.relieved_[k + 1];
    return inverse * volts;
  }
  Eigen::MatrixXf charge = held_flat(object, volts);
  if (phase.empty()) return charge;
  Eigen::MatrixXf taken = Eigen::MatrixXf::Zero(charge.rows(), charge.cols());
  for (std::size_t k = 0; k < phase.size(); ++k)
    taken.noalias() += *object.relief_[k] * (phase[k] * charge);
  return charge + held_flat(object, taken);
}

Coupling SurfaceModel::couple(const PatchedObject& object, Point shift,
                              const LineRange& lines) const {
  Box box = object.footprint().bounds();
  box = {box.x_low + shift.x, box.x_high + shift.x, box.y_low + shift.y, box.y_high + shift.y};
  Coupling out = block_around(kernels_, box, lines);
  if (!object.factorised()) return out;
  const Eigen::Index rows = out.to_row.size();
  const Eigen::Index columns = out.to_column.size();
  const Sources on = sources(object, shift, out);
  const Eigen::MatrixXf& row_volts = on.row_volts;
  const Eigen::MatrixXf& column_volts = on.column_volts;
  // Charges that hold the object at 0 V against the fewer of the two, and those at 1 V.
  const bool rows_charge = rows < columns;
  const Eigen::Index fewer = std::min(rows, columns);
  Eigen::MatrixXf wanted(row_volts.rows(), fewer + 1);
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
  out.to_row = (row_volts.transpose() * unit).cast<double>();
  out.to_column = (column_volts.transpose() * unit).cast<double>();
  out.loss = loss.cast<double>();
  if (object.graded()) {
    out.loss += core_loss(object, shift, out, on).cast<double>();
    out.to_row += on.row_core.colwise().sum().transpose().cast<double>();
    out.to_column += on.column_core.colwise().sum().transpose().cast<double>();
  }
  out.loss *= loss_scale_;
  out.self = unit.cast<double>().sum();
  return out;
}

Coupling SurfaceModel::couple(const Footprint& footprint, const LineRange& lines) const {
  if (footprint.empty()) return block_around(kernels_, {}, lines);
  const PatchedObject object = cut(footprint);
  return object.factorised() ? couple(object, {}, lines) : quick(footprint, lines);
}

}  // namespace bareglass::field
