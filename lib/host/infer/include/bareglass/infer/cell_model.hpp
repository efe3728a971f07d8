#pragma once
// The forward model of the panel on a raster: how much of each small cell of the glass is covered,
// and what that does to every node. Differentiable, so that it can be inverted.

#include <Eigen/Dense>
#include <limits>
#include <vector>

#include "bareglass/field/surface_kernels.hpp"

namespace bareglass::infer {

/// A map of nodes, rows x columns, fF, positive where the mutual capacitance has fallen (a finger).
using NodeMap = Eigen::MatrixXf;
/// Covered part of each cell, 0..1: cells in y x cells in x.
using CoverMap = Eigen::MatrixXf;

/// To-earth capacitance of a body that is earthed.
inline constexpr float kEarthed = std::numeric_limits<float>::infinity();

/// One conductor on the glass.
struct Body {
  CoverMap cover;
  float to_earth = kEarthed;  ///< C_b, fF; 0: isolated
};

/// What one body does, apart from its way to earth.
struct BodyCoupling {
  Eigen::VectorXf to_row;     ///< C_TF, fF
  Eigen::VectorXf to_column;  ///< C_FR, fF
  float self = 0.f;           ///< C_FF, fF
};

/// Cells of half a pitch over a block of rows x columns, half a pitch beyond the outermost lines.
///
/// By the panel's surface kernels: the covered part f of what a node sees is the sum of w over the
/// cells, C_TF that of q_T, C_FR that of q_R, C_FF c_F times the area; the change of a node is
/// loss(f) - C_TF C_FR / (C_FF + C_b), summed over the bodies (sign as of NodeMap). Field gathers
/// at a conductor's rim, so a cover describes the outline grown by rim_mm(); what that leaves wrong
/// is in the shape of loss(f) and in a length of C_FF along the outline. Against the patches of
/// field::SurfaceModel: tests/infer/cell_model_test.cpp.
class CellModel {
 public:
  static constexpr int kCells = 2;  ///< a pitch, either way

  /// `pitch_x_mm`, `pitch_y_mm`: of the panel; the kernels' own stack is scaled to it (capacitance
  /// scales as length does where all lengths of a stack are scaled alike).
  CellModel(const field::SurfaceKernels& kernels, int rows, int columns, double pitch_x_mm,
            double pitch_y_mm);

  int rows() const { return rows_; }
  int columns() const { return columns_; }
  int cells_x() const { return kCells * columns_; }
  int cells_y() const { return kCells * rows_; }
  double cell_x_mm() const { return cell_x_; }
  double cell_y_mm() const { return cell_y_; }
  double rim_mm() const { return rim_; }
  /// What a full earthed cover takes from a node, fF.
  float full_loss() const { return full_; }
  /// Mutual capacitance of a bare node, fF.
  float node() const { return node_; }
  /// The furthest that a layer without free charge raises a node, share of the full loss: half of
  /// what an isolated conductor without an end does.
  float most_layer() const { return most_layer_; }
  /// C_FF of one covered cell, fF.
  float cell_self() const { return cell_self_; }

  /// Part of what each node sees that is covered, 0..1 and a little beyond.
  NodeMap covered(const CoverMap& cover) const;
  /// What a node loses of which this part is covered by earthed bodies, fF.
  NodeMap loss(const NodeMap& covered) const;
  /// Its derivative.
  NodeMap loss_slope(const NodeMap& covered) const;
  BodyCoupling couple(const CoverMap& cover) const;
  /// Gain of a node by the charge that comes in over the body.
  static NodeMap passed_on(const BodyCoupling& body, float to_earth);
  /// Length of the outline, mm; adds `price` times its derivative to `slope` unless that is null.
  double outline(const CoverMap& cover, double price, CoverMap* slope) const;

  /// Derivative of sum(weight * covered(cover)) by each cell.
  CoverMap covered_back(const NodeMap& weight) const;
  /// Derivative of sum(weight * passed_on) by each cell of the body.
  CoverMap passed_back(const NodeMap& weight, const CoverMap& cover, const BodyCoupling& body,
                       float to_earth) const;

 private:
  /// Integrals of a profile over the cells that each line feels, the same number for all.
  struct Band {
    std::vector<Eigen::Index> first;  ///< cell
    Eigen::MatrixXf weight;           ///< lines x cells of a line; 1 x all cells: periodic
    bool is_local() const { return !first.empty(); }
  };
  struct Term {
    Band y;  ///< of rows
    Band x;  ///< of columns
  };
  static Band local(const field::Profile& profile, int lines, double pitch_mm, float scale);
  static Band periodic(const field::Profile& profile, int lines, double pitch_mm, float scale);
  /// lines(y) x cells_x: the band over the cover's rows.
  static Eigen::MatrixXf down(const Band& y, const CoverMap& cover);
  /// rows of `values` x lines(x).
  static Eigen::MatrixXf across(const Eigen::MatrixXf& values, const Band& x);
  /// Adds the transpose: y' * values * x to a cover.
  static void back(CoverMap& out, const Band& y, const Eigen::MatrixXf& values, const Band& x);

  int rows_, columns_;
  double cell_x_, cell_y_;
  double rim_ = 0.0;
  double self_rim_ = 0.0;  ///< C_FF by outline, fF per mm of it
  float full_ = 0.f, node_ = 0.f, cell_self_ = 0.f, most_layer_ = 0.f;
  std::vector<Term> loss_, row_, column_;
};

}  // namespace bareglass::infer
