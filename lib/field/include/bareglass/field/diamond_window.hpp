#pragma once
// A window of diamonds.

#include "bareglass/field/electrode_window.hpp"

namespace bareglass::field {

/// A meshed window around crossing (0, 0). The grid is turned by 45 degrees, u = (x + y) / sqrt 2
/// and v = (x - y) / sqrt 2, so that the diamonds' edges follow grid lines. The walls run through
/// the middles of diamonds; reflected there, rows go on as columns, so only what lies a pitch or
/// more inside the window's own diamond-shaped reach (see reach_mm) is to be trusted. Bridges are
/// no part of the mesh: see Diamonds::bridge_ff. The meshed column is whole all the same.
///
/// A footprint and all results are in the panel's own x and y.
class DiamondWindow : public ElectrodeWindow {
 public:
  /// `rings` diamonds lie between the middle and each wall, 2..8; they alone decide how much is
  /// seen. Cells at the edges of diamonds further than `fine` gaps from the middle are 2.5 times as
  /// wide as the mesh asks for. Throws std::invalid_argument for panels of another pattern.
  DiamondWindow(const PanelSpec& panel, const Mesh& mesh, const Scene& scene = {}, int rings = 4,
                int fine = 2);

  /// The panel's place of node (i, j) of a plane, mm.
  Point place(int i, int j) const;
  /// Value at (x, y) of a field on one plane, linear between nodes.
  double at(const Eigen::MatrixXd& plane, Point p) const;
  /// How far the window reaches along x and along y, mm.
  double reach_mm() const { return reach_mm_; }
  /// Charge of row `row` (or column) between the middles of the second crossings on either side of
  /// the middle, per crossing, fF*V.
  double charge_per_crossing(const LayeredSolution& solution, int conductor) const;

 private:
  Axis axis(const Diamonds& d, const Mesh& mesh, int rings, int fine, const Zone& object) const;
  void label(const PanelSpec& panel, const Scene& scene, double edge_mm);

  double reach_mm_ = 0.0;
  double pitch_mm_ = 0.0;
};

}  // namespace bareglass::field
