#include "bareglass/capture/import_profile.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <cstdlib>
#include <filesystem>

#include "bareglass/plain/toml_guard.hpp"
#include "readers.hpp"

namespace bareglass::host {

namespace {

template <typename T>
struct Word {
  const char* text;
  T value;
};

constexpr Word<NodeOrder> kOrders[] = {{"rows", NodeOrder::rows}, {"columns", NodeOrder::columns}};
constexpr Word<bool> kTouches[] = {{"lowers", false}, {"raises", true}};
constexpr Word<TimeUnit> kUnits[] = {{"us", TimeUnit::microseconds},
                                     {"ms", TimeUnit::milliseconds},
                                     {"s", TimeUnit::seconds},
                                     {"frame", TimeUnit::frames}};
constexpr Word<char> kSeparatorNames[] = {
    {"comma", ','}, {"semicolon", ';'}, {"tab", '\t'}, {"space", ' '}, {"bar", '|'}};
constexpr Word<char> kThousands[] = {{"comma", ','}, {"point", '.'}};
constexpr Word<int> kBases[] = {{"10", 10}, {"16", 16}};
constexpr Word<FrameKind> kKinds[] = {{"raw", FrameKind::raw},
                                      {"difference", FrameKind::difference}};

template <typename T, std::size_t N>
void set_word(std::optional<T>& out, const Word<T> (&words)[N], const std::string& name,
              const std::string& value) {
  std::string known;
  for (const Word<T>& word : words) {
    if (value == word.text) {
      out = word.value;
      return;
    }
    known += (known.empty() ? "" : ", ") + std::string(word.text);
  }
  throw ImportValueError(fmt::format("{} expects one of {}, not '{}'", name, known, value));
}

template <typename T, std::size_t N>
std::string word_for(const std::optional<T>& value, const Word<T> (&words)[N]) {
  for (const Word<T>& word : words)
    if (value && *value == word.value) return word.text;
  return {};
}

template <typename T>
T number_of(const std::string& name, const std::string& value, T least, T most) {
  T number{};
  const auto [end, error] = std::from_chars(value.data(), value.data() + value.size(), number);
  if (error == std::errc() && end == value.data() + value.size() && number >= least &&
      number <= most)
    return number;
  throw ImportValueError(
      fmt::format("{} expects a number from {} to {}, not '{}'", name, least, most, value));
}

/// Options that other formats know as well.
void set_other(OpenOptions& options, const std::string& name, const std::string& value) {
  if (name == "rows")
    options.rows = number_of(name, value, 1, kMaxCaptureLines);
  else if (name == "columns")
    options.cols = number_of(name, value, 1, kMaxCaptureLines);
  else if (name == "frame_period_us")
    options.frame_period_us = number_of<std::uint32_t>(name, value, 1, 60'000'000);
  else if (name == "values")
    set_word(options.values, kKinds, name, value);
  else
    set_import(options, name, value);
}

std::string other_value(const OpenOptions& options, const std::string& name) {
  if (name == "rows") return options.rows != 0 ? std::to_string(options.rows) : "";
  if (name == "columns") return options.cols != 0 ? std::to_string(options.cols) : "";
  if (name == "frame_period_us")
    return options.frame_period_us != 0 ? std::to_string(options.frame_period_us) : "";
  if (name == "values") return word_for(options.values, kKinds);
  return import_value(options, name);
}

constexpr const char* kOthers[] = {"rows", "columns", "frame_period_us", "values"};

std::string value_text(const toml::node& node) {
  if (const auto* text = node.as_string()) return text->get();
  if (const auto* number = node.as_integer()) return std::to_string(number->get());
  if (const auto* number = node.as_floating_point()) return fmt::format("{}", number->get());
  return "?";
}

bool is_number_text(const std::string& text) {
  return !text.empty() && text.find_first_not_of("0123456789.-+e") == std::string::npos;
}

}  // namespace

const std::vector<ImportSetting>& import_settings() {
  static const std::vector<ImportSetting> kSettings = {
      {"order", "rows|columns",
       "numbers run row after row or column after column; in tables with several lines a frame, "
       "each line is a row or a column"},
      {"touch", "lowers|raises", "a touch makes the numbers smaller or greater"},
      {"time_unit", "us|ms|s|frame", "unit of the column of time; frame: it counts frames"},
      {"time_column", "NAME", "column of time, by its name or its number from 1"},
      {"values_from", "N", "number of the first column of readings, from 1"},
      {"separator", "NAME", "comma, semicolon, tab, space or bar between cells"},
      {"base", "10|16", "readings are decimal or hexadecimal"},
      {"thousands", "comma|point", "sign between groups of three digits"},
      {"multiply", "FACTOR", "multiplies readings, then rounds them to whole counts"},
  };
  return kSettings;
}

void set_import(OpenOptions& options, const std::string& name, const std::string& value) {
  TableOptions& t = options.table;
  if (name == "order") return set_word(t.order, kOrders, name, value);
  if (name == "touch") return set_word(t.touch_raises, kTouches, name, value);
  if (name == "time_unit") return set_word(t.time_unit, kUnits, name, value);
  if (name == "separator") return set_word(t.separator, kSeparatorNames, name, value);
  if (name == "base") return set_word(t.base, kBases, name, value);
  if (name == "thousands") return set_word(t.thousands, kThousands, name, value);
  if (name == "values_from") {
    t.values_from = number_of(name, value, 1, 2 * kMaxCaptureLines * kMaxCaptureLines);
  } else if (name == "multiply") {
    t.scale = number_of(name, value, 1e-9, 1e9);
  } else if (name == "time_column" && !value.empty()) {
    t.time_column = value;
  } else {
    throw ImportValueError(name + " expects something else than nothing");
  }
}

std::string import_value(const OpenOptions& options, const std::string& name) {
  const TableOptions& t = options.table;
  if (name == "order") return word_for(t.order, kOrders);
  if (name == "touch") return word_for(t.touch_raises, kTouches);
  if (name == "time_unit") return word_for(t.time_unit, kUnits);
  if (name == "separator") return word_for(t.separator, kSeparatorNames);
  if (name == "base") return word_for(t.base, kBases);
  if (name == "thousands") return word_for(t.thousands, kThousands);
  if (name == "values_from") return t.values_from ? std::to_string(*t.values_from) : "";
  if (name == "multiply") return t.scale ? fmt::format("{}", *t.scale) : "";
  if (name == "time_column") return t.time_column.value_or("");
  return {};
}

std::string profile_path(const std::string& name) {
  const bool is_path = name.find('/') != std::string::npos ||
                       (name.size() > 5 && name.compare(name.size() - 5, 5, ".toml") == 0);
  if (is_path) return name;
  const char* config = std::getenv("XDG_CONFIG_HOME");
  std::string folder = config != nullptr ? config : "";
  if (folder.empty() || folder.front() != '/') {
    const char* home = std::getenv("HOME");
    if (home == nullptr || *home == '\0')
      throw CaptureError(name, "import profile",
                         "has no folder to be in, since HOME is not set; name a file such as "
                         "./" +
                             name + ".toml");
    folder = std::string(home) + "/.config";
  }
  return folder + "/bareglass/import/" + name + ".toml";
}

void take_profile(OpenOptions& options, const std::string& path) {
  try {
    const toml::table table = plain::parse_toml(plain::read_toml_text(path), path);
    for (const auto& [section, inside] : table)
      if (section.str() != "import" || !inside.is_table())
        throw CaptureError(path, at_line(inside.source().begin.line),
                           "expected the section [import] alone");
    const toml::table* settings = table["import"].as_table();
    if (settings == nullptr) throw CaptureError(path, "", "expected a section [import]");
    for (const auto& [key, value] : *settings) {
      const std::string name(key.str());
      const std::string place = at_line(value.source().begin.line);
      OpenOptions told;
      try {
        bool known = false;
        for (const char* other : kOthers) known = known || name == other;
        for (const ImportSetting& setting : import_settings())
          known = known || name == setting.name;
        if (!known)
          throw ImportValueError("expected a name of an import profile, not '" + name + "'");
        set_other(told, name, value_text(value));
      } catch (const ImportValueError& problem) {
        throw CaptureError(path, place, problem.what());
      }
      if (other_value(options, name).empty()) set_other(options, name, value_text(value));
    }
  } catch (const plain::TomlError& problem) {
    throw CaptureError(path, problem.line() > 0 ? at_line(problem.line()) : "",
                       std::string(problem.what()));
  }
}

std::string profile_text(const OpenOptions& options) {
  std::string text =
      "# How tables of numbers of one kind are read: bareglass convert FILE OUTPUT --profile "
      "NAME\n[import]\n";
  const auto add = [&](const std::string& name) {
    const std::string value = other_value(options, name);
    if (value.empty()) return;
    std::string escaped;
    for (const char c : value) {
      if (c == '"' || c == '\\') escaped += '\\';
      if (static_cast<unsigned char>(c) >= 0x20) escaped += c;
    }
    const bool bare = is_number_text(value) && name != "time_column";
    text +=
        bare ? fmt::format("{} = {}\n", name, value) : fmt::format("{} = \"{}\"\n", name, escaped);
  };
  for (const char* name : kOthers) add(name);
  for (const ImportSetting& setting : import_settings()) add(setting.name);
  return text;
}

}  // namespace bareglass::host
