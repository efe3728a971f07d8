#pragma once
// How far a state departs from the bare panel, in the units of the panel's forward model.

#include <optional>
#include <vector>

#include "bareglass/infer/search.hpp"
#include "glass_states.hpp"

namespace bareglass::host {

/// Scale between counts and the panel's forward model.
struct PanelScale {
  const field::SurfaceKernels* kernels = nullptr;
  double pitch_x = 5.0, pitch_y = 5.0;  ///< mm
  double ff_per_count = 0.05;
  double full_counts = 0;  ///< what a full earthed cover takes from a node
};
PanelScale panel_scale(const Reading& reading, const Account& account);

/// What a state is held against.
enum class BareBy {
  reference,   ///< the factory reference
  state,       ///< another time of the same dump
  smoothness,  ///< a smooth panel
};

/// What the bare panel reads.
struct Bare {
  BareBy by = BareBy::reference;
  std::vector<float> level;  ///< counts at full drive
  std::vector<float> noise;  ///< standard deviation of it, counts; empty: not known apart
  double swing = 0;          ///< standard deviation of what a whole row is off by, counts
  double gain_shift = 0;     ///< share by which all nodes departed from the base together
  /// Its level is the reference's as it is, whatever most nodes share: no slope is taken off what
  /// departs from it. `level` is then of the drive of one state, `drive` times less than the
  /// reference.
  bool is_level = false;
  double drive = 1;
  double spread = 0;  ///< smoothness: of the nodes about it, counts
};
Bare bare_by_reference(const Reading& reading);
Bare bare_by_state(const GlassState& state);
/// None if too few nodes are left to fit the panel's lines to.
std::optional<Bare> bare_by_smoothness(const GlassState& state, const Reading& reading);

/// Departure of a state, fF, and how well it is known: frame noise, the node-to-node unevenness
/// that the map itself shows (age and noise of the reference, spread of manufacture), and a part of
/// what all nodes changed by together.
infer::Departure departure_of(const GlassState& state, const Bare& bare, const Reading& reading,
                              const PanelScale& scale);

}  // namespace bareglass::host
