#pragma once
// Tables of numbers as controllers, loggers and spreadsheets write them: what has to be said of one
// by who knows it, and what was understood of it. The rules are in lib/capture/TABLES.md.

#include <optional>
#include <string>
#include <vector>

namespace bareglass::host {

/// Which way the numbers run over the panel. In a line that holds a whole frame: row after row, or
/// column after column. Where a line holds a part of it: the line is a row, or it is a column.
/// Where names hold two numbers: the first counts rows, or columns.
enum class NodeOrder { rows, columns };

/// What the numbers in the column of time are; dates and times of day say it themselves.
enum class TimeUnit { microseconds, milliseconds, seconds, frames };

/// What the caller says of a table. Absent: as the table says, and where it does not, it is asked
/// for.
struct TableOptions {
  std::optional<NodeOrder> order;
  std::optional<bool> touch_raises;  ///< a touch makes these numbers greater
  std::optional<TimeUnit> time_unit;
  std::optional<std::string> time_column;  ///< its name, or its number from 1
  std::optional<int> values_from;          ///< number of the first column of readings, from 1
  std::optional<char> separator;           ///< , ; | tab or space
  std::optional<int> base;                 ///< 10 or 16
  std::optional<char> thousands;           ///< , or . between groups of three digits
  std::optional<double> scale;             ///< readings are multiplied by it, then rounded
  /// What is still open is filled in with anything, so that frames can be looked at; the questions
  /// are then in the reading. Never for use.
  bool trial = false;
};

/// Something that a table does not tell.
struct TableQuestion {
  std::string about;                 ///< "the order of the numbers in a line"
  std::vector<std::string> choices;  ///< each an option to add, such as "--order rows"
};

/// What was made of a table.
struct TableReading {
  std::vector<std::string> understood;  ///< sentences
  std::vector<TableQuestion> questions;
};

}  // namespace bareglass::host
