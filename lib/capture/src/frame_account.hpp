#pragma once
// Keeps the counts of CaptureStats that come from the order of frames.

#include <cstdint>
#include <optional>

#include "bareglass/capture/records.hpp"

namespace bareglass::host {

/// Notes a place of damage, unless kMaxDamagePlaces are noted already.
void note_damage(CaptureStats& stats, DamagePlace place);

class FrameAccount {
 public:
  /// A new power-up time starts sequence and time anew; a description without one says nothing.
  void description(const PanelDescription& panel);
  /// Counts the frame, and what its number and time say against the frame of its kind before it.
  /// `same_values`: it repeats the values of that frame (true where values needn't be compared).
  void frame(CaptureStats& stats, const FrameRecord& frame, bool same_values);

 private:
  struct Last {
    bool seen = false;
    std::uint32_t sequence = 0;
    std::uint64_t t_us = 0;
  };
  void compare(CaptureStats& stats, const Last& last, const FrameRecord& frame) const;

  Last last_[2];  ///< by FrameKind: a device may send both kinds of every scan
  std::uint32_t period_us_ = 0;
  std::optional<std::uint64_t> power_up_us_;
};

}  // namespace bareglass::host
