#pragma once
// Which lines are broken, how, and since when, told from whole lines of the survey.

#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"
#include "reading.hpp"

namespace bareglass::host {

enum class LineState { sound, open, cut, low, doubled };

/// One line in one window.
struct LineLook {
  LineState state = LineState::sound;
  int at = -1;        ///< cut: between crossing at - 1 and at
  float level = 1.f;  ///< share of what the line should read, its middle node
};

/// Faulty lines side by side, one cause.
struct LineGroup {
  Cause cause = Cause::open_line;
  LinesFound lines;
  float level = 1.f;  ///< lowest level of its lines, share of what they should read
  int steps = 0;      ///< intermittent: how often it came or went
  std::uint64_t first_us = 0;
  bool ended = false;
  std::uint64_t ended_us = 0;
  double score = 0.0;  ///< 0..1, raw
};

/// Groups found, most weighty first. Takes them out of `reading` (line_mending.hpp).
std::vector<LineGroup> find_line_groups(Reading& reading, const Account& account);

}  // namespace bareglass::host
