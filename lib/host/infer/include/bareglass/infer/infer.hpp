#pragma once
// From an account to what was wrong: what lay on the glass or is broken, how sure, what speaks for
// and against it.

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {

/// All of a diagnosis but its next steps and cautions, which are for advise (diagnose.hpp there).
Diagnosis infer(const Account& account);

}  // namespace bareglass::host
