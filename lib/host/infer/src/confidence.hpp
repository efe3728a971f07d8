#pragma once
// How sure a finding is told, as the share of such findings that are right. CALIBRATION.md says how
// the tables were made.

#include "bareglass/answer/diagnosis.hpp"

namespace bareglass::host {

/// A raw score, 0..1 -> the share of findings with such scores that were right on tuning cases.
double calibrated(Cause cause, double raw);
/// The most that is told of a dump that is no ground for certainty; below "likely".
inline constexpr double kDoubtful = 0.55;
/// How a share is told.
Sureness sureness_told(double confidence);

}  // namespace bareglass::host
