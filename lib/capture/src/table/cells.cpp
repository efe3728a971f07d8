#include "table/cells.hpp"

#include <charconv>
#include <cmath>
#include <string>

#include "csv_text.hpp"
#include "table/names.hpp"
#include "table/times.hpp"

namespace bareglass::host {

namespace {

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_hex_letter(char c) { return (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F'); }

bool all_hex(std::string_view text) {
  for (const char c : text)
    if (!is_digit(c) && !is_hex_letter(c)) return false;
  return !text.empty() && text.size() <= 8;
}

std::string_view without_sign(std::string_view text) {
  return !text.empty() && (text.front() == '-' || text.front() == '+') ? text.substr(1) : text;
}

bool has_hex_prefix(std::string_view text) {
  return text.size() > 2 && text[0] == '0' && (text[1] == 'x' || text[1] == 'X');
}

/// Digits with points and commas among them, perhaps an exponent.
bool looks_decimal(std::string_view text, bool commas) {
  std::size_t i = 0;
  bool any = false;
  for (; i < text.size() && (is_digit(text[i]) || text[i] == '.' || (commas && text[i] == ','));
       ++i)
    any = any || is_digit(text[i]);
  if (!any) return false;
  if (i == text.size()) return true;
  if (text[i] != 'e' && text[i] != 'E') return false;
  const std::string_view exponent = without_sign(text.substr(i + 1));
  for (const char c : exponent)
    if (!is_digit(c)) return false;
  return !exponent.empty() && exponent.size() <= 3;
}

bool is_bare_hex(std::string_view text) {
  if (text.size() < 2 || !all_hex(text)) return false;
  bool digit = false, letter = false;
  for (const char c : text) {
    digit = digit || is_digit(c);
    letter = letter || is_hex_letter(c);
  }
  return letter && (digit || text.size() == 4);
}

bool hex_in(std::string_view digits, double& out) {
  if (!all_hex(digits)) return false;
  std::uint32_t value = 0;
  std::from_chars(digits.data(), digits.data() + digits.size(), value, 16);
  out = value;
  return true;
}

bool decimal_in_style(std::string_view text, const NumberStyle& style, double& out) {
  std::string plain;
  for (const char c : text) {
    if (style.thousands != '\0' && c == style.thousands) continue;
    plain += style.decimal_comma && c == ',' ? '.' : c;
  }
  if (!looks_decimal(plain, false)) return false;
  const auto [end, error] = std::from_chars(plain.data(), plain.data() + plain.size(), out);
  return error == std::errc() && end == plain.data() + plain.size() && std::isfinite(out);
}

bool between(char c, char separator) {
  return separator == ' ' ? c == ' ' || c == '\t' : c == separator;
}

/// The cell that begins at `at`, which is moved behind it.
Cell take_cell(std::string_view line, std::size_t& at, char separator) {
  while (at < line.size() && line[at] == ' ' && separator != ' ') ++at;
  if (at < line.size() && line[at] == '"') {
    const std::size_t close = line.find('"', at + 1);
    const std::size_t end = close == std::string_view::npos ? line.size() : close;
    const Cell cell{trimmed(line.substr(at + 1, end - at - 1)), true};
    at = end;
    while (at < line.size() && !between(line[at], separator)) ++at;
    return cell;
  }
  const std::size_t begin = at;
  while (at < line.size() && !between(line[at], separator)) ++at;
  return {trimmed(line.substr(begin, at - begin)), false};
}

/// "C0 C1 C2" are names, though each could be hexadecimal.
bool names_columns(const std::vector<Cell>& cells, char separator) {
  ColumnName before;
  std::size_t seen = 0;
  for (const Cell& cell : cells) {
    if (cell.text.empty()) continue;
    if (look_of(cell, separator) != CellLook::hex) return false;
    ColumnName now = column_name(cell.text);
    if (now.numbers.size() != 1) return false;
    const bool next =
        seen == 0 || (now.pattern == before.pattern && now.numbers[0] == before.numbers[0] + 1);
    if (!next) return false;
    before = std::move(now);
    ++seen;
  }
  return seen > 1;
}

bool begins(std::string_view text, std::string_view with) {
  return text.substr(0, with.size()) == with;
}

}  // namespace

void split_cells(std::vector<Cell>& out, std::string_view line, char separator) {
  out.clear();
  if (separator == ' ') line = trimmed(line);
  if (line.empty()) return;
  for (std::size_t at = 0;;) {
    out.push_back(take_cell(line, at, separator));
    if (at >= line.size()) return;
    ++at;
    while (separator == ' ' && at < line.size() && between(line[at], ' ')) ++at;
  }
}

bool number_in(std::string_view text, const NumberStyle& style, double& out) {
  const bool negative = !text.empty() && text.front() == '-';
  const std::string_view digits = without_sign(text);
  const bool good = has_hex_prefix(digits) ? hex_in(digits.substr(2), out)
                    : style.base == 16     ? hex_in(digits, out)
                                           : decimal_in_style(digits, style, out);
  if (good && negative) out = -out;
  return good;
}

CellLook look_of(const Cell& cell, char separator) {
  const std::string_view text = cell.text;
  if (text.empty()) return CellLook::empty;
  const std::string_view digits = without_sign(text);
  if (has_hex_prefix(digits) && all_hex(digits.substr(2))) return CellLook::number;
  if (looks_decimal(digits, separator != ',' || cell.quoted)) return CellLook::number;
  if (is_bare_hex(digits)) return CellLook::hex;
  return time_look(text);
}

RowKind row_kind(std::vector<Cell>& cells, std::string_view line, char separator) {
  const std::string_view text = trimmed(line);
  if (text.empty()) return RowKind::blank;
  const bool comment = text.front() == '#' || text.front() == '%' || begins(text, "//") ||
                       (text.front() == ';' && separator != ';');
  if (comment) return RowKind::comment;
  split_cells(cells, line, separator);
  std::size_t numbers = 0, filled = 0;
  for (const Cell& cell : cells) {
    const CellLook look = look_of(cell, separator);
    filled += look != CellLook::empty ? 1 : 0;
    numbers += look != CellLook::empty && look != CellLook::word ? 1 : 0;
  }
  if (filled == 0) return RowKind::blank;
  if (names_columns(cells, separator)) return RowKind::words;
  return cells.size() >= 2 && 2 * numbers > filled ? RowKind::data : RowKind::words;
}

std::string_view comment_text(std::string_view line) {
  line = trimmed(line);
  while (!line.empty() &&
         (line.front() == '#' || line.front() == '%' || line.front() == ';' || line.front() == '/'))
    line.remove_prefix(1);
  return trimmed(line);
}

}  // namespace bareglass::host
