#pragma once
// What lies on the glass: the scene told from averaged maps, joined with what the core found.

#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"
#include "reading.hpp"

namespace bareglass::host {

/// Most weighty first, confidences raw; empty if the glass is bare as far as the dump tells.
std::vector<CauseFound> surface_causes(const Account& account, const Reading& reading);

}  // namespace bareglass::host
