#pragma once
// The one way in which TOML is read: within limits, whoever wrote it.
//
// toml++ descends once per level of a dotted key, so that some ten thousand levels end in a stack
// overflow; and it takes about five times the memory of its text. So the text is measured before
// it is parsed.

#include <cstddef>
#include <stdexcept>
#include <string>
#include <string_view>

#define TOML_EXCEPTIONS 1
#include <toml++/toml.h>

namespace bareglass::plain {

/// Largest file of settings, plans, panels, steps, lessons. The largest that ships has 20 KiB.
constexpr std::size_t kMostTomlBytes = std::size_t{1} << 20;

/// Most levels of one key or header (dots), and of arrays and inline tables in one value
/// (brackets). Nothing here needs more than four.
constexpr int kMostTomlLevels = 32;

/// Not TOML, or beyond the limits. what() says what was found, without file and line.
class TomlError : public std::runtime_error {
 public:
  TomlError(std::size_t line, const std::string& what) : std::runtime_error(what), line_(line) {}
  /// From 1; 0: the whole file.
  std::size_t line() const { return line_; }

 private:
  std::size_t line_;
};

/// The file's bytes, at most `most` of them read. Throws TomlError: a directory, one that can't be
/// read, or a larger one (it may be a device without an end).
std::string read_toml_text(const std::string& path, std::size_t most = kMostTomlBytes);

/// The table that `text` holds; `file` is kept for source regions. Throws TomlError.
toml::table parse_toml(std::string_view text, const std::string& file,
                       std::size_t most = kMostTomlBytes);

}  // namespace bareglass::plain
