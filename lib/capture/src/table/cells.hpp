#pragma once
// A line of a table as cells, and what a cell may be.

#include <cstdint>
#include <string_view>
#include <vector>

namespace bareglass::host {

struct Cell {
  std::string_view text;  ///< without blanks around it and without quotes
  bool quoted = false;
};

/// Fills `out` with the cells of a line. The separator ' ' stands for any run of blanks. A quoted
/// cell may hold separators; one without a closing quote ends with its line.
void split_cells(std::vector<Cell>& out, std::string_view line, char separator);

/// How numbers are written in a table.
struct NumberStyle {
  bool decimal_comma = false;
  int base = 10;
  char thousands = '\0';
};

/// The whole of `text` as a number; false if it is none. 0x is read in every style; nothing reads
/// as infinite or NaN.
bool number_in(std::string_view text, const NumberStyle& style, double& out);

enum class CellLook : std::uint8_t {
  empty,
  number,  ///< in one style or another, but for bare hexadecimal
  hex,     ///< hexadecimal digits with a letter among them, without 0x
  stamp,   ///< 2031-05-06T07:08:09.123
  date,    ///< 2031-05-06
  clock,   ///< 07:08:09.123
  word,
};

CellLook look_of(const Cell& cell, char separator);

inline bool is_numeric(CellLook look) { return look == CellLook::number || look == CellLook::hex; }

enum class RowKind : std::uint8_t { blank, comment, words, data };

/// What kind of line this is; fills `cells` unless it is blank or a comment. Data are two or more
/// cells of which more than half are numbers.
RowKind row_kind(std::vector<Cell>& cells, std::string_view line, char separator);

/// A comment without the sign that begins it.
std::string_view comment_text(std::string_view line);

}  // namespace bareglass::host
