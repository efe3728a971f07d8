#pragma once
// Which answers are right: from what was put there, never from what it looks like to the diagnosis.

#include "world_case.hpp"

namespace bareglass::world {

/// Fills `right` of every item, the name it goes by first. Needs find_visible. The table with its
/// reasons is in truth.cpp. Names are those of host::name_of(Cause) and, for what the answer has no
/// name for today, "temperature", "noise", "aged_reference", "unsettled_start", "thick_sheet",
/// "hand": an answer may have them or not.
void find_truth(WorldCase& c);

/// What every node shares may be right for: nothing of it is on the glass.
bool is_absent(const WorldCase& c, const Item& item);

}  // namespace bareglass::world
