#pragma once
// Whether something moved over the glass while the panel set itself up.

#include "reading.hpp"

namespace bareglass::host {

/// Nodes were restless within the first quarter of a second, and in the next one others are touched
/// than before.
bool moves_at_power_up(const Reading& reading, const Account& account);

}  // namespace bareglass::host
