#pragma once
// What windows of all patterns share in meshing.

#include <vector>

#include "bareglass/field/electrode_window.hpp"

namespace bareglass::field {

/// The scheme widens a thin electrode by this part of a cell beyond its outermost line (measured on
/// the centred stripline of closed form, cells as high as wide: 0.36 to 0.40 over three
/// refinements). The outermost line lies that far inside the edge, which leaves the edge itself
/// where it belongs and the convergence of second order.
inline constexpr double kEdgeInset = 0.38;

/// Fills in all that lies along z: grid, permittivities, grounded ends, and the electrode planes at
/// `heights` (rising, mm above the display plane) and on the surface.
void stack(LayeredDomain& domain, const PanelSpec& panel, const Mesh& mesh, const Scene& scene,
           std::vector<double> heights);

}  // namespace bareglass::field
