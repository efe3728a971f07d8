#pragma once
// Whether all forms of one answer say the same, and none says the opposite of what it stands
// beside.

#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {

/// A sentence for each contradiction between the terminal's text, the JSON, the report and the ward
/// page; between the answer and the state of input; between the causes and the map beside them; and
/// between the decision told and the device's own journal. Empty: none.
std::vector<std::string> contradictions(const std::string& file, const Account& account,
                                        const Diagnosis& diagnosis);

}  // namespace bareglass::host
