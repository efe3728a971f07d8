#pragma once
// The times of a dump in which the map stood still, each as one averaged map.

#include <vector>

#include "bareglass/infer/search.hpp"
#include "reading.hpp"

namespace bareglass::host {

struct GlassState {
  std::size_t from = 0, until = 0;  ///< windows
  std::size_t run = 0;              ///< index into Account::runs
  double frames = 0;
  std::vector<float> mean;   ///< counts at full drive
  std::vector<float> noise;  ///< standard deviation of that mean, counts
  double gain_shift = 0;     ///< share by which all nodes departed from the base together
};

/// Neighbouring windows merge as long as no two nodes change by more than their noise allows. What
/// never stands still for half a second is left out, but for the beginning of each run.
std::vector<GlassState> glass_states(const Reading& reading, const Account& account);

/// Scale between counts and the panel's forward model.
struct PanelScale {
  const field::SurfaceKernels* kernels = nullptr;
  double pitch_x = 5.0, pitch_y = 5.0;  ///< mm
  double ff_per_count = 0.05;
  double full_counts = 0;  ///< what a full earthed cover takes from a node
};
PanelScale panel_scale(const Reading& reading, const Account& account);

/// Departure of a state from `bare` (counts at full drive; empty: Reading::base()), fF, and how
/// well it is known: frame noise, the node-to-node unevenness that the map itself shows (age and
/// noise of the reference, spread of manufacture), and a part of what all nodes changed by
/// together.
infer::Departure departure_of(const GlassState& state, const GlassState* bare,
                              const Reading& reading, const PanelScale& scale);

}  // namespace bareglass::host
