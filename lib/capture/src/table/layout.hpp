#pragma once
// How a table is read: what follows from its first lines and from what was said of it.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/capture/reader.hpp"
#include "table/cells.hpp"
#include "table/preamble.hpp"
#include "table/times.hpp"

namespace bareglass::host {

struct TableLayout {
  char separator = ',';
  NumberStyle style;
  std::size_t cells = 0;        ///< of a line of data, without empty ones at its end
  std::size_t header_line = 0;  ///< number of the line with names; 0: none
  std::string header;           ///< its text: it may come again
  int rows = 0, cols = 0;

  bool block = false;           ///< a frame takes several lines
  bool line_is_column = false;  ///< of those, each is a column of the panel
  bool labels_above = false;    ///< the first line of each block counts columns
  bool headings = false;        ///< words between lines are no error

  /// For each cell: the node it belongs to, or in a block its place along the line; -1: no reading.
  std::vector<int> node;
  std::optional<std::size_t> time_cell, date_cell, sequence_cell, row_cell;
  TimeForm time = TimeForm::none;
  TimeForm heading_time = TimeForm::none;
  bool heading_numbers = false;

  FrameKind kind = FrameKind::raw;
  bool negate = false;
  bool counts_rise = false;
  std::optional<double> scale;
  std::uint32_t frame_period_us = 0;
  std::vector<std::string> notes;  ///< what stood above the table

  std::size_t lines_a_frame() const {
    return block ? static_cast<std::size_t>(line_is_column ? cols : rows) : 1;
  }
  std::size_t numbers_a_line() const {
    const auto nodes = static_cast<std::size_t>(rows) * static_cast<std::size_t>(cols);
    return block ? nodes / lines_a_frame() : nodes;
  }
};

struct TableLine {
  std::uint64_t number = 0;  ///< from 1
  std::string text;
};

/// The beginning of a table.
struct TableHead {
  std::vector<TableLine> lines;
  bool whole = false;        ///< that is all of it
  bool from_folder = false;  ///< of files that hold a frame each
};

/// Finds out how the table is to be read. Throws CaptureError that names all options that are
/// missing (unless options.table.trial), or what contradicts them; `reading` is filled as far as it
/// came.
TableLayout study_table(TableReading& reading, const TableHead& head, const std::string& name,
                        const OpenOptions& options);

/// False if no line of it is a line of a table.
bool holds_table(const TableHead& head, const TableOptions& options);

}  // namespace bareglass::host
