#pragma once
// The block of lines an object is felt by.

#include "bareglass/field/surface_model.hpp"

namespace bareglass::field {

/// Throws std::invalid_argument for a box that is not within 2 m of the first node.
void check_extent(const Box& box);

/// A zero coupling for the lines near `box`, at least one of each kind.
Coupling block_around(const SurfaceKernels& kernels, const Box& box, const LineRange& lines);

}  // namespace bareglass::field
