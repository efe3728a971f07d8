#pragma once
// Random power-ups of the simulated panel, healthy or with something on the glass, and what the
// core decides about each.

#include <cstdint>
#include <string>
#include <vector>

#include "bareglass/core/engine.hpp"

namespace bareglass::score {

/// What the unit knows of its bare glass.
enum class Known {
  nothing,  ///< no factory reference
  noisy,    ///< stored from 1 to 16 frames, noise and all
  aged,     ///< each node has changed since by a few hundredths of a per cent
  warmer,   ///< stored at another temperature: all nodes up to 3 % higher or lower
};
constexpr int kKnownCount = 4;

/// One power-up. Ranges: tests/score/start_cases.cpp, draw_start.
struct Start {
  std::uint64_t seed = 0;
  Known known = Known::nothing;
  bool with_object = false;
  std::string panel_path;
  int rows = 0, cols = 0;
  double spread_permille = 0;  ///< standard deviation of a node, of an inner node's capacitance
  double noise_permille = 0;   ///< of a frame, of a finger's signal
  double depth_permille = 0;   ///< by which the first frame reads low, of the reading
  double tau_ms = 0;           ///< with which that decays
  double delay_ms = 0;         ///< from power-up to the first frame
  double gain_permille = 0;    ///< of the reference against the panel
  std::string object;          ///< for people
};

/// What became of it.
struct StartResult {
  Start start;
  bool on = false;       ///< input came on
  bool untold = false;   ///< the nodes' own spread would hide a finger: never called bare
  bool decided = false;  ///< on, off, or asked for a technician within the time
  JournalCode why = JournalCode::none;   ///< last of glass_not_bare, unsteady, spread_hides, ...
  FindingKind kind = FindingKind::none;  ///< of that entry
  double value_permille = 0;             ///< likewise, of a finger
  double stated_permille = 0;            ///< least departure that the journal calls surely seen
  double object_permille = 0;            ///< largest departure of a node that the object makes
  double bare_permille = 0;  ///< largest departure that the journal tells of a bare glass
};

/// Draws and plays the power-up of this seed under the policy `lock`.
StartResult play_start(std::uint64_t seed, Known known, bool with_object,
                       const std::string& panel_folder);

}  // namespace bareglass::score
