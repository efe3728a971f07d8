#pragma once
// The stories behind the fixture dumps: what lies on the glass when, and what the device knows.

#include <functional>
#include <string>
#include <vector>

#include "bareglass/core/settings.hpp"
#include "bareglass/host/capture/records.hpp"
#include "support/effect_scene.hpp"

namespace bareglass::support {

struct FixtureScript {
  std::string name;     ///< file name without ending
  std::string story;    ///< one line: what happened, and what a technician should read
  std::string unit_id;  ///< invented
  PanelSpec panel;
  StartPolicy policy = StartPolicy::lock;
  bool with_reference = true;
  bool with_power_up = true;  ///< false: recording begins on a running device
  double first_s = 0.0;       ///< when recording begins, seconds after power-up
  double last_s = 6.0;
  /// Puts on the glass what lies there at `t_s` seconds; called on a cleared scene.
  std::function<void(EffectScene& scene, double t_s)> at;
};

/// All of them, in the order of the fixtures' README.
std::vector<FixtureScript> fixture_scripts();

/// What a unit would have sent: description, note with the story, reference, frames and the
/// device's own journal in between. The same script gives the same records.
void play(const FixtureScript& script, const std::function<void(const host::Record&)>& send);

/// Writes NAME.frames for every script into `folder`, and the damaged copies made from them.
/// Returns the file names written. Throws CaptureError if one cannot be written.
std::vector<std::string> write_fixtures(const std::string& folder);

}  // namespace bareglass::support
