#pragma once
// Is a repaired unit good enough? Limits, and what was measured against them.

#include <string>
#include <vector>

namespace bareglass::host {

/// Section [accept] of a settings file; defaults are common practice, no source. Shares are in
/// percent of the panel's nominal finger signal unless they say otherwise.
struct AcceptLimits {
  double max_noise_percent = 2.0;       ///< typical node, rms; 0.01..100
  double max_node_noise_percent = 6.0;  ///< noisiest node, rms; 0.01..100
  double max_departure_percent = 8.0;   ///< largest departure from the factory reference, once the
                                        ///< whole panel's shift is taken off; 0.1..1000
  double max_non_uniformity_percent = 15.0;  ///< greatest less smallest node, in percent of the
                                             ///< middle one, each against the factory reference,
                                             ///< or as it reads without one; 0.1..1000
  /// What all nodes read off the factory reference together, or, without one, off the dump from
  /// before the repair; percent of the reading, 0.1..100. A cover over all of the glass does so; a
  /// room's temperature and the age of a reference stay within some 2 % (common practice, no
  /// source).
  double max_whole_shift_percent = 2.0;
  bool bare_glass = true;   ///< nothing may be found on the glass
  bool sound_lines = true;  ///< no fault of lines or electronics may be found
  int start_ups = 1;        ///< so many start-ups, every one of which switched input on; 0..1000
};

/// One limit and how it went.
struct AcceptCheck {
  std::string name;   ///< "noise of a typical node"
  std::string value;  ///< as text with its unit
  std::string limit;
  std::string by;    ///< by how much it failed; empty if passed
  std::string todo;  ///< what to do; empty if passed
  bool passed = false;
};

}  // namespace bareglass::host
