#pragma once
// Scenes of one block as things, with the kinds they may be.

#include "glass_things.hpp"

namespace bareglass::host {

/// Things of a block by its best scene, most support first, with what its other scenes would have
/// the first of them be. A lone node or what no scene explains is one thing.
std::vector<GlassThing> things_of(const infer::BlockScenes& block, const infer::Departure& map,
                                  const PanelScale& scale, const infer::SearchOptions& options);

/// Several small isolated things are drops; several layers side by side are one.
void gather(std::vector<GlassThing>& things);

}  // namespace bareglass::host
