#pragma once
// The things that lay on the glass in a dump, each with its kind and its time.

#include <vector>

#include "bareglass/host/diagnosis.hpp"
#include "scene.hpp"
#include "scene_kind.hpp"

namespace bareglass::host {

struct SceneFound {
  Cause cause = Cause::unknown_object;
  Episode episode;
  SceneLook look;
};

/// What lies on the glass beside touches in use; empty if nothing stands out of noise and spread.
std::vector<SceneFound> find_scene(const Reading& reading, const Account& account);

}  // namespace bareglass::host
