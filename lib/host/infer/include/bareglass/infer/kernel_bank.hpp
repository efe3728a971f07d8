#pragma once
// Surface kernels for the glass that a dump does not tell: solved panels of several thicknesses
// travel inside the program.

#include "bareglass/field/surface_kernels.hpp"

namespace bareglass::infer {

/// The shipped kernels on which an earthed disc of 8 mm takes the share of a bare node's reading
/// that comes nearest to `finger_share` (0..1), on a panel of this pitch. Bars and stripes of 5 mm
/// pitch; other pitches see them scaled (CellModel). Thickness, permittivity and pitch act on a
/// node through that one share nearly alone, so it chooses for all of them.
const field::SurfaceKernels& kernels_for(double finger_share, double pitch_mm);

}  // namespace bareglass::infer
