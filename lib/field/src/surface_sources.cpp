// What acts on the patches of an object where it lies: the bare potentials of the lines, and what a
// large object's core makes of them.

#include <algorithm>
#include <cmath>

#include "bareglass/field/surface_model.hpp"
#include "line_relief.hpp"

namespace bareglass::field {

namespace {

/// A function of a line's offset, averaged over a square of `step` at `position`.
template <typename Function>
double mean_over(double position, double step, const Function& function) {
  constexpr int kPoints = 4;
  double sum = 0.0;
  for (int i = 0; i < kPoints; ++i) sum += function(position + ((i + 0.5) / kPoints - 0.5) * step);
  return sum / kPoints;
}

/// Means of a function of place and line over the lines of squares, of which there are far fewer
/// than squares: `squares` x `lines`.
template <typename Value>
Eigen::MatrixXf along(double step, Eigen::Index squares, Eigen::Index lines, double first,
                      const Value& value) {
  Eigen::MatrixXf out(squares, lines);
  for (Eigen::Index l = 0; l < lines; ++l)
    for (Eigen::Index n = 0; n < squares; ++n)
      out(n, l) =
          static_cast<float>(mean_over(first + static_cast<double>(n) * step, step, [&](double at) {
            return value(at, static_cast<double>(l));
          }));
  return out;
}

/// Cosines or sines of half the phase of a wave at the middles of blocks.
Eigen::VectorXf half_phases(const std::vector<PatchedObject::Patch>& blocks,
                            const LineRelief::Wave& wave, Point shift, bool sine) {
  Eigen::VectorXf out(static_cast<Eigen::Index>(blocks.size()));
  for (Eigen::Index n = 0; n < out.size(); ++n) {
    const Point p = blocks[static_cast<std::size_t>(n)].centre;
    const double half = 0.5 * wave.k * (wave.along_x ? p.x + shift.x : p.y + shift.y);
    out(n) = static_cast<float>(sine ? std::sin(half) : std::cos(half));
  }
  return out;
}

/// Means over blocks of squares of a function given on the lines of squares in x and one in y.
class BlockMeans {
 public:
  explicit BlockMeans(const std::vector<PatchedObject::Patch>& blocks) : blocks_(blocks) {}

  /// Adds to `out`, blocks x lines, the product of `single`, one value for each line of squares in
  /// one direction (x if `single_in_x`), and `lines` in the other one.
  void add(Eigen::MatrixXf& out, const Eigen::MatrixXf& single, const Eigen::MatrixXf& lines,
           bool single_in_x) const {
    Eigen::VectorXf weight(out.rows());
    for (Eigen::Index n = 0; n < out.rows(); ++n) {
      const PatchedObject::Patch& p = blocks_[static_cast<std::size_t>(n)];
      weight(n) = mean(single, single_in_x ? p.i : p.j, p.size, 0);
    }
    for (Eigen::Index l = 0; l < out.cols(); ++l)
      for (Eigen::Index n = 0; n < out.rows(); ++n) {
        const PatchedObject::Patch& p = blocks_[static_cast<std::size_t>(n)];
        out(n, l) += weight(n) * mean(lines, single_in_x ? p.j : p.i, p.size, l);
      }
  }

  /// The same of one direction alone, blocks x lines.
  Eigen::MatrixXf in_one(const Eigen::MatrixXf& lines, bool in_x) const {
    Eigen::MatrixXf out(static_cast<Eigen::Index>(blocks_.size()), lines.cols());
    for (Eigen::Index l = 0; l < out.cols(); ++l)
      for (Eigen::Index n = 0; n < out.rows(); ++n) {
        const PatchedObject::Patch& p = blocks_[static_cast<std::size_t>(n)];
        out(n, l) = mean(lines, in_x ? p.i : p.j, p.size, l);
      }
    return out;
  }

 private:
  static float mean(const Eigen::MatrixXf& lines, int first, int size, Eigen::Index l) {
    return size == 1 ? lines(first, l)
                     : lines.col(l).segment(first, size).sum() / static_cast<float>(size);
  }

