#pragma once
// A strip of film across the panel: permittivity that changes sideways, by the general solver.

#include <vector>

#include "bareglass/field/panel_window.hpp"
#include "bareglass/field/sparse_solver.hpp"

namespace bareglass::field {

/// A window as a volume of cells for SparseSolver: the same grid, permittivities and electrodes,
/// with the display plane and the surroundings as a further conductor numbered conductor_count().
SparseDomain as_volume(const ElectrodeWindow& window);

/// A long straight film lying along the rows (over some of them) or along the columns.
struct FilmStrip {
  std::vector<Layer> films;  ///< from the topmost down
  double width_mm = 19.0;    ///< its middle lies on line 0
  bool along_rows = true;
};

/// Change of the nodes on lines 0, 1, .. `last_line` (rows for a strip along the rows, else
/// columns) that the strip makes, fF. Throws std::runtime_error if the iteration fails.
std::vector<double> strip_changes(const PanelSpec& panel, const FilmStrip& strip, int last_line,
                                  const Mesh& mesh);

}  // namespace bareglass::field
