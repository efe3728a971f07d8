#pragma once
// Something that lies over all of the glass moves every node alike, as a gain does. What tells them
// apart is how suddenly it comes.

#include <optional>

#include "bareglass/answer/diagnosis.hpp"
#include "reading.hpp"

namespace bareglass::host {

/// A step of all nodes together within a start-up, the last such start-up first. None if the supply
/// is known to have sunk, which makes the same step.
std::optional<CauseFound> whole_cover(const Account& account, const Reading& reading);

}  // namespace bareglass::host
