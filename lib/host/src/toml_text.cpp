#include "toml_text.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace bareglass::host {

namespace {

std::string at(const toml::source_region& source) {
  return source.begin.line == 0 ? std::string() : fmt::format("line {}", source.begin.line);
}

}  // namespace

toml::table parse_toml(const std::string& text, const std::string& file, const std::string& what) {
  try {
    return toml::parse(text, file);
  } catch (const toml::parse_error& e) {
    throw CaptureError(file, at(e.source()),
                       fmt::format("expected {} ({})", what, e.description()));
  }
}

toml::table read_toml(const std::string& path, const std::string& what) {
  std::error_code unknown;
  if (std::filesystem::is_directory(path, unknown))
    throw CaptureError(path, "", fmt::format("is a directory, expected {}", what));
  errno = 0;
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  if (!in)
    throw CaptureError(path, "",
                       fmt::format("cannot open: {}, expected {}", std::strerror(errno), what));
  // An empty file leaves `text` in a failed state, which says nothing.
  text << in.rdbuf();
  if (in.bad()) throw CaptureError(path, "", fmt::format("cannot read, expected {}", what));
  return parse_toml(text.str(), path, what);
}

std::string line_of(const toml::node& node) { return at(node.source()); }

}  // namespace bareglass::host
