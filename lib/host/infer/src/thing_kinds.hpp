#pragma once
// From a scene to kinds: densities of sizes and ways to earth, no limits between kinds.

#include "glass_things.hpp"

namespace bareglass::host {

/// Geometry of a cover within a block.
ThingShape shape_of(const infer::CoverMap& cover, const infer::CellModel& model,
                    const infer::Block& block, Shape panel);

/// Kinds of one body of conductor or of a layer, by the densities of its shape and way to earth;
/// `self_pf`: its C_FF.
std::vector<KindShare> kinds_of_body(const ThingShape& shape, double to_earth_pf, double self_pf);
std::vector<KindShare> kinds_of_layer(const ThingShape& shape, double amount);

/// Shares that add up to 1, most first, those below a thousandth left out.
void settle(std::vector<KindShare>& kinds);

}  // namespace bareglass::host
