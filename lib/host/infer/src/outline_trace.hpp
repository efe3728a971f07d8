#pragma once
// Outlines of covers and forms as polygons.

#include <vector>

#include "bareglass/infer/scene.hpp"

namespace bareglass::host {

/// mm, node (0, 0) of the block at the origin; a closed polygon whose material lies on the side
/// away from (dy, -dx) of each edge, so that holes run the other way round.
struct TracedPoint {
  double x = 0, y = 0;
  double nx = 0, ny = 0;  ///< unit, away from the material
};
using TracedOutline = std::vector<TracedPoint>;

/// The rectangle of glass, mm as above.
struct GlassArea {
  double left = 0, top = 0, right = 0, bottom = 0;
};

/// Outlines of a body or layer, the rim at which field gathers taken off; what hangs over the edge
/// of the glass is cut off. Empty if nothing of it lies on the glass.
std::vector<TracedOutline> trace(const infer::CoverMap& cover, const infer::Form& form,
                                 const infer::CellModel& model, const GlassArea& glass);

/// Signed area, mm2: holes are taken off.
double area_of(const std::vector<TracedOutline>& outlines);

}  // namespace bareglass::host
