#pragma once
// Times in tables.

#include <cstdint>
#include <optional>
#include <string_view>

#include "table/cells.hpp"

namespace bareglass::host {

enum class TimeForm : std::uint8_t {
  none,
  nanoseconds,
  microseconds,
  milliseconds,
  seconds,
  frames,  ///< a count of scans
  stamp,   ///< date and time of day, ISO 8601
  clock,   ///< time of day
};

/// stamp, date or clock for what looks so (ISO 8601: 2031-05-06T07:08:09.123Z, a blank in place of
/// the T, a comma in place of the point, an offset such as +02:00), else word.
CellLook time_look(std::string_view text);

/// Microseconds since 1970 of a stamp or a date, since midnight of a clock. Precondition:
/// time_look() knows it.
std::int64_t stamp_us(std::string_view text);

/// Microseconds in one unit of `form`; 0 if it has none of its own.
double microseconds_in(TimeForm form);

/// "microseconds", ...
const char* time_words(TimeForm form);

/// The unit that a word names: "ms", "msec", "milliseconds", "Hz" is none.
std::optional<TimeForm> time_unit_of(std::string_view word);

}  // namespace bareglass::host
