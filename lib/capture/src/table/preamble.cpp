#include "table/preamble.hpp"

#include <cmath>
#include <initializer_list>

#include "csv_text.hpp"
#include "table/names.hpp"

namespace bareglass::host {

namespace {

bool among(std::string_view text, std::initializer_list<std::string_view> names) {
  for (const std::string_view name : names)
    if (text == name) return true;
  return false;
}

/// Letters of a key, lower case, in one word.
std::string key_word(const ColumnName& key) {
  std::string out;
  for (const std::string& word : key.letters) out += word;
  return out;
}

struct KeyValue {
  std::string_view key, value;
};

/// "key: value", "key = value", or two cells.
std::optional<KeyValue> key_value_in(std::string_view text, char separator) {
  std::size_t at = text.find_first_of(":=");
  if (at == std::string_view::npos && separator != ' ') at = text.find(separator);
  if (at == std::string_view::npos) return std::nullopt;
  std::string_view value = trimmed(text.substr(at + 1));
  while (!value.empty() && value.back() == separator) value.remove_suffix(1);
  const KeyValue found{trimmed(text.substr(0, at)), trimmed(value)};
  if (found.key.empty() || found.value.empty()) return std::nullopt;
  return found;
}

/// The number at the front of a value, and the letters behind it.
bool number_and_unit(std::string_view value, double& number, std::string& unit) {
  std::size_t end = 0;
  while (end < value.size() && (value[end] == '.' || value[end] == ',' || value[end] == '-' ||
                                (value[end] >= '0' && value[end] <= '9')))
    ++end;
  NumberStyle style;
  style.decimal_comma = true;
  if (!number_in(value.substr(0, end), style, number)) return false;
  const ColumnName rest = column_name(value.substr(end));
  unit = rest.letters.empty() ? "" : rest.letters.front();
  return true;
}

void take_lines(std::optional<int>& out, double number) {
  if (number >= 1 && number <= kMaxCaptureLines && number == std::floor(number))
    out = static_cast<int>(number);
}

void take_period(TablePreamble& out, double us) {
  if (us >= 1 && us <= 60e6) out.frame_period_us = static_cast<std::uint32_t>(us + 0.5);
}

/// Unit of a period: behind its number, or the last word of its key ("interval_ms").
double period_us_of(double number, const std::string& unit, const ColumnName& key) {
  auto form = time_unit_of(unit);
  if (!form && !key.letters.empty()) form = time_unit_of(key.letters.back());
  return form ? number * microseconds_in(*form) : 0.0;
}

void take_number(TablePreamble& out, const ColumnName& key, double number,
                 const std::string& unit) {
  const std::string word = key_word(key);
  if (among(word, {"rows", "row", "numrows", "rowcount", "drivelines", "drivenlines", "drive", "tx",
                   "txlines", "numtx", "txcount"}))
    return take_lines(out.rows, number);
  if (among(word, {"cols", "columns", "column", "numcols", "numcolumns", "colcount", "columncount",
                   "senselines", "sensedlines", "sense", "rx", "rxlines", "numrx", "rxcount"}))
    return take_lines(out.cols, number);
  const std::string& first = key.letters.front();
  const bool rate = among(first, {"rate", "fps"}) ||
                    among(word, {"framerate", "samplerate", "scanrate", "frameratehz",
                                 "sampleratehz", "scanratehz", "framespersecond"});
  if (rate && number > 0) return take_period(out, 1e6 / number);
  if (among(first, {"period", "interval"}) ||
      (key.letters.size() > 1 && among(key.letters[1], {"period", "interval"})))
    take_period(out, period_us_of(number, unit, key));
}

bool anything_new(const TablePreamble& before, const TablePreamble& after) {
  return before.rows != after.rows || before.cols != after.cols ||
         before.frame_period_us != after.frame_period_us || before.values != after.values;
}

}  // namespace

std::optional<FrameKind> kind_word(std::string_view text) {
  for (const std::string& word : column_name(text).letters) {
    if (word == "raw") return FrameKind::raw;
    if (among(word, {"delta", "deltas", "difference", "differences", "diff"}))
      return FrameKind::difference;
  }
  return std::nullopt;
}

void take_preamble_line(TablePreamble& out, std::uint64_t number, std::string_view line,
                        char separator) {
  constexpr std::size_t kMostLines = 32;
  const std::string_view text = comment_text(line);
  if (text.empty()) return;
  const TablePreamble before = out;
  if (const auto found = key_value_in(text, separator)) {
    const ColumnName key = column_name(found->key);
    double value = 0;
    std::string unit;
    if (!key.letters.empty() && number_and_unit(found->value, value, unit))
      take_number(out, key, value, unit);
    else if (among(key_word(key), {"values", "value", "type", "kind", "data", "datatype", "mode"}))
      if (const auto kind = kind_word(found->value)) out.values = kind;
  }
  std::vector<std::string>& list = anything_new(before, out) ? out.taken : out.others;
  if (list.size() < kMostLines)
    list.push_back(&list == &out.taken ? "line " + std::to_string(number) + " " + quoted(text)
                                       : std::string(text.substr(0, 200)));
}

FrameHeading frame_heading(std::string_view line) {
  FrameHeading out;
  const std::string text = std::string(comment_text(line));
  std::string word;
  for (std::size_t i = 0; i < text.size();) {
    const char c = text[i];
    const bool digit = c >= '0' && c <= '9';
    const char low = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
    if (!digit) {
      if (low >= 'a' && low <= 'z')
        word = i > 0 && text[i - 1] != ' ' && !word.empty() ? word + low : std::string(1, low);
      ++i;
      continue;
    }
    std::size_t end = i;
    while (end < text.size() && (text[end] == '.' || (text[end] >= '0' && text[end] <= '9'))) ++end;
    double number = 0;
    if (!number_in(trimmed(std::string_view(text).substr(i, end - i)), {}, number)) number = -1;
    const ColumnName name = column_name(word);
    if (!out.number && counts_frames(name) && number >= 0 && number <= 4294967295.0)
      out.number = static_cast<std::uint32_t>(number);
    else if (!out.time && time_name(name).is_time && number >= 0) {
      out.time = number;
      const ColumnName behind = column_name(std::string_view(text).substr(end));
      out.unit = time_name(name).unit;
      if (!behind.letters.empty() && !out.unit) out.unit = time_unit_of(behind.letters.front());
    }
    i = end;
  }
  return out;
}

}  // namespace bareglass::host
