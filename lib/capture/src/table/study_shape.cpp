// Rows and columns, and which reading is which node.

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "csv_text.hpp"
#include "table/study.hpp"

namespace bareglass::host {

namespace {

std::string shape_words(int rows, int cols) {
  return fmt::format("{} rows x {} columns", rows, cols);
}

/// The two factors of `n` that are closest to each other, the smaller first.
std::pair<std::size_t, std::size_t> closest_factors(std::size_t n) {
  std::pair<std::size_t, std::size_t> best{1, n};
  for (std::size_t f = 1; f * f <= n; ++f)
    if (n % f == 0) best = {f, n / f};
  return best;
}

std::string shape_option(std::size_t rows, std::size_t cols) {
  return fmt::format("--rows {} --columns {}", rows, cols);
}

}  // namespace

void TableStudy::ask_for_shape(std::size_t numbers) {
  const auto [few, many] = closest_factors(numbers);
  std::vector<std::string> choices = {shape_option(many, few)};
  if (few != many) choices.push_back(shape_option(few, many));
  ask(fmt::format("rows and columns ({} numbers a frame, such as these)", numbers),
      std::move(choices));
  out_.rows = static_cast<int>(many);
  out_.cols = static_cast<int>(few);
}

void TableStudy::settle_shape() {
  const auto told = static_cast<std::size_t>(rows_told_) * static_cast<std::size_t>(cols_told_);
  if (out_.row_cell)
    out_.block = true;
  else if (told > 0)
    out_.block = readings_.size() < told;
  else
    out_.block = group_lines_ > 1;
  if (readings_.empty()) fail("expected columns of readings; --values-from tells the first");
  if (out_.block)
    settle_block();
  else
    settle_line();
  const auto nodes = static_cast<std::uint64_t>(out_.rows) * static_cast<std::uint64_t>(out_.cols);
  if (out_.rows > kMaxCaptureLines || out_.cols > kMaxCaptureLines || nodes == 0)
    fail(fmt::format("expected a panel of 1 to {} rows and columns, not {}", kMaxCaptureLines,
                     shape_words(out_.rows, out_.cols)));
}

/// "C0 C1 C2" above a block, or "R0:" before its lines.
std::optional<NodeOrder> TableStudy::order_from_words() const {
  if (!names_.empty() && names_[readings_.front()].words.size() == 1)
    if (const auto across = line_word(names_[readings_.front()].words[0]))
      return *across == NodeOrder::columns ? NodeOrder::rows : NodeOrder::columns;
  if (out_.row_cell && !names_.empty() && counts_rows(names_[*out_.row_cell]))
    return NodeOrder::rows;
  for (std::size_t c = 0; c < readings_.front(); ++c) {
    const std::vector<Cell>& cells = first_data().cells;
    if (c >= cells.size()) break;
    const ColumnName label = column_name(cells[c].text);
    if (label.words.size() == 1 && !label.words[0].empty())
      if (const auto down = line_word(label.words[0])) return *down;
  }
  return std::nullopt;
}

void TableStudy::settle_block() {
  // Extra numbers beside the readings of a line are told apart by their count alone.
  const std::size_t told = cols_told_ > 0 ? static_cast<std::size_t>(cols_told_) : 0;
  std::size_t lines = group_lines_;
  if (out_.row_cell && lines == 0) {
    std::set<std::string_view> seen;
    for (const HeadGroup& group : groups_)
      for (const std::size_t r : group.rows)
        if (*out_.row_cell < rows_[r].cells.size())
          seen.insert(rows_[r].cells[*out_.row_cell].text);
    lines = seen.size();
  }
  const std::size_t numbers = readings_.size();
  std::optional<NodeOrder> order = asked_.order;
  const std::optional<NodeOrder> worded = order_from_words();
  if (order && worded && *order != *worded)
    fail("expected the order asked for with --order, but the names in the table say the other way");
  if (!order) order = worded;
  const auto rows = static_cast<std::size_t>(rows_told_);
  if (rows > 0 && told > 0) {
    const bool as_rows = numbers == told && (lines == 0 || lines == rows);
    const bool as_columns = numbers == rows && (lines == 0 || lines == told);
    if (!as_rows && !as_columns)
      fail(
          fmt::format("{} lines of {} numbers a frame make no panel of {}; --values-from leaves "
                      "out columns before the readings",
                      lines > 0 ? fmt::format("{}", lines) : "some", numbers,
                      shape_words(rows_told_, cols_told_)));
    if (!order && as_rows != as_columns) order = as_rows ? NodeOrder::rows : NodeOrder::columns;
    if (order && !(*order == NodeOrder::rows ? as_rows : as_columns))
      fail(fmt::format("lines of {} numbers are no {} of a panel of {}", numbers,
                       *order == NodeOrder::rows ? "rows" : "columns",
                       shape_words(rows_told_, cols_told_)));
    if (lines == 0) lines = *order == NodeOrder::rows ? rows : told;
    if (group_lines_ == 0 && !out_.row_cell)
      say(fmt::format("{} lines a frame, as rows and columns say", lines));
  }
  if (!order) {
    ask(fmt::format("what a line of {} numbers is: a row (driven line) or a column of the panel",
                    numbers),
        {"--order rows", "--order columns"});
    order = NodeOrder::rows;
  }
  out_.line_is_column = *order == NodeOrder::columns;
  out_.rows = static_cast<int>(out_.line_is_column ? numbers : lines);
  out_.cols = static_cast<int>(out_.line_is_column ? lines : numbers);
  if ((rows_told_ > 0 && rows_told_ != out_.rows) || (cols_told_ > 0 && cols_told_ != out_.cols))
    fail(
        fmt::format("expected the rows and columns asked for, but blocks of {} lines of {} "
                    "numbers make {}",
                    lines, numbers, shape_words(out_.rows, out_.cols)));
  out_.node.assign(out_.cells, -1);
  for (std::size_t i = 0; i < readings_.size(); ++i) out_.node[readings_[i]] = static_cast<int>(i);
  say(fmt::format("{}: a frame is {} lines of {} numbers, each line a {}{}",
                  shape_words(out_.rows, out_.cols), lines, numbers,
                  out_.line_is_column ? "column" : "row",
                  out_.line_is_column ? " (turned to rows)" : ""));
}

/// Numbers in a line that are no readings: `nodes` are, or nobody knows (0).
void TableStudy::leave_out_extras(std::size_t nodes) {
  std::vector<std::size_t> growing;
  for (const std::size_t c : readings_)
    if (increases(c)) growing.push_back(c);
  const bool first = growing.size() == 1 && growing.front() == readings_.front();
  const bool spare = readings_.size() > 1 && !out_.time_cell && !asked_.values_from &&
                     names_.empty() &&
                     (nodes == 0 ? first : readings_.size() == nodes + 1 && growing.size() == 1);
  if (spare) {
    readings_.erase(std::find(readings_.begin(), readings_.end(), growing.front()));
    if (asked_.time_unit) {
      out_.time_cell = growing.front();
      say(fmt::format("column {} grows from line to line: the time", growing.front() + 1));
      return;
    }
    ask(fmt::format("what column {} is, which grows from line to line (time, in which unit, or a "
                    "count of frames)",
                    growing.front() + 1),
        {"--time-unit us", "--time-unit ms", "--time-unit s", "--time-unit frame"});
    return;
  }
  if (nodes == 0) return;
  std::vector<std::string> choices;
  for (std::size_t k = 0; k <= std::min<std::size_t>(3, readings_.size() - nodes); ++k)
    choices.push_back(fmt::format("--values-from {}", readings_[k] + 1));
  ask(fmt::format("which of {} numbers in a line are the {} readings", readings_.size(), nodes),
      std::move(choices));
  readings_.resize(nodes);
}

void TableStudy::settle_line() {
  const auto nodes = static_cast<std::size_t>(rows_told_) * static_cast<std::size_t>(cols_told_);
  if (nodes == 0 || readings_.size() > nodes) leave_out_extras(nodes);
  if (place_by_two_numbers()) return;
  if (nodes > 0 && readings_.size() != nodes)
    fail(fmt::format("{} readings in a line make no panel of {}", readings_.size(),
                     shape_words(rows_told_, cols_told_)));
  if (nodes > 0) {
    out_.rows = rows_told_;
    out_.cols = cols_told_;
  } else if (rows_told_ > 0 && readings_.size() % static_cast<std::size_t>(rows_told_) == 0) {
    out_.rows = rows_told_;
    out_.cols = static_cast<int>(readings_.size()) / rows_told_;
  } else if (cols_told_ > 0 && readings_.size() % static_cast<std::size_t>(cols_told_) == 0) {
    out_.cols = cols_told_;
    out_.rows = static_cast<int>(readings_.size()) / cols_told_;
  } else {
    ask_for_shape(readings_.size());
  }
  place_in_order();
}

/// Names such as R3C12. False if the names are not of that kind; fails if they leave nodes out.
bool TableStudy::place_by_two_numbers() {
  if (names_.empty()) return false;
  const ColumnName& first = names_[readings_.front()];
  if (first.numbers.size() < 2) return false;
  for (const std::size_t c : readings_)
    if (names_[c].pattern != first.pattern) return false;
  const std::size_t last = first.numbers.size() - 1;
  const bool constant = std::all_of(readings_.begin(), readings_.end(), [&](std::size_t c) {
    return names_[c].numbers[last - 1] == first.numbers[last - 1];
  });
  const auto word_a = line_word(first.words[last - 1]);
  const auto word_b = line_word(first.words[last]);
  // One number that never changes is part of the name, unless it is called a row.
  if (constant && readings_.size() > 1 && !word_a && !word_b) return false;
  std::optional<NodeOrder> order = asked_.order;
  if (word_a || (word_b && word_a != word_b)) {
    const NodeOrder worded = word_a                          ? *word_a
                             : *word_b == NodeOrder::columns ? NodeOrder::rows
                                                             : NodeOrder::columns;
    if (word_a && word_b && word_a == word_b) return false;
    if (order && *order != worded)
      fail(
          "expected the order asked for with --order, but the names say rows and columns the "
          "other way round");
    order = worded;
    say("row and column of each reading as its name says");
  } else if (order) {
    say(fmt::format("the first number of a name counts {}, as asked for",
                    *order == NodeOrder::rows ? "rows" : "columns"));
  } else {
    ask("which number of a name counts the rows: the first (rows) or the second (columns)",
        {"--order rows", "--order columns"});
    order = NodeOrder::rows;
  }
  const bool rows_first = *order == NodeOrder::rows;
  long least[2] = {first.numbers[last - 1], first.numbers[last]}, most[2] = {least[0], least[1]};
  for (const std::size_t c : readings_)
    for (std::size_t k = 0; k < 2; ++k) {
      least[k] = std::min(least[k], names_[c].numbers[last - 1 + k]);
      most[k] = std::max(most[k], names_[c].numbers[last - 1 + k]);
    }
  const long a = most[0] - least[0] + 1, b = most[1] - least[1] + 1;
  if (a > kMaxCaptureLines || b > kMaxCaptureLines ||
      static_cast<std::size_t>(a) * static_cast<std::size_t>(b) != readings_.size())
    fail_at(out_.header_line,
            fmt::format("the names speak of {} x {} nodes, but there are {} of them", a, b,
                        readings_.size()));
  out_.rows = static_cast<int>(rows_first ? a : b);
  out_.cols = static_cast<int>(rows_first ? b : a);
  if ((rows_told_ > 0 && rows_told_ != out_.rows) || (cols_told_ > 0 && cols_told_ != out_.cols))
    fail(fmt::format("expected the rows and columns asked for, but the names make {}",
                     shape_words(out_.rows, out_.cols)));
  out_.node.assign(out_.cells, -1);
  std::set<int> placed;
  for (const std::size_t c : readings_) {
    const long x = names_[c].numbers[last - 1] - least[0], y = names_[c].numbers[last] - least[1];
    const int node = static_cast<int>(rows_first ? x * out_.cols + y : y * out_.cols + x);
    if (!placed.insert(node).second)
      fail_at(out_.header_line, fmt::format("the name of column {} stands twice", c + 1));
    out_.node[c] = node;
  }
  say(fmt::format("{}, by the names", shape_words(out_.rows, out_.cols)));
  return true;
}

/// By place in the line, or by the number in the name where those are not in sequence.
void TableStudy::place_in_order() {
  NodeOrder order = NodeOrder::rows;
  if (asked_.order) {
    order = *asked_.order;
    say(fmt::format("{}, {} after {} in a line, as asked for", shape_words(out_.rows, out_.cols),
                    order == NodeOrder::rows ? "row" : "column",
                    order == NodeOrder::rows ? "row" : "column"));
  } else if (out_.rows > 1 && out_.cols > 1) {
    ask("the order of the numbers in a line: row after row, or column after column",
        {"--order rows", "--order columns"});
  }
  std::vector<std::size_t> sorted = readings_;
  const auto number = [this](std::size_t c) {
    return names_.empty() || names_[c].numbers.empty() ? long{0} : names_[c].numbers.back();
  };
  std::stable_sort(sorted.begin(), sorted.end(),
                   [&](std::size_t x, std::size_t y) { return number(x) < number(y); });
  const bool counted =
      number(sorted.back()) - number(sorted.front()) + 1 == static_cast<long>(sorted.size());
  if (!counted) sorted = readings_;
  if (sorted != readings_) say("readings by the numbers in their names, which are out of sequence");
  out_.node.assign(out_.cells, -1);
  for (std::size_t i = 0; i < sorted.size(); ++i) {
    const int k = static_cast<int>(i);
    out_.node[sorted[i]] =
        order == NodeOrder::rows ? k : (k % out_.rows) * out_.cols + k / out_.rows;
  }
}

}  // namespace bareglass::host
