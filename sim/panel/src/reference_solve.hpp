#pragma once
// How the groups of the reference table are solved.

#include <map>
#include <string>

#include "bareglass/field/panel_window.hpp"
#include "bareglass/field/surface_model.hpp"
#include "bareglass/panel_model/glass_model.hpp"

namespace bareglass::panel {

struct Quantity {
  double full = std::nan("");
  double fast = std::nan("");
};
using Quantities = std::map<std::string, Quantity>;

/// The reference panel under `cover_mm` of glass, and its fast model, solved once a process.
const field::SurfaceModel& reference_model(double cover_mm);
GlassModel reference_surface(double cover_mm, field::LineRange lines);

/// Films over all of the glass.
Quantities solve_films(double cover_mm);
Quantities solve_strip(bool along_rows);
Quantities solve_line_capacitances();
Quantities solve_bezel();
Quantities solve_faults();

}  // namespace bareglass::panel
