#include "bareglass/plain/toml_guard.hpp"

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>

namespace bareglass::plain {

namespace {

std::string size_words(std::size_t bytes) {
  constexpr std::size_t kMebibyte = std::size_t{1} << 20;
  return bytes % kMebibyte == 0 ? std::to_string(bytes / kMebibyte) + " MiB"
                                : std::to_string(bytes) + " bytes";
}

[[noreturn]] void too_large(std::size_t most) {
  throw TomlError(0, "is larger than the limit of " + size_words(most));
}

/// Walks over the text as a TOML parser does (strings, comments, brackets, dots), and stops at the
/// first place that is nested too deeply. Where the text is no TOML the parser stops before any
/// place about which the two could disagree.
class LevelCheck {
 public:
  explicit LevelCheck(std::string_view text) : text_(text) {}

  void run() {
    while (at_ < text_.size()) step();
  }

 private:
  char now() const { return at_ < text_.size() ? text_[at_] : '\0'; }

  bool is_three_of(char c) const {
    return at_ + 2 < text_.size() && text_[at_] == c && text_[at_ + 1] == c && text_[at_ + 2] == c;
  }

  void step() {
    const char c = now();
    if (c == '"' || c == '\'') return skip_string(c);
    if (c == '#') return skip_comment();
    ++at_;
    switch (c) {
      case '\n':
        ++line_;
        dots_ = 0;
        break;
      case '.':
        deeper(dots_, "dots in a key");
        break;
      case '[':
      case '{':
        dots_ = 0;
        deeper(brackets_, "brackets");
        break;
      case ']':
      case '}':
        dots_ = 0;
        if (brackets_ > 0) --brackets_;
        break;
      case ',':
      case '=':
        dots_ = 0;
        break;
      default:
        break;
    }
  }

  void deeper(int& levels, const char* of) {
    if (++levels < kMostTomlLevels) return;
    throw TomlError(line_, "is nested too deeply: at most " + std::to_string(kMostTomlLevels) +
                               " levels (" + of + ")");
  }

  void skip_comment() {
    while (at_ < text_.size() && now() != '\n') ++at_;
  }

  void skip_string(char quote) {
    const bool lines = is_three_of(quote);
    at_ += lines ? 3 : 1;
    while (at_ < text_.size()) {
      const char c = now();
      if (c == '\n') {
        // A string of one line has to end before; the parser stops here.
        if (!lines) return;
        ++line_;
      }
      if (c == '\\' && quote == '"') {
        ++at_;
        if (now() == '\n') ++line_;
      } else if (c == quote && (!lines || is_three_of(quote))) {
        at_ += lines ? 3 : 1;
        // Up to two quotes may stand before the three that end the string.
        for (int more = 0; lines && more < 2 && now() == quote; ++more) ++at_;
        return;
      }
      ++at_;
    }
  }

  std::string_view text_;
  std::size_t at_ = 0;
  std::size_t line_ = 1;
  int dots_ = 0;
  int brackets_ = 0;
};

}  // namespace

std::string read_toml_text(const std::string& path, std::size_t most) {
  std::error_code unknown;
  if (std::filesystem::is_directory(path, unknown)) throw TomlError(0, "is a directory");
  errno = 0;
  std::ifstream in(path, std::ios::binary);
  if (!in) throw TomlError(0, std::string("cannot open: ") + std::strerror(errno));
  constexpr std::size_t kStep = 64 * 1024;
  std::string text;
  while (text.size() <= most) {
    const std::size_t before = text.size();
    text.resize(before + kStep);
    in.read(&text[before], static_cast<std::streamsize>(kStep));
    text.resize(before + static_cast<std::size_t>(in.gcount()));
    if (in.bad()) throw TomlError(0, "cannot read");
    if (!in) break;
  }
  if (text.size() > most) too_large(most);
  return text;
}

toml::table parse_toml(std::string_view text, const std::string& file, std::size_t most) {
  if (text.size() > most) too_large(most);
  LevelCheck(text).run();
  try {
    return toml::parse(text, file);
  } catch (const toml::parse_error& e) {
    throw TomlError(e.source().begin.line, std::string(e.description()));
  }
}

}  // namespace bareglass::plain
