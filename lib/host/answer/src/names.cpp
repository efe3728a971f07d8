// Machine names: programs that read the answer know them, so they stay as they are.
#include "bareglass/answer/diagnosis.hpp"

namespace bareglass::host {

const char* name_of(Cause cause) {
  static constexpr const char* kNames[] = {
      "bare_glass",    "touch_at_power_up", "touch_held",      "isolated_film",
      "drying_film",   "grounded_film",     "wet_bezel",       "isolated_streak",
      "moving_thing",  "unknown_object",    "lone_node",       "dry_film",
      "drops",         "residue",           "open_line",       "crack",
      "bridged_lines", "raised_resistance", "worn_tail",       "intermittent_line",
      "interference",  "common_mode",       "floating_ground", "supply_sag",
      "temperature",   "aged_reference",    "not_enough"};
  static_assert(sizeof kNames / sizeof *kNames == kCauseCount, "one name for each cause");
  return kNames[static_cast<int>(cause)];
}

const char* name_of(Sureness sureness) {
  static constexpr const char* kNames[] = {"sure", "likely", "possible"};
  return kNames[static_cast<int>(sureness)];
}

}  // namespace bareglass::host
