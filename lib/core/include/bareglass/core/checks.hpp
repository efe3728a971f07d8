#pragma once
// Checks on a frame before anything is learnt from it.

#include <cstdint>

#include "bareglass/core/journal.hpp"
#include "bareglass/core/settings.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass {

enum class FrameStatus : std::uint8_t {
  ok = 0,
  wrong_shape,     ///< not the panel's shape: ignored, no state changed
  repeated,        ///< same sequence number and stamp as before: ignored
  stamp_backward,  ///< time went back: ignored; a restarted clock needs Engine::power_up
  saturated,       ///< too many nodes at the converter's ends: ignored but counted
};

/// Compares each frame with the one before. Gaps are journalled, never repaired; a run of them (less
/// than 64 frames apart) takes an entry for the 1st, 4th, 16th, ..., and one when it is over.
class FrameChecker {
 public:
  void reset() {
    seen_ = false;
    spoiled_ = false;
    backward_ = false;
    misshapen_ = false;
    gaps_ = lost_ = 0;
    whole_ = 0;
  }
  FrameStatus check(Journal& journal, const Frame& frame, const Settings& settings);

 private:
  void count_missing(Journal& journal, const Frame& frame, std::uint32_t missing);

  std::uint64_t last_t_us_ = 0;
  std::uint32_t last_sequence_ = 0;
  std::uint32_t gaps_ = 0;  ///< of this run
  std::uint32_t lost_ = 0;  ///< frames lost since the last entry
  std::uint8_t whole_ = 0;  ///< frames without a gap since the last gap
  bool seen_ = false;
  bool backward_ = false;   ///< the stamp of the frame before was backward: a run is one entry
  bool misshapen_ = false;  ///< the frame before had a wrong shape: a run of them is one entry
  bool spoiled_ = false;    ///< the frame before was saturated: a run of them is one entry
};

}  // namespace bareglass
