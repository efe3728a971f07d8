#include "table/names.hpp"

#include <algorithm>
#include <initializer_list>

namespace bareglass::host {

namespace {

bool name_digit(char c) { return c >= '0' && c <= '9'; }
bool upper(char c) { return c >= 'A' && c <= 'Z'; }
char lowered(char c) { return upper(c) ? static_cast<char>(c - 'A' + 'a') : c; }
bool letter(char c) { return lowered(c) >= 'a' && lowered(c) <= 'z'; }

/// The micro sign in UTF-8 (two of them) and in Latin-1, as a u.
std::string with_plain_micro(std::string_view name) {
  std::string out(name);
  for (const std::string_view sign : {"\xC2\xB5", "\xCE\xBC", "\xB5"})
    for (std::size_t at = out.find(sign); at != std::string::npos; at = out.find(sign))
      out.replace(at, sign.size(), "u");
  return out;
}

bool one_of(std::string_view word, std::initializer_list<std::string_view> names) {
  return std::find(names.begin(), names.end(), word) != names.end();
}

long take_number(const std::string& text, std::size_t& i) {
  long number = 0;
  for (; i < text.size() && name_digit(text[i]); ++i)
    number = std::min(100'000'000L, 10 * number + (text[i] - '0'));
  return number;
}

bool is_time_word(std::string_view word) {
  return one_of(word, {"t", "time", "timestamp", "timestamps", "stamp", "ts", "datetime", "date",
                       "clock", "elapsed", "uptime", "zeit", "temps", "tiempo", "tempo"});
}

}  // namespace

ColumnName column_name(std::string_view name) {
  const std::string text = with_plain_micro(name);
  ColumnName out;
  std::string word;
  const auto end_word = [&] {
    if (!word.empty()) out.letters.push_back(word);
    word.clear();
  };
  for (std::size_t i = 0; i < text.size();) {
    if (name_digit(text[i])) {
      out.words.push_back(word);
      end_word();
      out.numbers.push_back(take_number(text, i));
      out.pattern += '#';
      continue;
    }
    const bool camel = i > 0 && upper(text[i]) && letter(text[i - 1]) && !upper(text[i - 1]);
    if (camel || !letter(text[i])) {
      // "row_3": the word before a number may end in a sign.
      const bool kept = !camel && i + 1 < text.size() && name_digit(text[i + 1]);
      if (!kept) end_word();
    }
    if (letter(text[i])) word += lowered(text[i]);
    out.pattern += lowered(text[i++]);
  }
  end_word();
  return out;
}

TimeName time_name(const ColumnName& name) {
  TimeName out;
  if (!name.numbers.empty()) return out;
  for (const std::string& word : name.letters) {
    out.is_time = out.is_time || is_time_word(word);
    if (const auto unit = time_unit_of(word)) out.unit = unit;
  }
  // A unit alone is a name, too; "s" may be anything.
  if (name.letters.size() == 1 && out.unit && name.letters[0] != "s") out.is_time = true;
  return out;
}

bool counts_frames(const ColumnName& name) {
  if (!name.numbers.empty() || name.letters.empty()) return false;
  return one_of(name.letters.front(), {"frame", "frames", "seq", "sequence", "index", "idx", "nr",
                                       "no", "number", "scan", "cycle", "sample", "counter", "n"});
}

bool counts_rows(const ColumnName& name) {
  return name.numbers.empty() && !name.letters.empty() &&
         one_of(name.letters.front(), {"row", "drive", "tx", "line"});
}

std::optional<NodeOrder> line_word(std::string_view word) {
  if (one_of(word, {"r", "row", "rows", "d", "drive", "driven", "tx", "t"})) return NodeOrder::rows;
  if (one_of(word, {"c", "col", "cols", "column", "columns", "s", "sense", "rx"}))
    return NodeOrder::columns;
  return std::nullopt;
}

NameRun longest_run(const std::vector<ColumnName>& names) {
  NameRun best;
  for (std::size_t first = 0; first < names.size();) {
    std::size_t end = first + 1;
    while (end < names.size() && names[end].pattern == names[first].pattern) ++end;
    const bool counted = !names[first].numbers.empty();
    if (counted && end - first > best.count && end - first > 1) best = {first, end - first};
    first = end;
  }
  return best;
}

}  // namespace bareglass::host
