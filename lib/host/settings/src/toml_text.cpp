#include "bareglass/settings/toml_text.hpp"

#include <fmt/format.h>

namespace bareglass::host {

namespace {

std::string at(std::size_t line) {
  return line == 0 ? std::string() : fmt::format("line {}", line);
}

}  // namespace

toml::table parse_toml(const std::string& text, const std::string& file, const std::string& what,
                       std::size_t most) {
  try {
    return plain::parse_toml(text, file, most);
  } catch (const plain::TomlError& e) {
    throw CaptureError(file, at(e.line()), fmt::format("expected {} ({})", what, e.what()));
  }
}

std::string read_toml_text(const std::string& path, const std::string& what, std::size_t most) {
  try {
    return plain::read_toml_text(path, most);
  } catch (const plain::TomlError& e) {
    throw CaptureError(path, "", fmt::format("{}, expected {}", e.what(), what));
  }
}

toml::table read_toml(const std::string& path, const std::string& what, std::size_t most) {
  return parse_toml(read_toml_text(path, what, most), path, what, most);
}

std::string line_of(const toml::node& node) { return at(node.source().begin.line); }

}  // namespace bareglass::host
