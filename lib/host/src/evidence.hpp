#pragma once
// One finding's story -> one cause with what speaks for and against it.

#include "bareglass/host/diagnosis.hpp"

namespace bareglass::host {

CauseFound weigh(const FindingStory& story, const Account& account);

/// How a signal came to its end.
enum class Ending {
  none,     ///< still there, undiminished
  fading,   ///< shrinking over several looks, gone or not
  at_once,  ///< from (nearly) full to nothing between two looks
};
Ending ending_of(const FindingStory& story);

}  // namespace bareglass::host
