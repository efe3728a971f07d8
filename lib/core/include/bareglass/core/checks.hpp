#pragma once
// Checks on a frame before anything is learnt from it.

#include <cstdint>

#include "bareglass/core/journal.hpp"
#include "bareglass/core/settings.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass {

/// The longest step of time from one frame to the next that is believed. A longer one is a spoiled
/// stamp, or nobody watched the glass for so long that its baseline no longer counts: tracking
/// follows with Settings::track_ms, 4 s by default, and for fifteen times that it followed nothing
/// (ours, no source).
constexpr std::uint64_t kLongestStepUs = 60000000;
/// So many frames in a row whose stamps do not fit are a clock that has restarted. A link that
/// swaps buffers or delivers late brings one or two out of order; counted in frames, it holds at
/// any frame rate (ours, no source).
constexpr std::uint8_t kClockFrames = 8;

/// So many frames in a row of another shape, or the same scan so many times, show nothing of the
/// glass. A caller that polls faster than the panel is scanned reads each scan several times,
/// rarely more than ten; at 125 polls a second it is half a second (ours, no source).
constexpr std::uint8_t kUnreadFrames = 64;

enum class FrameStatus : std::uint8_t {
  ok = 0,
  wrong_shape,      ///< not the panel's shape: left out
  repeated,         ///< same sequence number and stamp as before: the same scan once more, left out
  stamp_backward,   ///< time went back: left out
  saturated,        ///< too many nodes at the converter's ends: left out but counted
  stamp_ahead,      ///< time went on by more than kLongestStepUs: left out
  clock_restarted,  ///< the last of kClockFrames in a row whose stamps did not fit: left out, and
                    ///< the next frame is held against it
};

/// 0..2147483647 ms, rounded down, for any number of microseconds.
std::int32_t milliseconds(std::uint64_t us);

/// Compares each frame with the one before. Gaps are journalled, never repaired; a run of them
/// (less than 64 frames apart) takes an entry for the 1st, 4th, 16th, ..., and one when it is over.
class FrameChecker {
 public:
  /// A clock that shows `t_us` now; no frame has come yet. The first may be any time later.
  void reset(std::uint64_t t_us) {
    *this = FrameChecker{};
    last_t_us_ = t_us;
  }
  FrameStatus check(Journal& journal, const Frame& frame, const Settings& settings);
  /// The clock has restarted and shows this frame's time now, `step_ms` from where it was.
  void restart(Journal& journal, const Frame& frame, std::int32_t step_ms);
  /// The last time that could be trusted.
  std::uint64_t last_us() const { return last_t_us_; }
  /// True if check() would say so, of a frame of the right shape.
  bool restarts(const Frame& frame) const {
    return misfits_ + 1 >= kClockFrames && !is_repeated(frame) && !fits(frame);
  }

 private:
  bool is_repeated(const Frame& frame) const {
    return seen_ && frame.sequence == last_sequence_ && frame.t_us == last_t_us_;
  }
  bool fits(const Frame& frame) const {
    return frame.t_us >= last_t_us_ && (!seen_ || frame.t_us - last_t_us_ <= kLongestStepUs);
  }
  FrameStatus refuse_stamp(Journal& journal, const Frame& frame);
  void note_sequence_back(Journal& journal, const Frame& frame);
  void count_missing(Journal& journal, const Frame& frame, std::uint32_t missing);

  std::uint64_t last_t_us_ = 0;  ///< the last time that could be trusted
  std::uint32_t last_sequence_ = 0;
  std::uint32_t gaps_ = 0;                ///< of this run
  std::uint32_t lost_ = 0;                ///< frames lost since the last entry
  std::uint32_t back_ = 0;                ///< how often the sequence went back
  std::uint8_t whole_ = 0;                ///< frames without a gap since the last gap
  std::uint8_t misfits_ = 0;              ///< frames in a row whose stamps do not fit
  FrameStatus misfit_ = FrameStatus::ok;  ///< which way the last of them: a run is one entry
  bool seen_ = false;
  bool misshapen_ = false;  ///< the frame before had a wrong shape: a run of them is one entry
  bool spoiled_ = false;    ///< the frame before was saturated: a run of them is one entry
};

}  // namespace bareglass
