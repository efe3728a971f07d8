#pragma once
// Start here if all you have is single frames: contacts of one frame by itself, without identity,
// debounce, tracking or findings. The stages are the engine's own.
//
//   static bareglass::Storage<40, 24> storage;
//   static bareglass::SingleFrame frame;
//   if (frame.find(storage.memory(), {difference, 960}, settings) != SettingsField::none) { ... }
//   for (int k = 0; k < frame.peaks.count; ++k)  use(frame.peaks.peak[k]);

#include <cstdint>

#include "bareglass/core/contacts.hpp"
#include "bareglass/core/regions.hpp"
#include "bareglass/core/settings.hpp"
#include "bareglass/core/storage.hpp"

namespace bareglass {

/// Result and scratch of one frame; about 800 bytes, so better static than on a small stack. Holds
/// nothing from frame to frame.
struct SingleFrame {
  PeakList peaks;          ///< strongest first
  RegionTable regions;     ///< what peaks refer to; regions of the other sign as well
  std::int32_t limit = 0;  ///< that regions were held against, counts

  /// Finds the contacts of `difference`: shape.rows * shape.cols counts, row-major, positive as a
  /// finger, offsets of whole rows removed. Uses label and row_busy of `memory`, and nothing else
  /// of it. `sigma_q4`: standard deviation of a node, counts Q4; below 0: taken from the nodes
  /// within Settings::quiet_permille of this frame.
  ///
  /// Returns SettingsField::none, or the first field of `settings` that is invalid; `shape` also if
  /// the memory is smaller than the panel or `difference` is of another size. Then peaks is empty.
  SettingsField find(Memory memory, View<const std::int16_t> difference, const Settings& settings,
                     std::int32_t sigma_q4 = -1);

  /// The same from raw counts and those of the bare panel: subtracts into memory.difference and
  /// removes what shifts whole rows, as the engine does with its first frame. `shape` is also
  /// returned if one of the two is of another size. Nodes at the ends of the converter's range
  /// (Settings::raw_low, raw_high) tell nothing and count as bare. Uses memory.sort as well.
  SettingsField find(Memory memory, View<const std::uint16_t> raw, View<const std::uint16_t> bare,
                     const Settings& settings, std::int32_t sigma_q4 = -1);
};

}  // namespace bareglass
