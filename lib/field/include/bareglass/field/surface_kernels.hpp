#pragma once
// What the touched surface of a panel does to its nodes, condensed into one-dimensional tables.

#include <string>
#include <vector>

#include "bareglass/field/electrode_window.hpp"
#include "bareglass/field/panel_spec.hpp"

namespace bareglass::field {

/// Means over equal bins along one direction, bin k from k * step to (k + 1) * step on either side
/// of the middle of a line, the two sides alike.
struct Profile {
  double step_mm = 0.25;
  std::vector<double> bins;

  /// Value at distance `offset` (either sign), linear between the middles of the bins; zero beyond
  /// the last bin.
  double local(double offset_mm) const;
  /// The same of a profile that covers half a pitch, mirrored and repeated with `pitch`.
  double periodic(double position_mm, double pitch_mm) const;
};

/// One product of a profile across columns (in x) and one across rows (in y).
struct Separable {
  Profile x;
  Profile y;
};

/// A function of place as a sum of such products. One term is nearly enough for bars and stripes,
/// diamonds want several.
struct Kernel {
  std::vector<Separable> terms;    ///< 1..kMostTerms
  double one_term_residual = 0.0;  ///< part (rms) that the first term alone misses
  double residual = 0.0;           ///< part that all terms miss

  static constexpr std::size_t kMostTerms = 8;
};

/// Capacitances of the bare panel. fF; per crossing where a whole line is meant.
struct PanelNumbers {
  double node = 0.0;              ///< C_m0, mutual capacitance of one row and one column
  double full_loss = 0.0;         ///< what a fully grounded cover takes from it, > 0
  double loss_by_row = 0.0;       ///< the same as the integral of q_T phi_R0
  double loss_by_column = 0.0;    ///< and as the integral of q_R phi_T0: all three are one
  double row_to_row = 0.0;        ///< row to next row
  double column_to_column = 0.0;  ///< column to next column
  double row_self = 0.0;          ///< row to everything else
  double column_self = 0.0;       ///< column to everything else
  double cover_per_mm2 = 0.0;     ///< c_F: a conductor covering the glass, to everything
};

/// Footprint allowances of the quick model: how far a conductor reaches beyond its own outline.
struct Allowances {
  double line_mm = 0.0;     ///< for C_TF and C_FR
  double self_mm = 0.0;     ///< for C_FF
  double loss_mm = 0.0;     ///< for the loss
  double loss_power = 1.0;  ///< covered fraction f counts as 1 - (1 - f)^power
};

/// Everything the fast model needs to know of a panel. The x of q_T and phi_T0 and the y of q_R
/// and phi_R0 are periodic, all other profiles local.
struct SurfaceKernels {
  double column_pitch_mm = 5.0;
  double row_pitch_mm = 5.0;
  PanelNumbers numbers;
  Kernel q_row;       ///< q_T: charge density on a grounded cover, row at 1 V, fF/mm^2
  Kernel q_column;    ///< q_R: the same for a column
  Kernel phi_row;     ///< phi_T0: potential of the bare surface, row at 1 V
  Kernel phi_column;  ///< phi_R0
  Kernel loss;        ///< w = 1/2 (q_T phi_R0 + q_R phi_T0), fF/mm^2
  double cover_permittivity = 7.0;  ///< relative, of the layer under the surface
  double surroundings_mm = 0.0;     ///< see PanelSpec
  Allowances allowances;
};

/// Solves a panel for its numbers alone. About a second.
PanelNumbers solve_numbers(const PanelSpec& panel, const Mesh& mesh = {});
/// Solves a panel for everything, allowances included. About three seconds.
SurfaceKernels solve_kernels(const PanelSpec& panel, const Mesh& mesh = {});

}  // namespace bareglass::field
