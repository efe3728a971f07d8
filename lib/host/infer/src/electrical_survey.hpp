#pragma once
// What reaches the panel by wire: a sinking supply, swings of whole rows, noise on touched columns.

#include <optional>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"
#include "reading.hpp"

namespace bareglass::host {

/// From here on, with a tenth to spare over what a cell is empty at, the supply has not sunk.
inline constexpr int kGoodMillivolts = 3150;

struct ElectricalFound {
  Cause cause = Cause::supply_sag;
  std::optional<Cause> or_else;  ///< makes the same signals
  double value = 0;  ///< supply_sag: share lost; common_mode: swing over noise; interference: noise
                     ///< of the column over that of the others; floating_ground: share of a finger
  double limit = 0;  ///< same unit
  LinesFound columns;  ///< interference: the columns
  bool has_columns = false;
  bool has_box = false;
  Box box;  ///< floating_ground: the contact
  std::uint64_t first_us = 0, last_us = 0;
  double score = 0;  ///< 0..1, raw
};

/// Found ones, most weighty first. Takes swings of rows out of `reading`.
std::vector<ElectricalFound> find_electrical(Reading& reading, const Account& account);

}  // namespace bareglass::host
