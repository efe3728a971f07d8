#pragma once
// From a thing to its reconstruction: outline, area and way to earth with what the fit leaves open.

#include <optional>

#include "bareglass/answer/reconstruction.hpp"
#include "glass_things.hpp"

namespace bareglass::host {

/// Nothing for what no body or layer of a scene stands for: a lone node, an unknown object.
std::optional<Reconstruction> reconstruct(const GlassThing& thing, const PanelScale& scale);

/// The maps of a state: `predicted` by all of its things, fF.
std::shared_ptr<const SceneMaps> scene_maps(const infer::Departure& map,
                                            const infer::NodeMap& predicted,
                                            const PanelScale& scale, const Reading& reading,
                                            const GlassState& state);

}  // namespace bareglass::host
