#include "bareglass/fleet/units_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <string_view>

#include "bareglass/capture/error.hpp"
#include "bareglass/capture/source.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/plain/utf8.hpp"

namespace bareglass::host {

namespace {

constexpr std::size_t kLongestField = 80;
constexpr std::size_t kLongestLine = 4096;

bool is_day(const std::string& s) {
  if (s.size() != 10 || s[4] != '-' || s[7] != '-') return false;
  for (const std::size_t i : {0u, 1u, 2u, 3u, 5u, 6u, 8u, 9u})
    if (s[i] < '0' || s[i] > '9') return false;
  const int year = std::stoi(s.substr(0, 4)), month = std::stoi(s.substr(5, 2));
  const int day = std::stoi(s.substr(8, 2));
  if (month < 1 || month > 12) return false;
  // Gregorian calendar.
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
  const int days[] = {31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  return day >= 1 && day <= days[month - 1];
}

class UnitsReader {
 public:
  explicit UnitsReader(const std::string& path) : path_(path), source_(open_source(path)) {}

  std::vector<UnitRow> read() {
    std::string line;
    if (!next_line(line)) fail(0, "a first line that names the columns");
    if (line.rfind("\xEF\xBB\xBF", 0) == 0) line.erase(0, 3);
    read_head(fields_of(line));
    std::vector<UnitRow> rows;
    std::map<std::string, std::uint32_t> first_line, line_of_dump;
    while (next_line(line)) {
      if (line.empty()) continue;
      if (rows.size() == kMostUnits) fail(0, fmt::format("at most {} rows", kMostUnits));
      rows.push_back(row_of(fields_of(line)));
      const auto [known, fresh] = first_line.emplace(rows.back().unit, line_);
      if (!fresh)
        fail(place_["unit"] + 1, fmt::format("each unit once; {} stands in line {} already",
                                             shown(rows.back().unit), known->second));
      if (rows.back().dump.empty()) continue;
      const auto [named, first] = line_of_dump.emplace(rows.back().dump, line_);
      if (!first)
        fail(place_["dump"] + 1, fmt::format("each dump once; {} stands in line {} already",
                                             shown(rows.back().dump), named->second));
    }
    return rows;
  }

 private:
  // `column` from 1; 0: the whole line.
  [[noreturn]] void fail(std::size_t column, const std::string& expected) const {
    std::string place = fmt::format("line {}", std::max(line_, 1u));
    if (column > 0) place += fmt::format(", column {}", column);
    if (column > 0 && column <= names_.size()) place += fmt::format(" ({})", names_[column - 1]);
    throw CaptureError(path_, place, "expected " + expected);
  }

  static std::string shown(const std::string& text) { return "'" + plain::harmless(text) + "'"; }

  bool next_line(std::string& line) {
    line.clear();
    for (char c = 0; next_byte(c);) {
      if (c == '\n') {
        ++line_;
        if (!line.empty() && line.back() == '\r') line.pop_back();
        expect_utf8(line);
        return true;
      }
      if (line.size() == kLongestLine) {
        ++line_;
        fail(0, fmt::format("at most {} bytes in a line", kLongestLine));
      }
      line += c;
    }
    if (line.empty()) return false;
    ++line_;
    expect_utf8(line);
    return true;
  }

  void expect_utf8(const std::string& line) const {
    if (!plain::is_utf8(reinterpret_cast<const std::uint8_t*>(line.data()), line.size()))
      fail(0, "UTF-8 text, not the bytes of another encoding");
  }

  bool next_byte(char& c) {
    if (taken_ == filled_) {
      filled_ = source_->read(buffer_, sizeof buffer_);
      taken_ = 0;
      if (filled_ == 0) return false;
    }
    c = static_cast<char>(buffer_[taken_++]);
    return true;
  }

  std::vector<std::string> fields_of(const std::string& line) const {
    std::vector<std::string> fields(1);
    bool quoted = false, closed = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
      const char c = line[i];
      std::string& field = fields.back();
      if (quoted && c == '"' && i + 1 < line.size() && line[i + 1] == '"') {
        field += line[++i];
      } else if (quoted && c == '"') {
        quoted = false;
        closed = true;
      } else if (quoted) {
        field += c;
      } else if (c == ',') {
        fields.emplace_back();
        closed = false;
      } else if (c == '"' && field.empty() && !closed) {
        quoted = true;
      } else if (c == '"' || closed) {
        fail(fields.size(), "a field in quotes to end at a comma, and quotes inside written twice");
      } else {
        field += c;
      }
    }
    if (quoted) fail(fields.size(), "a closing quote before the end of the line");
    return fields;
  }

  void read_head(const std::vector<std::string>& names) {
    static const std::set<std::string> kKnown = {"unit", "ward", "date", "taped", "dump"};
    for (std::size_t k = 0; k < names.size(); ++k) {
      if (kKnown.count(names[k]) == 0)
        fail(k + 1, fmt::format("one of unit, ward, date, taped, dump, not {}", shown(names[k])));
      if (!place_.emplace(names[k], k).second)
        fail(k + 1, fmt::format("the column {} once", names[k]));
    }
    for (const char* name : {"unit", "ward", "date", "taped"})
      if (place_.count(name) == 0)
        fail(0, fmt::format("a column named {} in the first line", name));
    names_ = names;
  }

  const std::string& field(const std::vector<std::string>& fields, const char* name,
                           bool may_be_empty = false) {
    const std::size_t k = place_.at(name);
    const std::string& text = fields[k];
    if ((text.empty() && !may_be_empty) || text.size() > kLongestField)
      fail(k + 1, fmt::format("1 to {} bytes, not {}", kLongestField, text.size()));
    return text;
  }

  UnitRow row_of(const std::vector<std::string>& fields) {
    if (fields.size() != names_.size())
      fail(0, fmt::format("{} fields as in the first line, not {}", names_.size(), fields.size()));
    UnitRow row;
    row.line = line_;
    row.unit = plain::harmless(field(fields, "unit"));
    row.ward = plain::harmless(field(fields, "ward"));
    row.date = field(fields, "date");
    if (!is_day(row.date))
      fail(place_["date"] + 1, fmt::format("a day such as 2026-03-02, not {}", shown(row.date)));
    const std::string& taped = field(fields, "taped");
    for (const Taped t : {Taped::no, Taped::yes, Taped::unknown})
      if (taped == name_of(t)) row.taped = t;
    if (taped != name_of(row.taped))
      fail(place_["taped"] + 1, fmt::format("yes, no or unknown, not {}", shown(taped)));
    if (place_.count("dump") != 0) row.dump = field(fields, "dump", true);
    return row;
  }

  std::string path_;
  std::unique_ptr<ByteSource> source_;
  std::uint8_t buffer_[16384];
  std::size_t taken_ = 0, filled_ = 0;
  std::uint32_t line_ = 0;
  std::vector<std::string> names_;
  std::map<std::string, std::size_t> place_;
};

}  // namespace

const char* name_of(Taped taped) {
  static constexpr const char* kNames[] = {"no", "yes", "unknown"};
  return kNames[static_cast<int>(taped)];
}

std::vector<UnitRow> read_units(const std::string& path) { return UnitsReader(path).read(); }

}  // namespace bareglass::host
