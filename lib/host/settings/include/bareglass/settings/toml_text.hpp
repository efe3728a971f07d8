#pragma once
// Reading the TOML files that people write: settings, plans, steps, scenarios, lessons.

#include <cstddef>
#include <string>

#include "bareglass/capture/error.hpp"
#include "bareglass/plain/toml_guard.hpp"

namespace bareglass::host {

/// The table that `text` holds. `file` and `what`, such as "a TOML settings file", stand in
/// messages. Throws CaptureError that names the line, also for a text of more than `most` bytes or
/// nested too deeply (plain/toml_guard.hpp).
toml::table parse_toml(const std::string& text, const std::string& file, const std::string& what,
                       std::size_t most = plain::kMostTomlBytes);

/// The same from the file `path`. Throws CaptureError also for a directory and for a file that
/// can't be read.
toml::table read_toml(const std::string& path, const std::string& what,
                      std::size_t most = plain::kMostTomlBytes);

/// Its text alone, for those who parse it with a reader of their own.
std::string read_toml_text(const std::string& path, const std::string& what,
                           std::size_t most = plain::kMostTomlBytes);

/// "line 12", where `node` begins; empty for what has no place in its file.
std::string line_of(const toml::node& node);

}  // namespace bareglass::host
