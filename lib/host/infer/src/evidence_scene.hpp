#pragma once
// One thing on the glass -> one cause with what speaks for and against it.

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"
#include "scene_story.hpp"

namespace bareglass::host {

CauseFound weigh_scene(const SceneFound& found, const Reading& reading, const Account& account);
/// Something changed its place while the panel set itself up.
CauseFound weigh_moving(const Account& account);
/// 0..1, grows with how far the thing stands out of the noise; no probability yet, see
/// confidence.hpp.
double score_of(const SceneFound& found);

}  // namespace bareglass::host
