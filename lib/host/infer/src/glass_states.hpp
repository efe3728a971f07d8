#pragma once
// The times of a dump in which the map stood still, each as one averaged map.

#include <vector>

#include "reading.hpp"

namespace bareglass::host {

struct GlassState {
  std::size_t from = 0, until = 0;  ///< windows
  std::size_t run = 0;              ///< index into Account::runs
  double frames = 0;
  std::vector<float> mean;   ///< counts at full drive
  std::vector<float> noise;  ///< standard deviation of that mean, counts
  double swing = 0;          ///< standard deviation of what a whole row is off by, counts
  double gain_shift = 0;     ///< share by which all nodes departed from the base together
};

/// Neighbouring windows merge as long as no two nodes change by more than their noise allows. What
/// never stands still for half a second is left out, but for the beginning of each run.
std::vector<GlassState> glass_states(const Reading& reading, const Account& account);

}  // namespace bareglass::host
