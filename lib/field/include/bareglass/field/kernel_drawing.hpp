#pragma once
// A picture of what the surface does to one node.

#include <string>

#include "bareglass/field/surface_kernels.hpp"

namespace bareglass::field {

/// Three maps side by side as SVG, 1.5 pitches around a node: the loss kernel w and the charge
/// densities q_T and q_R on a grounded cover, with the outlines of the electrodes.
std::string draw_kernels(const SurfaceKernels& kernels, const PanelSpec& panel);

}  // namespace bareglass::field
