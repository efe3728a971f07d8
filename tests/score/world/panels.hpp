#pragma once
// The panels that cases are drawn from: pitches of 3 to 7 mm, glass of 0.5 to 3 mm, bars and
// stripes, and diamonds. A fixed set, since each has to be solved once (three to six seconds).

#include <string>

#include "bareglass/field/panel_spec.hpp"
#include "bareglass/field/surface_kernels.hpp"

namespace bareglass::world {

int panel_count();
/// The first so many ship with kernels.
int shipped_panel_count();
const field::PanelSpec& panel_spec(int panel);

/// Where kernels and layers once solved are kept. Call before any thread draws.
void keep_in(const std::string& folder, const std::string& shipped_folder);

/// Solved on first use. Safe from several threads; the reference stays valid.
const field::SurfaceKernels& panel_kernels(int panel);

/// Change of a node under a layer all over the panel, fF: full solutions at thicknesses a factor of
/// two apart, linear between. `permittivity` one of kPermittivities.
double layer_change(int panel, double thickness_um, double permittivity);
inline constexpr double kPermittivities[] = {2.2, 3.0, 5.0, 9.0, 16.0, 25.0};

}  // namespace bareglass::world
