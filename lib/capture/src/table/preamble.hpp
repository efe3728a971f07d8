#pragma once
// What stands above a table, and between its frames: "Rows: 16", "rate = 50 Hz", "Frame 12, t=60
// ms".

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bareglass/capture/records.hpp"
#include "table/times.hpp"

namespace bareglass::host {

struct TablePreamble {
  std::optional<int> rows, cols;
  std::optional<std::uint32_t> frame_period_us;
  std::optional<FrameKind> values;
  /// What was taken, as it stood there, with its line: 'line 3 "Rows: 16"'.
  std::vector<std::string> taken;
  /// Lines that say something else.
  std::vector<std::string> others;
};

/// Takes one line from above the table.
void take_preamble_line(TablePreamble& out, std::uint64_t number, std::string_view line,
                        char separator);

/// A line between two frames.
struct FrameHeading {
  std::optional<std::uint32_t> number;  ///< "Frame 12"
  std::optional<double> time;           ///< "t=60"
  std::optional<TimeForm> unit;         ///< "ms"
};
FrameHeading frame_heading(std::string_view line);

/// raw or difference, if the words of a name say so.
std::optional<FrameKind> kind_word(std::string_view text);

}  // namespace bareglass::host
