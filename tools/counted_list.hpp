#pragma once
// Lists for people: "3 notes, 2 supply states".

#include <fmt/format.h>

#include <cstdint>
#include <string>

namespace bareglass::tools {

/// Adds `part` to the list, after a comma if there is something before it.
inline void add_part(std::string& list, const std::string& part) {
  list += (list.empty() ? "" : ", ") + part;
}

/// The same with a number of things; none are not worth telling.
inline void add_count(std::string& list, std::uint64_t count, const char* what) {
  if (count > 0) add_part(list, fmt::format("{} {}", count, what));
}

}  // namespace bareglass::tools
