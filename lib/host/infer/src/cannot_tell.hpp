#pragma once
// What a dump does not allow to conclude.

#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {

/// One plain sentence each.
std::vector<std::string> cannot_tell(const Account& account, const std::vector<CauseFound>& causes);

}  // namespace bareglass::host
