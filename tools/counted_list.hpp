#pragma once
// Lists for people: "3 notes, 2 supply states".

#include <fmt/format.h>

#include <cstdint>
#include <string>

#include "bareglass/capture/records.hpp"

namespace bareglass::tools {

/// Adds `part` to the list, after a comma if there is something before it.
inline void add_part(std::string& list, const std::string& part) {
  list += (list.empty() ? "" : ", ") + part;
}

/// The same with a number of things; none are not worth telling.
inline void add_count(std::string& list, std::uint64_t count, const char* what) {
  if (count > 0) add_part(list, fmt::format("{} {}", count, what));
}

/// What of a capture could not be read, or was not understood; empty if nothing.
inline std::string damage_list(const host::CaptureStats& stats) {
  std::string list;
  add_count(list, stats.damaged_packets, "damaged packets");
  add_count(list, stats.malformed_lines, "malformed lines");
  add_count(list, stats.lost_bytes, "bytes lost");
  add_count(list, stats.unknown_kinds, "packets of unknown kind");
  add_count(list, stats.unknown_keys, "unknown keys");
  add_count(list, stats.source_damaged_packets, "damaged packets in its source");
  add_count(list, stats.source_malformed_lines, "malformed lines in its source");
  add_count(list, stats.source_lost_bytes, "bytes lost in its source");
  add_count(list, stats.source_unknown_kinds, "packets of unknown kind in its source");
  return list;
}

}  // namespace bareglass::tools
