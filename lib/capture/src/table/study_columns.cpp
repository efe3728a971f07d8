// Which column is what.

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "csv_text.hpp"
#include "table/study.hpp"

namespace bareglass::host {

namespace {

std::string column_words(std::size_t column) { return fmt::format("column {}", column + 1); }

std::string lower(std::string_view text) {
  std::string out;
  for (const char c : text) out += c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  return out;
}

}  // namespace

std::vector<std::size_t> TableStudy::numeric_columns() const {
  std::vector<std::size_t> numeric;
  for (std::size_t c = 0; c < columns_.size(); ++c)
    if (columns_[c].numeric() && c != out_.time_cell && c != out_.sequence_cell &&
        c != out_.row_cell)
      numeric.push_back(c);
  return numeric;
}

std::optional<std::size_t> TableStudy::column_called(const std::string& name) const {
  std::size_t number = 0;
  const auto [end, error] = std::from_chars(name.data(), name.data() + name.size(), number);
  if (error == std::errc() && end == name.data() + name.size())
    return number >= 1 && number <= out_.cells ? std::optional<std::size_t>(number - 1)
                                               : std::nullopt;
  if (names_.empty()) return std::nullopt;
  std::vector<Cell> cells;
  split_cells(cells, comment_text(out_.header), out_.separator);
  for (std::size_t c = 0; c < std::min(cells.size(), out_.cells); ++c)
    if (lower(cells[c].text) == lower(name)) return c;
  return std::nullopt;
}

void TableStudy::find_times() {
  for (std::size_t c = 0; c < columns_.size(); ++c) {
    const Column& column = columns_[c];
    if (column.stamps > column.words && !out_.time_cell) {
      out_.time_cell = c;
      out_.time = TimeForm::stamp;
    }
    if (column.dates > column.words) out_.date_cell = c;
    if (column.clocks > column.words && !out_.time_cell) {
      out_.time_cell = c;
      out_.time = TimeForm::clock;
    }
  }
  if (asked_.time_column) {
    out_.time_cell = column_called(*asked_.time_column);
    if (!out_.time_cell)
      fail(fmt::format("expected --time-column to be a number from 1 to {}{}, not {}", out_.cells,
                       std::string(names_.empty() ? "" : " or a name over a column"),
                       quoted(std::string_view(*asked_.time_column))));
    if (columns_[*out_.time_cell].numeric()) out_.time = TimeForm::none;
  }
  for (std::size_t c = 0; c < names_.size(); ++c) {
    const TimeName name = time_name(names_[c]);
    if (!columns_[c].numeric()) continue;
    if (name.is_time && !out_.time_cell) out_.time_cell = c;
    if (name.is_time && out_.time_cell == c && name.unit) out_.time = *name.unit;
    if (c == out_.time_cell) continue;
    if (counts_frames(names_[c]) && !out_.sequence_cell) out_.sequence_cell = c;
    if (counts_rows(names_[c]) && !out_.row_cell) out_.row_cell = c;
  }
}

/// A column of numbers that grows from line to line.
bool TableStudy::increases(std::size_t column) const {
  double before = 0;
  std::size_t seen = 0;
  NumberStyle style;
  style.decimal_comma = true;
  for (const HeadGroup& group : groups_)
    for (const std::size_t r : group.rows) {
      double now = 0;
      if (column >= rows_[r].cells.size()) continue;
      if (!number_in(rows_[r].cells[column].text, style, now)) return false;
      if (seen++ > 0 && now <= before) return false;
      before = now;
    }
  return seen >= 3;
}

void TableStudy::find_readings() {
  if (asked_.values_from) {
    const auto first = static_cast<std::size_t>(*asked_.values_from - 1);
    if (first >= out_.cells)
      fail(fmt::format("expected --values-from 1 to {}, the columns there are", out_.cells));
    if (out_.time_cell && *out_.time_cell >= first && columns_[*out_.time_cell].numeric() &&
        !asked_.time_column && names_.empty())
      out_.time_cell.reset();
    for (std::size_t c = first; c < out_.cells; ++c)
      if (columns_[c].numeric() && c != out_.time_cell) readings_.push_back(c);
    const auto nodes = static_cast<std::size_t>(rows_told_) * static_cast<std::size_t>(cols_told_);
    if (nodes > 0 && readings_.size() > nodes) readings_.resize(nodes);
    say(fmt::format("readings from column {} on", first + 1));
    return;
  }
  const NameRun run = longest_run(names_);
  if (run.count > 0) {
    for (std::size_t c = run.first; c < run.first + run.count; ++c)
      if (columns_[c].numeric()) readings_.push_back(c);
    say(fmt::format("readings in columns {} to {}, by their names", run.first + 1,
                    run.first + run.count));
    return;
  }
  readings_ = numeric_columns();
}

/// In blocks, a first column that counts 0, 1, 2, ... in every one of them names the line.
void TableStudy::find_index_column() {
  if (group_lines_ < 2 || readings_.size() < 2 || out_.row_cell) return;
  const std::size_t column = readings_.front();
  for (const HeadGroup& group : groups_) {
    double before = 0;
    for (std::size_t n = 0; n < group.rows.size(); ++n) {
      const HeadRow& row = rows_[group.rows[n]];
      double now = 0;
      if (column >= row.cells.size() || !number_in(row.cells[column].text, {}, now)) return;
      if (n == 0 ? now != 0 && now != 1 : now != before + 1) return;
      before = now;
    }
  }
  if (groups_.size() < 2 && group_lines_ < 4) return;
  out_.row_cell = column;
  readings_.erase(readings_.begin());
  say(fmt::format("{} counts the lines of a block", column_words(column)));
}

}  // namespace bareglass::host
