#pragma once
// From an account to the whole answer: what lay on the glass, how sure, what speaks for and against
// it, and what to do next.

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {

struct StepTable;

/// With the steps that ship with the program.
Diagnosis diagnose(const Account& account);
Diagnosis diagnose(const Account& account, const StepTable& steps);

}  // namespace bareglass::host
