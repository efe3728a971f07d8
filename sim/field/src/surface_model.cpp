#include "bareglass/field/surface_model.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include "line_block.hpp"

namespace bareglass::field {

namespace {

constexpr double kPi = 3.14159265358979323846;
/// Lines further from an object than this many pitches are left alone: full solutions of streaks
/// change them by less than 0.2 fF.
constexpr double kFelt = 3.0;
/// Mean of 1/r between two random points of a unit square, (4/3)(1 - sqrt 2) + 4 ln(1 + sqrt 2)
/// (elementary integration).
const double kSquareMean =
    4.0 / 3.0 * (1.0 - std::sqrt(2.0)) + 4.0 * std::log(1.0 + std::sqrt(2.0));

/// Part of a square of `step` at signed distance `distance` from an outline that lies inside it.
double coverage(double distance, double step) {
  return std::clamp(0.5 - distance / step, 0.0, 1.0);
}

/// Mean over two squares of 1/r, `dx`, `dy` and a height `dz` apart, unit `step`; by points.
double mean_inverse(double dx, double dy, double dz, double step) {
  const double distance = std::hypot(dx, dy, dz);
  if (distance > 4.0 * step) return 1.0 / distance;
  constexpr int kPoints = 8;
  double sum = 0.0;
  // The difference of two uniform places has a triangular density.
  double weight = 0.0;
  for (int i = -kPoints + 1; i < kPoints; ++i) {
    for (int j = -kPoints + 1; j < kPoints; ++j) {
      const double w = (kPoints - std::abs(i)) * (kPoints - std::abs(j));
      const double r = std::hypot(dx + i * step / kPoints, dy + j * step / kPoints, dz);
      if (r < 1e-9 * step) continue;
      sum += w / r;
      weight += w;
    }
  }
  return sum / weight;
}

/// First and last line at `pitch` within `margin` of low..high, kept within 0..count-1.
void range(double low, double high, double pitch, int count, int& first, int& last) {
  first = std::clamp(static_cast<int>(std::ceil(low / pitch - kFelt)), 0, count - 1);
  last = std::clamp(static_cast<int>(std::floor(high / pitch + kFelt)), first, count - 1);
}

double sum(const Profile& profile) {
  return std::accumulate(profile.bins.begin(), profile.bins.end(), 0.0);
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
  int nx = 0;
  int ny = 0;
  std::vector<PatchedObject::Patch> patches;
  std::vector<std::pair<int, int>> places;  ///< of each patch among nx x ny
};

/// Squares lie evenly about the middle, so that a symmetric thing is cut symmetrically.
Squares squares_of(const Footprint& footprint, double step) {
  constexpr double kSliver = 0.02;  // less of a square is left out
  const Box box = footprint.bounds();
  Squares out;
  out.step = step;
  out.nx = static_cast<int>(std::ceil((box.x_high - box.x_low) / step)) + 1;
  out.ny = static_cast<int>(std::ceil((box.y_high - box.y_low) / step)) + 1;
  for (int j = 0; j < out.ny; ++j) {
    for (int i = 0; i < out.nx; ++i) {
      const Point p{0.5 * (box.x_low + box.x_high) + (i - 0.5 * (out.nx - 1)) * step,
                    0.5 * (box.y_low + box.y_high) + (j - 0.5 * (out.ny - 1)) * step};
      const double part = coverage(footprint.distance(p), step);
      if (part < kSliver) continue;
      out.patches.push_back({p, part});
      out.places.emplace_back(i, j);
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

SurfaceModel::SurfaceModel(SurfaceKernels kernels) : kernels_(std::move(kernels)) {
  const SurfaceKernels& k = kernels_;
  const auto scale = [&](const Separable& charge, const Separable& potential) {
    const double slab = k.numbers.cover_per_mm2 * sum(potential.x) * sum(potential.y);
    return slab > 0.0 ? sum(charge.x) * sum(charge.y) / slab : 1.0;
  };
  row_scale_ = scale(k.q_row, k.phi_row);
  column_scale_ = scale(k.q_column, k.phi_column);
}

/// Potential of a charged square on another, V per fF, by distance in squares; without the own
/// singular term, which depends on coverage.
Eigen::MatrixXd SurfaceModel::spot_table(double step_mm, int nx, int ny) const {
  const double eps = kernels_.cover_permittivity;
  const double thickness = kEps0 * eps / kernels_.numbers.cover_per_mm2;
  const double beta = (eps - 1.0) / (eps + 1.0);
  Eigen::MatrixXd table(nx, ny);
  for (int i = 0; i < nx; ++i) {
    for (int j = 0; j < ny; ++j) {
      double sum = i + j > 0 ? mean_inverse(i * step_mm, j * step_mm, 0.0, step_mm) : 0.0;
      double strength = -(1.0 + beta);
      for (int n = 1; std::abs(strength) > 1e-4; ++n, strength *= -beta)
        sum += strength * mean_inverse(i * step_mm, j * step_mm, 2.0 * n * thickness, step_mm);
      table(i, j) = sum / (2.0 * kPi * kEps0 * (1.0 + eps));
    }
  }
  return table;
}

PatchedObject SurfaceModel::cut(const Footprint& footprint, double step_mm) const {
  PatchedObject out;
  out.footprint_ = footprint;
  check_extent(footprint.bounds());
  Squares squares;
  for (double step = step_mm; step <= std::max(step_mm, kWidestStep); step *= 1.15) {
    squares = squares_of(footprint, step);
    if (squares.places.size() <= static_cast<std::size_t>(kMostPatches)) break;
  }
  out.step_mm_ = squares.step;
  out.patches_ = squares.patches;
  const auto count = static_cast<Eigen::Index>(out.patches_.size());
  if (count == 0 || count > kMostPatches) return out;

  const Eigen::MatrixXd table = spot_table(squares.step, squares.nx, squares.ny);
  const double own =
      kSquareMean / (2.0 * kPi * kEps0 * (1.0 + kernels_.cover_permittivity)) / squares.step;
  Eigen::MatrixXd potential(count, count);
  for (Eigen::Index b = 0; b < count; ++b) {
    const auto& at = squares.places[static_cast<std::size_t>(b)];
    for (Eigen::Index a = b; a < count; ++a) {
      const auto& other = squares.places[static_cast<std::size_t>(a)];
      potential(a, b) = table(std::abs(at.first - other.first), std::abs(at.second - other.second));
    }
    // A sliver's charge grows as its width, so that an outline moves smoothly through the squares.
    potential(b, b) += own / out.patches_[static_cast<std::size_t>(b)].coverage;
  }
  out.factor_ = std::make_shared<const Eigen::LLT<Eigen::MatrixXd>>(potential);
  if (out.factor_->info() != Eigen::Success) out.factor_ = nullptr;
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

Coupling SurfaceModel::couple(const PatchedObject& object, Point shift,
                              const LineRange& lines) const {
  Box box = object.footprint().bounds();
  box = {box.x_low + shift.x, box.x_high + shift.x, box.y_low + shift.y, box.y_high + shift.y};
  Coupling out = block_around(kernels_, box, lines);
  const Eigen::Index rows = out.to_row.size();
  const Eigen::Index columns = out.to_column.size();
  const auto count = static_cast<Eigen::Index>(object.patches().size());
  if (!object.factorised() || count == 0) return out;
  // Bare potentials of all rows, all columns, and 1 V of the object itself, patch by patch.
  Eigen::MatrixXd volts(count, rows + columns + 1);
  const SurfaceKernels& k = kernels_;
  for (Eigen::Index n = 0; n < count; ++n) {
    const Point p{object.patches()[static_cast<std::size_t>(n)].centre.x + shift.x,
                  object.patches()[static_cast<std::size_t>(n)].centre.y + shift.y};
    const double step = object.step_mm();
    const double row_x =
        mean_over(p.x, step, [&](double x) { return k.phi_row.x.periodic(x, k.column_pitch_mm); });
    const double column_y =
        mean_over(p.y, step, [&](double y) { return k.phi_column.y.periodic(y, k.row_pitch_mm); });
    for (Eigen::Index r = 0; r < rows; ++r) {
      const double at = p.y - static_cast<double>(r + out.first_row) * k.row_pitch_mm;
      volts(n, r) = row_x * mean_over(at, step, [&](double y) { return k.phi_row.y.local(y); });
    }
    for (Eigen::Index c = 0; c < columns; ++c) {
      const double at = p.x - static_cast<double>(c + out.first_column) * k.column_pitch_mm;
      volts(n, rows + c) =
          column_y * mean_over(at, step, [&](double x) { return k.phi_column.x.local(x); });
    }
    volts(n, rows + columns) = 1.0;
  }
  const Eigen::MatrixXd reduced = object.factor_->matrixL().solve(volts);
  const auto row_part = reduced.leftCols(rows);
  const auto column_part = reduced.middleCols(rows, columns);
  const auto own = reduced.col(rows + columns);
  out.loss = row_scale_ * column_scale_ * row_part.transpose() * column_part;
  out.to_row = row_scale_ * row_part.transpose() * own;
  out.to_column = column_scale_ * column_part.transpose() * own;
  out.self = own.squaredNorm();
  return out;
}

Coupling SurfaceModel::couple(const Footprint& footprint, const LineRange& lines) const {
  if (footprint.empty()) return block_around(kernels_, {}, lines);
  const PatchedObject object = cut(footprint);
  return object.factorised() ? couple(object, {}, lines) : quick(footprint, lines);
}

}  // namespace bareglass::field
