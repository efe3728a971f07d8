#pragma once
// Plays a scenario as a unit would have sent it.

#include <functional>

#include "bareglass/panel/live_unit.hpp"

namespace bareglass::panel {

/// `done` of `all` seconds.
using PlayProgress = std::function<void(double done, double all)>;

/// Panel description, story, factory reference, frames, the device's own journal (its firmware is
/// the portable core), supply states, and the ground truth as notes that begin with "truth: ".
/// The same scenario gives the same records. Throws host::CaptureError for a scenario whose
/// numbers the device's settings can't hold.
void play(const Scenario& scenario, const SendRecord& send, const PlayProgress& progress = {});

}  // namespace bareglass::panel
