#pragma once
// The panel drawn as inline SVG that grows with its place on the page.

#include <cstdint>
#include <string>
#include <vector>

#include "bareglass/present/heat_map.hpp"

namespace bareglass::host::report {

/// Once a page, before any map: the hatching that says "opposite to a touch" without colour.
std::string map_patterns();

/// Percent of a finger, by colour, hatching and number, with line numbers and the marked place.
std::string difference_map(const HeatMap& map);

/// What stands beside it: the scale from like a touch to opposite to a touch.
std::string difference_scale(const HeatMap& map);

/// Raw counts in grey, dark is low; `low` to `high` counts span the scale. `label` is what a reader
/// who does not see the picture is told.
std::string level_map(const HeatMap& like, const std::vector<std::uint16_t>& counts, int low,
                      int high, const std::string& label);

/// The glass as a person sees it, without numbers: what departs beyond the limit, and a ring around
/// the marked place.
std::string glass_sketch(const HeatMap& map, const std::string& label);

}  // namespace bareglass::host::report
