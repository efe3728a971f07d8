#pragma once
// units.csv: what the ward knows of each unit. The format is described in
// lib/host/fleet/UNITS.md.

#include <cstdint>
#include <string>
#include <vector>

namespace bareglass::host {

enum class Taped { no, yes, unknown };
const char* name_of(Taped taped);

struct UnitRow {
  std::string unit;
  std::string ward;
  std::string date;  ///< YYYY-MM-DD, a day of the calendar
  Taped taped = Taped::unknown;
  std::string dump;  ///< file name; empty: told by the dump itself
  std::uint32_t line = 0;
};

/// Reads a file of at most kMostUnits rows. Throws CaptureError naming file, line, column and what
/// was expected.
std::vector<UnitRow> read_units(const std::string& path);
inline constexpr std::size_t kMostUnits = 100000;

}  // namespace bareglass::host
