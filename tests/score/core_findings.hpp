#pragma once
// What the core alone says of a case, and whether it is right: the confidence that a device tells,
// before any host has thought about it.

#include <string>
#include <vector>

#include "bareglass/core/findings.hpp"
#include "case.hpp"

namespace bareglass::score {

struct CoreFinding {
  std::uint64_t seed = 0;
  host::Cause drawn = host::Cause::bare_glass;
  bool has_reference = false;
  Finding finding;  ///< as last seen
  bool right = false;
};

/// Plays the case, replays it through the core, and judges every confirmed finding. A finding is
/// right if a cause of the case explains its kind and it lies where the cause is: within two lines
/// of the thing, on one of the lines at fault.
std::vector<CoreFinding> core_findings(const Case& c, std::uint64_t seed);

/// How often findings were right, by the confidence that they were told with, one line per step of
/// confidence; `by_kind` adds the same for every kind.
std::string reliability(const std::vector<CoreFinding>& all, bool by_kind);

/// Of the findings told with `least` permille or more, the share that was right; 0 if there is
/// none.
double right_share_from(const std::vector<CoreFinding>& all, int least);

/// One line per finding, separated by blanks, for fitting: seed, case, kind, confidence, measured,
/// limit, nodes, whether there was a reference, right, peak, lines high and wide, first and last
/// seen in ms.
std::string listing(const std::vector<CoreFinding>& all);

}  // namespace bareglass::score
