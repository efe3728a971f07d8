// Cutting an object into patches, and what is computed of it once.

#include <algorithm>
#include <cmath>

#include "bareglass/field/surface_model.hpp"
#include "line_block.hpp"
#include "line_relief.hpp"
#include "spot_response.hpp"
#include "squares.hpp"

namespace bareglass::field {

namespace {

/// A footprint cut into squares, or into squares and blocks of them.
class Squares {
 public:
  /// Squares lie evenly about the middle, so that a symmetric thing is cut symmetrically.
  Squares(const Footprint& footprint, double step, int largest) {
    const Box box = footprint.bounds();
    grid.nx = static_cast<int>(std::ceil((box.x_high - box.x_low) / step)) + 1;
    grid.ny = static_cast<int>(std::ceil((box.y_high - box.y_low) / step)) + 1;
    grid.corner = {0.5 * (box.x_low + box.x_high - (grid.nx - 1) * step),
                   0.5 * (box.y_low + box.y_high - (grid.ny - 1) * step)};
    for (int j = 0; j < grid.ny; j += largest)
      for (int i = 0; i < grid.nx; i += largest) cut(footprint, step, i, j, largest);
  }

  SquareGrid grid;
  std::vector<PatchedObject::Patch> patches;

 private:
  void cut(const Footprint& footprint, double step, int i, int j, int size) {
    if (i >= grid.nx || j >= grid.ny) return;
    const double middle = 0.5 * (size - 1);
    const Point p{grid.corner.x + (i + middle) * step, grid.corner.y + (j + middle) * step};
    const double distance = footprint.distance(p);
    if (size == 1) {
      const double part = covered_part(distance, step);
      if (part >= kSliver) patches.push_back({p, part, i, j, 1});
      return;
    }
    // A block keeps as far from the outline as it is wide: what the outline adds to the charge is
    // as smooth as it is far away.
    const double half_diagonal = std::sqrt(0.5) * size * step;
    if (distance <= -(half_diagonal + size * step) && i + size <= grid.nx && j + size <= grid.ny) {
      patches.push_back({p, 1.0, i, j, size});
      return;
    }
    if (distance > half_diagonal + step) return;
    const int half = size / 2;
    for (const int b : {0, half})
      for (const int a : {0, half}) cut(footprint, step, i + a, j + b, half);
  }
};

/// Potential at one block of squares that a charge of 1, spread evenly over another, makes there.
/// `table` holds that of single squares by distance, (0, 0) their potential on themselves.
double between_blocks(const PatchedObject::Patch& a, const PatchedObject::Patch& b, double step,
                      const Eigen::MatrixXd& table, const SpotResponse& spot) {
  if (a.size == 1 && b.size == 1) return table(std::abs(a.i - b.i), std::abs(a.j - b.j));
  const double dx = a.centre.x - b.centre.x;
  const double dy = a.centre.y - b.centre.y;
  constexpr double kNear = 3.0;  // sides; beyond it second order serves
  if (std::hypot(dx, dy) > kNear * step * std::max(a.size, b.size))
    return spot.between(dx, dy, step * std::sqrt(0.5 * (a.size * a.size + b.size * b.size)));
  double sum = 0.0;
  for (int aj = 0; aj < a.size; ++aj)
    for (int ai = 0; ai < a.size; ++ai)
      for (int bj = 0; bj < b.size; ++bj)
        for (int bi = 0; bi < b.size; ++bi)
          sum += table(std::abs(a.i + ai - b.i - bi), std::abs(a.j + aj - b.j - bj));
  return sum / (a.size * a.size * b.size * b.size);
}

/// A place on a patch, in halves of a square, and half of a wave's phase there.
struct HalfPhase {
  int i;
  int j;
  float cosine;
  float sine;
};

/// Of each patch, the places that stand for it: its middle, or those of a block's cells.
std::vector<std::vector<HalfPhase>> half_phases(const PatchedObject& object,
                                                const LineRelief::Wave& wave) {
  std::vector<std::vector<HalfPhase>> out;
  for (const PatchedObject::Patch& p : object.patches()) {
    std::vector<HalfPhase>& places = out.emplace_back();
    const int odd = p.size > 1 ? 1 : 0;  // the middle of two squares
    for (int j = 0; j < p.size; j += 2)
      for (int i = 0; i < p.size; i += 2) {
        const int along = 2 * (wave.along_x ? p.i + i : p.j + j) + odd;
        const double first = wave.along_x ? object.grid().corner.x : object.grid().corner.y;
        const double half = 0.5 * wave.k * (first + 0.5 * along * object.step_mm());
        places.push_back({2 * (p.i + i) + odd, 2 * (p.j + j) + odd,
                          static_cast<float>(std::cos(half)), static_cast<float>(std::sin(half))});
      }
  }
  return out;
}

}  // namespace

PatchedObject SurfaceModel::cut(const Footprint& footprint, double step_mm) const {
  PatchedObject out;
  out.footprint_ = footprint;
  check_extent(footprint.bounds());
  for (double step = step_mm; step <= std::max(step_mm, kWidestStep); step *= 1.15) {
    Squares squares(footprint, step, 1);
    if (squares.patches.size() > static_cast<std::size_t>(kMostEven))
      squares = Squares(footprint, step, kLargestBlock);
    out.step_mm_ = step;
    out.grid_ = squares.grid;
    out.patches_ = std::move(squares.patches);
    const int most = step < kCoarseStep ? kEnoughPatches : kMostPatches;
    if (out.patches_.size() <= static_cast<std::size_t>(most)) break;
  }
  for (const PatchedObject::Patch& p : out.patches_)
    out.squares_ += static_cast<std::size_t>(p.size * p.size);
  const auto count = static_cast<Eigen::Index>(out.patches_.size());
  if (count == 0 || count > kMostPatches) return out;

  const double step = out.step_mm_;
  const double own = spot_->own(step);
  // Squares lie on a grid: one table serves all pairs.
  Eigen::MatrixXd table(out.grid_.nx, out.grid_.ny);
  for (Eigen::Index j = 0; j < table.cols(); ++j)
    for (Eigen::Index i = 0; i < table.rows(); ++i)
      table(i, j) = i + j == 0 ? own + spot_->reflected(0.0)
                               : spot_->between(static_cast<double>(i) * step,
                                                static_cast<double>(j) * step, step);
  Eigen::MatrixXd potential(count, count);
  for (Eigen::Index b = 0; b < count; ++b) {
    const PatchedObject::Patch& at = out.patches_[static_cast<std::size_t>(b)];
    for (Eigen::Index a = b; a < count; ++a)
      potential(a, b) =
          between_blocks(out.patches_[static_cast<std::size_t>(a)], at, step, table, *spot_);
    // A sliver's charge grows as its width, so that an outline moves smoothly through the squares.
    if (at.size == 1) potential(b, b) += own / at.coverage - own;
  }
  out.factor_ = std::make_shared<const Eigen::LLT<Eigen::MatrixXd>>(potential);
  if (out.factor_->info() != Eigen::Success) {
    out.factor_ = nullptr;
    return out;
  }
  out.unit_ = out.factor_->solve(Eigen::VectorXd::Ones(count)).cast<float>();
  add_relief(out);
  fill_core(out, table);
  return out;
}

void SurfaceModel::find_neighbours(PatchedObject& object) {
  const SquareGrid& grid = object.grid_;
  std::vector<Eigen::Index> number(static_cast<std::size_t>(grid.nx * grid.ny), -1);
  const auto place = [&](int i, int j) { return static_cast<std::size_t>(j * grid.nx + i); };
  for (std::size_t c = 0; c < object.cells_.size(); ++c)
    number[place(object.cells_[c].i, object.cells_[c].j)] = static_cast<Eigen::Index>(c);
  const auto join = [&](std::size_t c, int i, int j) {
    if (i >= grid.nx || j >= grid.ny) return;
    const Eigen::Index other = number[place(i, j)];
    if (other >= 0 && object.cells_[static_cast<std::size_t>(other)].size == object.cells_[c].size)
      object.beside_.emplace_back(static_cast<Eigen::Index>(c), other);
  };
  for (std::size_t c = 0; c < object.cells_.size(); ++c) {
    const PatchedObject::Patch& cell = object.cells_[c];
    join(c, cell.i + cell.size, cell.j);
    join(c, cell.i, cell.j + cell.size);
  }
}

void SurfaceModel::fill_core(PatchedObject& object, const Eigen::MatrixXd& table) const {
  const auto count = static_cast<Eigen::Index>(object.patches_.size());
  for (Eigen::Index n = 0; n < count; ++n) {
    const PatchedObject::Patch& p = object.patches_[static_cast<std::size_t>(n)];
    for (int j = 0; j + 1 < p.size; j += 2)
      for (int i = 0; i + 1 < p.size; i += 2) {
        const Point middle{object.grid_.corner.x + (p.i + i + 0.5) * object.step_mm_,
                           object.grid_.corner.y + (p.j + j + 0.5) * object.step_mm_};
        object.cells_.push_back({middle, 1.0, p.i + i, p.j + j, 2});
        object.under_.push_back(n);
      }
  }
  if (object.cells_.empty()) return;
  const auto in_blocks = static_cast<Eigen::Index>(object.cells_.size());
  for (Eigen::Index n = 0; n < count; ++n) {
    const PatchedObject::Patch& p = object.patches_[static_cast<std::size_t>(n)];
    if (p.size > 1 || p.coverage < 1.0) continue;
    object.cells_.push_back(p);
    object.under_.push_back(n);
  }
  find_neighbours(object);
  const auto cells = static_cast<Eigen::Index>(object.cells_.size());
  Eigen::MatrixXf volts(count, cells);
  for (Eigen::Index c = 0; c < cells; ++c)
    for (Eigen::Index n = 0; n < count; ++n)
      volts(n, c) = static_cast<float>(between_blocks(object.patches_[static_cast<std::size_t>(n)],
                                                      object.cells_[static_cast<std::size_t>(c)],
                                                      object.step_mm_, table, *spot_));
  object.to_patches_ = std::make_shared<const Eigen::MatrixXf>(std::move(volts));
  for (std::size_t w = 0; w < relief_->waves().size(); ++w) {
    // Blocks are wider than the relief is smooth: what it does to them is the mean of their cells.
    Eigen::MatrixXf part = Eigen::MatrixXf::Zero(count, cells);
    Eigen::MatrixXf among(in_blocks, cells);
    for (Eigen::Index c = 0; c < cells; ++c) {
      const Point at = object.cells_[static_cast<std::size_t>(c)].centre;
      for (Eigen::Index n = 0; n < count; ++n) {
        const PatchedObject::Patch& p = object.patches_[static_cast<std::size_t>(n)];
        if (p.size == 1)
          part(n, c) =
              static_cast<float>(relief_->between(w, p.centre.x - at.x, p.centre.y - at.y));
      }
      for (Eigen::Index n = 0; n < in_blocks; ++n) {
        const Point p = object.cells_[static_cast<std::size_t>(n)].centre;
        among(n, c) = static_cast<float>(relief_->between(w, p.x - at.x, p.y - at.y));
      }
    }
    object.relief_to_patches_.push_back(std::make_shared<const Eigen::MatrixXf>(std::move(part)));
    object.relief_to_cells_.push_back(std::make_shared<const Eigen::MatrixXf>(std::move(among)));
  }
}

void SurfaceModel::add_relief(PatchedObject& object) const {
  const auto count = static_cast<Eigen::Index>(object.patches_.size());
  for (std::size_t w = 0; w < relief_->waves().size(); ++w) {
    const LineRelief::Wave& wave = relief_->waves()[w];
    // By half squares, as the middles of blocks lie.
    Eigen::MatrixXf table(2 * object.grid_.nx, 2 * object.grid_.ny);
    for (Eigen::Index j = 0; j < table.cols(); ++j)
      for (Eigen::Index i = 0; i < table.rows(); ++i)
        table(i, j) =
            static_cast<float>(relief_->between(w, 0.5 * static_cast<double>(i) * object.step_mm_,
                                                0.5 * static_cast<double>(j) * object.step_mm_));
    const std::vector<std::vector<HalfPhase>> parts = half_phases(object, wave);
    Eigen::MatrixXf crest(count, count);
    Eigen::MatrixXf quarter(count, count);
    for (Eigen::Index b = 0; b < count; ++b)
      for (Eigen::Index a = b; a < count; ++a) {
        float cosine = 0.0f;
        float sine = 0.0f;
        const std::vector<HalfPhase>& first = parts[static_cast<std::size_t>(a)];
        const std::vector<HalfPhase>& second = parts[static_cast<std::size_t>(b)];
        for (const HalfPhase& p : first)
          for (const HalfPhase& q : second) {
            const float part = table(std::abs(p.i - q.i), std::abs(p.j - q.j));
            cosine += part * (p.cosine * q.cosine - p.sine * q.sine);
            sine += part * (p.sine * q.cosine + p.cosine * q.sine);
          }
        const auto pairs = static_cast<float>(first.size() * second.size());
        crest(a, b) = crest(b, a) = cosine / pairs;
        quarter(a, b) = quarter(b, a) = -sine / pairs;
      }
    object.relief_.push_back(std::make_shared<const Eigen::MatrixXf>(std::move(crest)));
    object.relief_.push_back(std::make_shared<const Eigen::MatrixXf>(std::move(quarter)));
  }
}

void SurfaceModel::prepare(PatchedObject& object) const {
  // Of a large object the inverse takes as long as some ten places, and saves a third of each.
  if (!object.factorised() || object.inverse_ != nullptr || object.graded()) return;
  const Eigen::Index count = object.unit_.size();
  object.inverse_ = std::make_shared<const Eigen::MatrixXf>(
      object.factor_->solve(Eigen::MatrixXd::Identity(count, count)).cast<float>());
  if (count > kMostRelieved) return;
  for (const auto& part : object.relief_)
    object.relieved_.push_back(
        std::make_shared<const Eigen::MatrixXf>(*object.inverse_ * (*part * *object.inverse_)));
}

}  // namespace bareglass::field
