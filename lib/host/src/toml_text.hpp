#pragma once
// Reading the TOML files that people write: settings, plans, steps.

#include <string>

#include "bareglass/host/capture/error.hpp"

#define TOML_EXCEPTIONS 1
#include <toml++/toml.h>

namespace bareglass::host {

/// The table that `text` holds. `file` and `what`, such as "a TOML settings file", stand in
/// messages. Throws CaptureError that names the line.
toml::table parse_toml(const std::string& text, const std::string& file, const std::string& what);

/// The same from the file `path`. Throws CaptureError also for a directory and for a file that
/// can't be read.
toml::table read_toml(const std::string& path, const std::string& what);

/// "line 12", where `node` begins; empty for what has no place in its file.
std::string line_of(const toml::node& node);

}  // namespace bareglass::host
