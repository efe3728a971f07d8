#pragma once
// What happened when, on one line of time.

#include <string>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host::report {

/// Inline SVG: input on or off, what was found, touches. Letters keep their size when the page is
/// narrow.
std::string timeline(const Account& account, const Diagnosis& diagnosis);

}  // namespace bareglass::host::report
