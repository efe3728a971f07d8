#pragma once
// The state of input and its reason.

#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {

/// One or two sentences. `causes`: most weighty first, at least one.
std::string answer(const Account& account, const std::vector<CauseFound>& causes);
/// The first entry of that code; nullptr if there is none.
const JournalEntry* first_event(const Account& account, JournalCode code);

}  // namespace bareglass::host
