#pragma once
// What to do next, with the cautions, and what a dump does not allow to conclude.

#include <string>
#include <vector>

#include "bareglass/host/diagnosis.hpp"

namespace bareglass::host {

/// Cheapest first; the last step says when to stop.
std::vector<std::string> next_steps(const std::vector<CauseFound>& causes, const Account& account);
std::vector<std::string> cautions();
std::vector<std::string> cannot_tell(const Account& account, const std::vector<CauseFound>& causes);

}  // namespace bareglass::host