  const std::vector<PatchedObject::Patch>& blocks_;
};

}  // namespace

void SurfaceModel::sample(Eigen::MatrixXf& of_rows, Eigen::MatrixXf& of_columns,
                          const PatchedObject& object,
                          const std::vector<PatchedObject::Patch>& blocks, Point shift,
                          const Coupling& block, const Kernel& row_kernel,
                          const Kernel& column_kernel) const {
  const SurfaceKernels& k = kernels_;
  const double step = object.step_mm();
  const BlockMeans means(blocks);
  of_rows.setZero(static_cast<Eigen::Index>(blocks.size()), block.to_row.size());
  of_columns.setZero(static_cast<Eigen::Index>(blocks.size()), block.to_column.size());
  const double x0 = object.grid_.corner.x + shift.x;
  const double y0 = object.grid_.corner.y + shift.y;
  for (const Separable& term : row_kernel.terms) {
    const auto x = [&](double at, double) { return term.x.periodic(at, k.column_pitch_mm); };
    const auto y = [&](double at, double row) {
      return term.y.local(at - (row + block.first_row) * k.row_pitch_mm);
    };
    means.add(of_rows, along(step, object.grid_.nx, 1, x0, x),
              along(step, object.grid_.ny, of_rows.cols(), y0, y), true);
  }
  for (const Separable& term : column_kernel.terms) {
    const auto y = [&](double at, double) { return term.y.periodic(at, k.row_pitch_mm); };
    const auto x = [&](double at, double column) {
      return term.x.local(at - (column + block.first_column) * k.column_pitch_mm);
    };
    means.add(of_columns, along(step, object.grid_.ny, 1, y0, y),
              along(step, object.grid_.nx, of_columns.cols(), x0, x), false);
  }
}

// A cell's charge is spread evenly over it and its potential is the mean over another cell: what
// varies over a few cells comes out weaker, by twice a twelfth of its bend over a cell. As much is
// moved from cell to cell beforehand, so that none is lost at the end of the core.
Eigen::MatrixXf SurfaceModel::sharpened(const Eigen::MatrixXf& core, const PatchedObject& object) {
  Eigen::MatrixXf out = core;
  for (const auto& [a, b] : object.beside_) {
    const Eigen::RowVectorXf moved = (core.row(b) - core.row(a)) / 12.0f;
    out.row(a) -= moved;
    out.row(b) += moved;
  }
  return out;
}

Sources SurfaceModel::sources(const PatchedObject& object, Point shift,
                              const Coupling& block) const {
  Sources out;
  sample(out.row_volts, out.column_volts, object, object.patches_, shift, block, relief_->phi_row(),
         relief_->phi_column());
  if (!object.graded()) return out;
  sample(out.row_core, out.column_core, object, object.cells_, shift, block, kernels_.q_row,
         kernels_.q_column);
  for (std::size_t c = 0; c < object.cells_.size(); ++c) {
    const double side = object.cells_[c].size * object.step_mm_;
    const auto area = static_cast<float>(side * side);
    out.row_core.row(static_cast<Eigen::Index>(c)) *= area;
    out.column_core.row(static_cast<Eigen::Index>(c)) *= area;
  }
  out.row_sharp = sharpened(out.row_core, object);
  out.column_sharp = sharpened(out.column_core, object);
  take_core(out.row_volts, object, shift, out.row_sharp);
  take_core(out.column_volts, object, shift, out.column_sharp);
  return out;
}

void SurfaceModel::take_core(Eigen::MatrixXf& volts, const PatchedObject& object, Point shift,
                             const Eigen::MatrixXf& core) const {
  volts.noalias() -= *object.to_patches_ * core;
  for (std::size_t w = 0; w < relief_->waves().size(); ++w) {
    const LineRelief::Wave& wave = relief_->waves()[w];
    // The cosine of the middle's phase, from either end's half of it.
    for (const bool sine : {false, true}) {
      const float sign = sine ? -1.0f : 1.0f;
      const Eigen::VectorXf at_cells = half_phases(object.cells_, wave, shift, sine);
      const Eigen::MatrixXf weighted = at_cells.asDiagonal() * core;
      const Eigen::MatrixXf made = *object.relief_to_patches_[w] * weighted;
      volts += sign * (half_phases(object.patches_, wave, shift, sine).asDiagonal() * made);
      const Eigen::MatrixXf& to_cells = *object.relief_to_cells_[w];
      const Eigen::MatrixXf in_cells =
          at_cells.head(to_cells.rows()).asDiagonal() * (to_cells * weighted).eval();
      for (Eigen::Index c = 0; c < in_cells.rows(); ++c) {
        const Eigen::Index under = object.under_[static_cast<std::size_t>(c)];
        const int size = object.patches_[static_cast<std::size_t>(under)].size;
        volts.row(under) += sign * 4.0f / static_cast<float>(size * size) * in_cells.row(c);
      }
    }
  }
}

Eigen::MatrixXf SurfaceModel::core_loss(const PatchedObject& object, Point shift,
                                        const Coupling& block, const Sources& on) const {
  const Eigen::Index rows = on.row_volts.cols();
  const Eigen::Index columns = on.column_volts.cols();
  if (!object.graded()) return Eigen::MatrixXf::Zero(rows, columns);
  const SurfaceKernels& k = kernels_;
  const double step = object.step_mm();
  const BlockMeans means(object.cells_);
  // Both the charge by a row and the potential of a column bend within a cell, so their product is
  // integrated, not that of their means.
  Eigen::VectorXf area(static_cast<Eigen::Index>(object.cells_.size()));
  for (Eigen::Index c = 0; c < area.size(); ++c) {
    const double side = object.cells_[static_cast<std::size_t>(c)].size * step;
    area(c) = static_cast<float>(side * side);
  }
  Eigen::MatrixXf out = Eigen::MatrixXf::Zero(rows, columns);
  for (const Separable& q : k.q_row.terms)
    for (const Separable& phi : relief_->phi_column().terms) {
      const Eigen::MatrixXf x =
          along(step, object.grid_.nx, columns, object.grid_.corner.x + shift.x,
                [&](double at, double column) {
                  return q.x.periodic(at, k.column_pitch_mm) *
                         phi.x.local(at - (column + block.first_column) * k.column_pitch_mm);
                });
      const Eigen::MatrixXf y = along(
          step, object.grid_.ny, rows, object.grid_.corner.y + shift.y, [&](double at, double row) {
            return q.y.local(at - (row + block.first_row) * k.row_pitch_mm) *
                   phi.y.periodic(at, k.row_pitch_mm);
          });
      out.noalias() +=
          means.in_one(y, false).transpose() * (area.asDiagonal() * means.in_one(x, true)).eval();
    }
  // What the patches' charge by a row makes at the core is what the row left to be held there.
  Eigen::MatrixXf left(static_cast<Eigen::Index>(object.under_.size()), rows);
  for (std::size_t c = 0; c < object.under_.size(); ++c)
    left.row(static_cast<Eigen::Index>(c)) = on.row_volts.row(object.under_[c]);
  return out + left.transpose() * on.column_core;
}

}  // namespace bareglass::field
