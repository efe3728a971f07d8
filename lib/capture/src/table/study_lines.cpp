// The first steps: lines, cells, names, groups.

#include <fmt/format.h>

#include <algorithm>

#include "csv_text.hpp"
#include "table/study.hpp"

namespace bareglass::host {

namespace {

constexpr char kSeparators[] = {'\t', ';', ',', '|', ' '};

const char* separator_words(char separator) {
  switch (separator) {
    case '\t':
      return "tabs";
    case ';':
      return "semicolons";
    case ',':
      return "commas";
    case '|':
      return "upright bars";
    default:
      return "blanks";
  }
}

/// Numbers in lines of data, less what in them is none: the right separator leaves nothing else.
long score_of(const TableHead& head, char separator) {
  constexpr std::size_t kMostLines = 200;
  long score = 0;
  std::vector<Cell> cells;
  for (std::size_t n = 0; n < std::min(kMostLines, head.lines.size()); ++n) {
    if (row_kind(cells, head.lines[n].text, separator) != RowKind::data) continue;
    for (const Cell& cell : cells) {
      const CellLook look = look_of(cell, separator);
      score += is_numeric(look) ? 1 : look == CellLook::word ? -2 : 0;
    }
  }
  return score;
}

/// Consecutive whole numbers from 0 or 1, at least `least` of them.
bool counts_up(const std::vector<Cell>& cells, std::size_t first, std::size_t least) {
  if (cells.size() < first + least) return false;
  double before = 0;
  for (std::size_t c = first; c < cells.size(); ++c) {
    double now = 0;
    if (!number_in(cells[c].text, {}, now)) return false;
    if (c == first ? now != 0 && now != 1 : now != before + 1) return false;
    before = now;
  }
  return true;
}

std::size_t without_empty_end(const std::vector<Cell>& cells) {
  std::size_t n = cells.size();
  while (n > 0 && cells[n - 1].text.empty()) --n;
  return n;
}

}  // namespace

char best_separator(const TableHead& head, const TableOptions& options) {
  if (options.separator) return *options.separator;
  char best = ',';
  long most = 0;
  for (const char separator : kSeparators) {
    const long score = score_of(head, separator);
    if (score > most) {
      most = score;
      best = separator;
    }
  }
  return best;
}

std::vector<HeadRow> rows_of(const TableHead& head, char separator) {
  std::vector<HeadRow> rows;
  for (const TableLine& line : head.lines) {
    HeadRow row;
    row.number = line.number;
    row.text = line.text;
    row.kind = row_kind(row.cells, row.text, separator);
    rows.push_back(std::move(row));
  }
  return rows;
}

bool holds_table(const TableHead& head, const TableOptions& options) {
  const std::vector<HeadRow> rows = rows_of(head, best_separator(head, options));
  return std::any_of(rows.begin(), rows.end(),
                     [](const HeadRow& row) { return row.kind == RowKind::data; });
}

void TableStudy::count_cells() {
  out_.separator = best_separator(head_, asked_);
  rows_ = rows_of(head_, out_.separator);
  std::map<std::size_t, std::size_t> sizes;
  bool ends_empty = false;
  for (const HeadRow& row : rows_) {
    if (!is_data(row)) continue;
    const std::size_t n = without_empty_end(row.cells);
    ends_empty = ends_empty || n < row.cells.size();
    ++sizes[n];
  }
  if (sizes.empty())
    fail("expected lines of numbers; name what stands between them with --separator");
  out_.cells = std::max_element(sizes.begin(), sizes.end(), [](const auto& a, const auto& b) {
                 return a.second < b.second;
               })->first;
  say(fmt::format("{} cells a line, separated by {}{}", out_.cells, separator_words(out_.separator),
                  ends_empty ? "; empty ones at the end of a line do not count" : ""));
}

void TableStudy::look_at_columns() {
  columns_.assign(out_.cells, {});
  for (const HeadRow& row : rows_) {
    if (!is_data(row)) continue;
    for (std::size_t c = 0; c < std::min(out_.cells, row.cells.size()); ++c) {
      Column& column = columns_[c];
      switch (look_of(row.cells[c], out_.separator)) {
        case CellLook::number:
          ++column.numbers;
          break;
        case CellLook::hex:
          ++column.hex;
          break;
        case CellLook::stamp:
          ++column.stamps;
          break;
        case CellLook::date:
          ++column.dates;
          break;
        case CellLook::clock:
          ++column.clocks;
          break;
        case CellLook::word:
          ++column.words;
          break;
        case CellLook::empty:
          break;
      }
    }
  }
}

/// Names stand in the last line of words above the data that has a cell for each column; numbered
/// columns may look like data themselves.
void TableStudy::find_header() {
  std::size_t first = 0;
  while (!is_data(rows_[first])) ++first;
  HeadRow& top = rows_[first];
  bool words_above_numbers = false;
  for (std::size_t c = 0; c < std::min(out_.cells, top.cells.size()); ++c)
    words_above_numbers =
        words_above_numbers || (columns_[c].numeric() && columns_[c].words > 0 &&
                                look_of(top.cells[c], out_.separator) == CellLook::word);
  const bool only_data = std::count_if(rows_.begin(), rows_.end(),
                                       [this](const HeadRow& row) { return is_data(row); }) == 1;
  std::size_t at = rows_.size();
  if (words_above_numbers || (!only_data && counts_up(top.cells, 0, 8))) {
    top.kind = RowKind::words;
    at = first;
  }
  std::vector<Cell> cells;
  for (std::size_t n = first; at == rows_.size() && n-- > 0;) {
    const bool words = rows_[n].kind == RowKind::words || rows_[n].kind == RowKind::comment;
    if (!words) continue;
    split_cells(cells, comment_text(rows_[n].text), out_.separator);
    // A key and its value have two cells as well.
    const bool keyed = cells.size() == 2 && rows_[n].text.find_first_of(":=") != std::string::npos;
    if (without_empty_end(cells) == out_.cells && !keyed) at = n;
  }
  if (at == rows_.size()) return;
  split_cells(cells, comment_text(rows_[at].text), out_.separator);
  for (std::size_t c = 0; c < out_.cells; ++c)
    names_.push_back(column_name(c < cells.size() ? cells[c].text : std::string_view()));
  out_.header_line = rows_[at].number;
  out_.header = std::string(trimmed(rows_[at].text));
  say(fmt::format("line {} names the columns", out_.header_line));
}

void TableStudy::take_preamble() {
  for (const HeadRow& row : rows_) {
    if (is_data(row)) break;
    if (row.kind != RowKind::blank && row.number != out_.header_line)
      take_preamble_line(preamble_, row.number, row.text, out_.separator);
  }
  for (const std::string& taken : preamble_.taken) say("taken from " + taken);
  out_.notes = preamble_.others;
  rows_told_ = options_.rows != 0 ? options_.rows : preamble_.rows.value_or(0);
  cols_told_ = options_.cols != 0 ? options_.cols : preamble_.cols.value_or(0);
  const auto contradicts = [](int asked, const std::optional<int>& told) {
    return asked != 0 && told && *told != asked;
  };
  if (contradicts(options_.rows, preamble_.rows) || contradicts(options_.cols, preamble_.cols))
    fail(fmt::format(
        "expected {} rows and {} columns as asked for, but the lines above the table "
        "say {} and {}",
        rows_told_, cols_told_, preamble_.rows.value_or(0), preamble_.cols.value_or(0)));
}

void TableStudy::find_groups() {
  bool open = false;
  std::size_t between = 0;
  for (std::size_t n = 0; n < rows_.size(); ++n) {
    if (!is_data(rows_[n])) {
      if (open && rows_[n].kind == RowKind::words) ++between;
      open = false;
      continue;
    }
    if (!open) groups_.emplace_back();
    groups_.back().rows.push_back(n);
    open = true;
  }
  std::size_t lines_of_data = 0;
  for (const HeadGroup& group : groups_) lines_of_data += group.rows.size();
  out_.headings = between > 1 && 2 * between >= lines_of_data;
  // What the head cuts off is not whole.
  const std::size_t whole = groups_.size() - (head_.whole || groups_.size() < 2 ? 0u : 1u);
  std::map<std::size_t, std::size_t> sizes;
  for (std::size_t g = 0; g < whole; ++g) ++sizes[groups_[g].rows.size()];
  const auto most = std::max_element(
      sizes.begin(), sizes.end(), [](const auto& a, const auto& b) { return a.second < b.second; });
  // Some blocks may be short of a line.
  const bool several = groups_.size() > 1 || head_.from_folder;
  if (several && most->first > 1 && 2 * most->second > whole) group_lines_ = most->first;
}

/// "0 1 2 3 ..." above every block counts columns.
void TableStudy::drop_labels() {
  if (group_lines_ < 3) return;
  for (const HeadGroup& group : groups_) {
    const std::vector<Cell>& cells = rows_[group.rows.front()].cells;
    const std::size_t first = !cells.empty() && cells[0].text.empty() ? 1 : 0;
    if (!counts_up(cells, first, 2)) return;
  }
  if (groups_.size() < 2) return;
  out_.labels_above = true;
  --group_lines_;
  for (HeadGroup& group : groups_) group.rows.erase(group.rows.begin());
  groups_.erase(std::remove_if(groups_.begin(), groups_.end(),
                               [](const HeadGroup& group) { return group.rows.empty(); }),
                groups_.end());
  say("the first line of each block counts its columns");
}

}  // namespace bareglass::host
