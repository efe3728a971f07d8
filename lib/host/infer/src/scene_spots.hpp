#pragma once
// Small raised places apart from each other: drops.

#include "scene_grid.hpp"
#include "scene_kind.hpp"

namespace bareglass::host {

/// Fills `look` with the spots of `grid`. `limit`: counts beyond which a node is no accident of
/// noise.
void find_spots(SceneLook& look, const Grid& grid, float limit);

}  // namespace bareglass::host
