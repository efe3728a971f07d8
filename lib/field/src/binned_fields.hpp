#pragma once
// Fields on a panel's surface in equal bins, on the way from a solution to kernels.

#include <Eigen/Dense>

#include "bareglass/field/surface_kernels.hpp"

namespace bareglass::field {

/// Half a solved window around a node, pitches. There a row's charge on a cover has fallen to a
/// millionth, its potential on the bare surface to half a percent (measured on bars and stripes).
inline constexpr double kKernelReach = 3.5;
inline constexpr int kKernelHalves = 7;  ///< half pitches within kKernelReach

/// Means over bins of one quarter of the neighbourhood of a node: x down, y across, bin (0, 0)
/// touches the node.
struct BinnedFields {
  double x_step = 0.25;  ///< mm
  double y_step = 0.25;
  Eigen::MatrixXd q_row, q_column;      ///< fF/mm^2
  Eigen::MatrixXd phi_row, phi_column;  ///< V
  Eigen::MatrixXd loss;                 ///< w, fF/mm^2

  /// Bins of half a pitch, and a step that divides it: about a quarter of a millimetre.
  static int half_bins(double pitch_mm);
};

/// Turns the fields into sums of products: those of rows folded into half a pitch along x, those
/// of columns along y. All matrices hold kKernelHalves half pitches either way.
void fill_kernels(SurfaceKernels& out, const BinnedFields& fields);

}  // namespace bareglass::field
