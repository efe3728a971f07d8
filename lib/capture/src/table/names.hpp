#pragma once
// What the names over the columns of a table say.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bareglass/capture/table.hpp"
#include "table/times.hpp"

namespace bareglass::host {

/// A name taken apart: "R03_C12" is the pattern "r#_c#", the words r and c, the numbers 3 and 12.
struct ColumnName {
  std::string pattern;             ///< lower case, each number as #
  std::vector<std::string> words;  ///< letters before each number
  std::vector<long> numbers;
  std::vector<std::string> letters;  ///< all runs of letters, lower case, "timeMs" as two
};

ColumnName column_name(std::string_view name);

/// The name is that of a time, as "t_ms", "Time [s]", "timestamp"; with its unit if it names one.
struct TimeName {
  bool is_time = false;
  std::optional<TimeForm> unit;
};
TimeName time_name(const ColumnName& name);

/// "frame", "seq", "index", ...: a count of scans.
bool counts_frames(const ColumnName& name);
/// "row", "drive", "tx": which line of the panel this is.
bool counts_rows(const ColumnName& name);

/// What a word says of the number behind it: rows ("r", "row", "drive", "tx"), columns ("c", "col",
/// "sense", "rx"), or nothing.
std::optional<NodeOrder> line_word(std::string_view word);

/// The longest run of neighbours of one pattern with numbers in it, at least two.
struct NameRun {
  std::size_t first = 0, count = 0;
};
NameRun longest_run(const std::vector<ColumnName>& names);

}  // namespace bareglass::host
