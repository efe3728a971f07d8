#pragma once
// The steps from the first lines of a table to its layout.

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "table/layout.hpp"
#include "table/names.hpp"

namespace bareglass::host {

/// The lines of a head, taken apart with one separator.
struct HeadRow {
  RowKind kind = RowKind::blank;
  std::uint64_t number = 0;
  std::string_view text;
  std::vector<Cell> cells;
};

/// Lines of data that follow each other.
struct HeadGroup {
  std::vector<std::size_t> rows;  ///< indices
};

/// The separator under which the most cells are numbers.
char best_separator(const TableHead& head, const TableOptions& options);

std::vector<HeadRow> rows_of(const TableHead& head, char separator);

class TableStudy {
 public:
  TableStudy(TableReading& reading, const TableHead& head, const std::string& name,
             const OpenOptions& options);
  TableLayout run();

 private:
  struct Column {
    std::size_t numbers = 0, hex = 0, words = 0, dates = 0, clocks = 0, stamps = 0;
    bool numeric() const { return numbers + hex > words + dates + clocks + stamps; }
  };

  // study_lines.cpp
  void count_cells();
  void find_header();
  void look_at_columns();
  void find_groups();
  void drop_labels();
  void take_preamble();
  // study_columns.cpp
  void find_times();
  void find_readings();
  void find_index_column();
  bool increases(std::size_t column) const;
  std::vector<std::size_t> numeric_columns() const;
  std::optional<std::size_t> column_called(const std::string& name) const;
  // study_shape.cpp
  void settle_shape();
  void settle_block();
  void settle_line();
  void leave_out_extras(std::size_t nodes);
  bool place_by_two_numbers();
  void place_in_order();
  std::optional<NodeOrder> order_from_words() const;
  void ask_for_shape(std::size_t numbers);
  // study_values.cpp
  void settle_style();
  void settle_values();
  void settle_time();
  void settle_heading_time();

  void say(std::string sentence) { reading_.understood.push_back(std::move(sentence)); }
  void ask(std::string about, std::vector<std::string> choices) {
    reading_.questions.push_back({std::move(about), std::move(choices)});
  }
  [[noreturn]] void fail(const std::string& expected) const;
  [[noreturn]] void fail_at(std::uint64_t line, const std::string& expected) const;
  bool is_data(const HeadRow& row) const { return row.kind == RowKind::data; }
  const HeadRow& first_data() const { return rows_[groups_.front().rows.front()]; }
  bool any_negative() const;
  template <typename See>
  void each_reading(See see) const;

  TableReading& reading_;
  const TableHead& head_;
  const std::string& name_;
  const OpenOptions& options_;
  const TableOptions& asked_;
  TableLayout out_;
  TablePreamble preamble_;
  std::vector<HeadRow> rows_;
  std::vector<Column> columns_;
  std::vector<ColumnName> names_;  ///< empty without a header
  std::vector<HeadGroup> groups_;
  std::size_t group_lines_ = 0;        ///< of each group, if they are alike and more than one
  std::vector<std::size_t> readings_;  ///< columns
  int rows_told_ = 0, cols_told_ = 0;
};

/// Every reading of the first lines, and where it stands.
template <typename See>
void TableStudy::each_reading(See see) const {
  for (const HeadGroup& group : groups_)
    for (const std::size_t r : group.rows)
      for (const std::size_t c : readings_)
        if (c < rows_[r].cells.size()) see(rows_[r], c, rows_[r].cells[c]);
}

}  // namespace bareglass::host
