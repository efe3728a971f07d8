#pragma once
// What the files about lines share among themselves.

#include <cstdint>

namespace bareglass {

// The line beside a film or a conductor shows at least this share of it; see kSkirtPermille.
constexpr std::int32_t kLineSkirtPermille = 150;
// Calls `judge(first, last)` for every longest run of lines for which `is_part(line)`.
template <typename IsPart, typename Judge>
void for_runs(int count, IsPart is_part, Judge judge) {
  int first = -1;
  for (int line = 0; line <= count; ++line) {
    const bool part = line < count && is_part(line);
    if (part && first < 0) first = line;
    if (part || first < 0) continue;
    judge(first, line - 1);
    first = -1;
  }
}

}  // namespace bareglass
