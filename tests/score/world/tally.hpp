#pragma once
// Counts verdicts.

#include <string>
#include <vector>

#include "verdict.hpp"

namespace bareglass::world {

/// Draws, plays, diagnoses and judges `cases` cases from `seed` on, on `threads` threads. The
/// result does not depend on the threads, but for the times.
std::vector<Verdict> judge_cases(std::uint64_t seed, int cases, int threads,
                                 const DrawOptions& options);

struct Tally {
  explicit Tally(const std::vector<Verdict>& verdicts);

  double right_share = 0.0;  ///< first answer right
  double alarm_share = 0.0;  ///< of the healthy ones
  double sure_share = 0.0;   ///< right of what was told as sure; 1 if nothing was
  double worst_kind = 1.0;   ///< least share among labels of ten cases and more
  /// Of reconstructed bodies of 15 mm and more: 95 % of the centres of area are within this, mm,
  /// and the share of areas within 20 %.
  double centre_mm = 0.0;
  double area_share = 1.0;
  std::string text;  ///< all tables
};

/// One line per case that was told wrongly or not completely, with how to run it again.
std::string list_wrong(const std::vector<Verdict>& verdicts, const DrawOptions& options);

}  // namespace bareglass::world
