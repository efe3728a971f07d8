#pragma once
// A cut-out of a panel, meshed and solved in full: the reference for every faster model.

#include <Eigen/Dense>
#include <memory>
#include <vector>

#include "bareglass/field/footprint.hpp"
#include "bareglass/field/layered_solver.hpp"
#include "bareglass/field/panel_spec.hpp"

namespace bareglass::field {

/// Fineness of the mesh.
struct Mesh {
  double edge_mm = 0.04;    ///< cells at electrode edges, in the plane and above it
  double bulk_mm = 0.35;    ///< widest cell in the plane
  double growth = 0.15;     ///< rise of the cell width per mm of distance
  double air_mm = 40.0;     ///< height of the air above the glass
  double object_mm = 0.35;  ///< widest cell within 1 mm of an object's bounding box

  Mesh finer(double factor) const {
    return {edge_mm / factor, bulk_mm / factor, growth / factor, air_mm, object_mm / factor};
  }
};

/// What is being solved besides the panel itself.
struct Scene {
  std::vector<Layer> films;        ///< lying on the glass, from the topmost down; whole area
  Footprint object;                ///< a conductor on the glass (under any film); may be empty
  bool covered = false;            ///< instead of an object, the whole surface is one conductor
  std::vector<Mark> x_lines = {};  ///< further grid lines, mm
  std::vector<Mark> y_lines = {};
};

/// Capacitances with one conductor on the glass, fF.
struct ObjectSolution {
  int first_row = 0;
  int first_column = 0;
  Eigen::MatrixXd bare;       ///< C_m0 of each node without the object, on the same mesh
  Eigen::MatrixXd grounded;   ///< C_TR, rows x columns, object at 0 V
  Eigen::VectorXd to_row;     ///< C_TF
  Eigen::VectorXd to_column;  ///< C_FR
  double self = 0.0;          ///< C_FF
  /// Mutual capacitance when the object has `to_ground` (fF) to ground:
  /// C_TR + C_TF C_FR / (C_FF + C_b). Infinity grounds it, 0 isolates it.
  double mutual(int row, int column, double to_ground) const;
  /// mutual() less C_m0: the change the object makes.
  double change(int row, int column, double to_ground) const;
  /// C_b at which the node's change is zero, fF: C_TF C_FR / (C_m0 - C_TR) - C_FF.
  double sign_flip(int row, int column) const;
};

/// What a meshed window knows of its conductors, whatever their pattern. They are numbered rows
/// first, then columns, then the object.
class ElectrodeWindow {
 public:
  virtual ~ElectrodeWindow() = default;

  /// Charge per volt on each conductor, itself included, with `conductor` at 1 V and all others at
  /// 0 V; for the whole situation if the window is mirrored. Mirror twins are driven together and
  /// share their charge. fF.
  Eigen::VectorXd drive(int conductor) const;
  /// The same with the object taken away, on the same mesh (its entry is zero), so that differences
  /// of the two are free of meshing noise.
  Eigen::VectorXd drive_bare(int conductor) const;
  /// The bare solution behind drive().
  LayeredSolution field(int conductor) const;
  Eigen::VectorXd charges(const LayeredSolution& solution, int driven) const;
  Eigen::VectorXd charges(const Eigen::VectorXd& conductors, int driven) const;

  int row_id(int row) const { return row - first_row_; }
  int column_id(int column) const { return row_count_ + column - first_column_; }
  int object_id() const { return row_count_ + column_count_; }
  int conductor_count() const { return row_count_ + column_count_ + (has_object_ ? 1 : 0); }
  int first_row() const { return first_row_; }
  int row_count() const { return row_count_; }
  int first_column() const { return first_column_; }
  int column_count() const { return column_count_; }
  /// Number of conductors of the whole situation that `conductor` stands for: 1, or 2 for a line
  /// with a mirror twin.
  int twins(int conductor) const { return twins_[static_cast<std::size_t>(conductor)]; }

  const LayeredSolver& solver() const { return *solver_; }
  const PlaneLabels& labels() const { return labels_; }
  /// Index of the surface among the electrode planes.
  int surface_plane() const { return static_cast<int>(solver_->domain().planes.size()) - 1; }

 protected:
  ElectrodeWindow() = default;
  ElectrodeWindow(ElectrodeWindow&&) = default;

  int first_row_ = 0;
  int row_count_ = 0;
  int first_column_ = 0;
  int column_count_ = 0;
  bool has_object_ = false;
  int copies_ = 1;          ///< windows like this one that make up the whole situation
  std::vector<int> twins_;  ///< of each conductor; also of the object's number if there is none
  std::unique_ptr<LayeredSolver> solver_;
  PlaneLabels labels_;
};

/// C_m0 of row 0 and column 0 under the scene's films, on a window of either pattern, fF.
double solve_node(const PanelSpec& panel, const Mesh& mesh, const Scene& scene = {});

/// Solves a window with an object: the object at 1 V, then each of `driven_rows` (all rows of the
/// window if empty) with the object grounded. Entries of undriven rows of `bare` and
/// `grounded` are NaN.
ObjectSolution solve_object(const ElectrodeWindow& window,
                            const std::vector<int>& driven_rows = {});

}  // namespace bareglass::field
