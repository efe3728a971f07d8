#pragma once
// Things on the glass as causes, with what speaks for and against each.

#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "reading.hpp"

namespace bareglass::host {

/// What lay on the glass beside touches in use, most weighty first.
std::vector<CauseFound> glass_causes(const Account& account, const Reading& reading);

}  // namespace bareglass::host
