#pragma once
// Settings from a TOML file: tables panel, checks, contacts, tracking, surface, start; keys are the
// fields of bareglass::Settings with their units. Table accept: the fields of AcceptLimits.

#include <string>

#include "bareglass/core/settings.hpp"
#include "bareglass/settings/acceptance.hpp"

namespace bareglass::host {

/// Reads `path` over the defaults. Throws CaptureError naming the file, line and key for: an
/// unreadable file, text that is not TOML, a file without any table (who names a file means it to
/// say something), an unknown table or key, a value of the wrong type or out of range. A known
/// table may be empty. `shape` stays as the dump gives it unless the file has panel.rows and
/// panel.columns.
Settings read_settings(const std::string& path);

struct SettingsFile {
  Settings settings;
  AcceptLimits accept;
  bool names_finger = false;  ///< panel.finger_counts stands in it
};
/// The same with the limits of table accept, over their defaults.
SettingsFile read_settings_file(const std::string& path);

}  // namespace bareglass::host
