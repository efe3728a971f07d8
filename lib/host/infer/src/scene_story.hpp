#pragma once
// The things that lay on the glass in a dump, each with its kind and its time.

#include <optional>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"
#include "scene.hpp"
#include "scene_kind.hpp"

namespace bareglass::host {

struct SceneFound {
  Cause cause = Cause::unknown_object;
  std::optional<Cause> or_else;  ///< makes the same signals
  Episode episode;
  SceneLook look;
};

/// What lies on the glass beside touches in use; empty if nothing stands out of noise and spread.
std::vector<SceneFound> find_scene(const Reading& reading, const Account& account);

/// Whether something changed its place while the panel set itself up: nodes were restless within
/// the first quarter of a second, and in the next one others are touched than before.
bool moves_at_power_up(const Reading& reading, const Account& account);

}  // namespace bareglass::host
