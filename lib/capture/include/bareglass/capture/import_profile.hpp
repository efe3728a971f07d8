#pragma once
// What is said of a table, by name: on the command line, and kept in a profile (TOML) for the next
// file of the same kind. lib/capture/TABLES.md lists the names.

#include <stdexcept>
#include <string>
#include <vector>

#include "bareglass/capture/reader.hpp"

namespace bareglass::host {

/// One thing that can be said, named as in a profile; the option is the same with - for _.
struct ImportSetting {
  const char* name;
  const char* values;  ///< "rows|columns"
  const char* help;
};
const std::vector<ImportSetting>& import_settings();

/// A value that can't be. what() says what was expected.
class ImportValueError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Sets one of import_settings(). Throws ImportValueError.
void set_import(OpenOptions& options, const std::string& name, const std::string& value);
/// The value as set_import() takes it; empty if it is not set.
std::string import_value(const OpenOptions& options, const std::string& name);

/// Where the profile is: `name` itself if it holds a slash or ends in .toml, else that name in the
/// folder bareglass/import of the user's configuration (XDG Base Directory Specification:
/// $XDG_CONFIG_HOME, or .config in $HOME). Throws CaptureError if there is no such folder to be
/// named.
std::string profile_path(const std::string& name);

/// Takes from the profile what `options` leave open. Throws CaptureError that names the line.
void take_profile(OpenOptions& options, const std::string& path);

/// The profile's text: all that `options` say.
std::string profile_text(const OpenOptions& options);

}  // namespace bareglass::host
