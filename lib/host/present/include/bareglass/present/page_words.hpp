#pragma once
// Every sentence of the pages that the diagnosis does not give. Whole sentences, so that a
// translation can order the words its own way.

#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host::report {

/// "INPUT OFF", "INPUT ON", "NOT DECIDED", "NOT KNOWN".
std::string badge(const Account& account);

/// How sure, and how often findings told so surely were right where that was measured: on simulated
/// panels.
std::string sureness(const CauseFound& cause);

/// "rows 3 to 8", "row 5, cut between columns 4 and 5".
std::string lines_found(const LinesFound& lines);

/// What the ward is told.
struct WardWords {
  std::string heading;                ///< the whole answer in a few words
  std::vector<std::string> happened;  ///< three sentences
  std::vector<std::string> to_do;     ///< in order
  std::string place;                  ///< where on the screen, empty without a place
  std::string sureness;
};
WardWords ward_words(const Account& account, const Diagnosis& diagnosis);

/// "in the upper left corner" and so on, for a box on a panel of `shape`.
std::string place_in_words(const Box& box, Shape shape);

}  // namespace bareglass::host::report
