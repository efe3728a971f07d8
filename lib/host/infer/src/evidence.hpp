#pragma once
// One finding's story -> one cause with what speaks for and against it.

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

struct Blind;
struct LineGroup;
struct ElectricalFound;

/// A panel that reads nothing: as a tail of which all lines are open.
bool is_blind(const CauseFound& cause, Shape shape);
CauseFound weigh_blind(const Blind& blind, const Account& account);
CauseFound weigh_lines(const LineGroup& group, const Account& account);
CauseFound weigh_electrical(const ElectricalFound& found, const Account& account);
CauseFound weigh(const FindingStory& story, const Account& account);

/// How a signal came to its end.
enum class Ending {
  none,     ///< still there, undiminished
  fading,   ///< shrinking over several looks, gone or not
  at_once,  ///< from (nearly) full to nothing between two looks
};
Ending ending_of(const FindingStory& story);

}  // namespace bareglass::host
