#pragma once
// The time of a dump. A unit that resets starts its clock again from zero, a 32-bit counter wraps,
// a stamp is spoiled: within one file the stamps may repeat. Here every life of the unit is laid
// behind the one before, on one line of time that never goes back; each keeps a zero of its own,
// and every time that a person reads counts from it.
//
// The first life lies where its stamps say: of a dump with one life the line is the unit's clock.

#include <cstdint>
#include <optional>

#include "bareglass/capture/records.hpp"

namespace bareglass::host {

class DumpClock {
 public:
  enum class Step : std::uint8_t {
    on,          ///< as it should be
    misfit,      ///< back, or too far ahead: the core leaves the frame out
    jumped,      ///< the last of bareglass::kClockFrames misfits in a row: the clock goes on from
                 ///< elsewhere, in the same life
    began_anew,  ///< the clock starts again: another life, though no description says so
  };
  struct Reading {
    /// On the line. Of a misfit where its stamp would lie, which may be behind the frame before.
    std::uint64_t t_us = 0;
    Step step = Step::on;
    std::int32_t jump_ms = 0;  ///< jumped, began_anew: from where the clock was, saturated
  };

  /// The stamp of the next frame of the kind that is looked at.
  Reading frame(std::uint32_t sequence, std::uint64_t t_us);
  /// True if it tells of another power-up than the descriptions before, once a frame has been seen:
  /// a life begins. One without a time tells of none.
  bool description(const PanelDescription& panel);
  /// Known from elsewhere, for the first life; no description before the first frame changes it.
  void fix_power_up(std::uint64_t t_us);

  /// The power-up of this life, on the line; nothing if no description tells it, or if the first
  /// frame came more than two seconds later or before it.
  std::optional<std::uint64_t> power_up_us() const;
  /// Where times of this life count from: its power-up, else its first frame.
  std::uint64_t zero_us() const { return power_up_us().value_or(first_us_); }
  /// The same for other stamps of this life, such as those of the journal.
  std::uint64_t on_line(std::uint64_t t_us) const { return t_us + shift_us_; }
  /// What is added to this life's stamps, modulo 2^64.
  std::uint64_t shift_us() const { return shift_us_; }
  /// The latest time on the line that can be trusted.
  std::uint64_t latest_us() const { return latest_us_; }
  /// The power-up of this life as told, on the unit's clock, however long before the first frame.
  std::optional<std::uint64_t> told_power_up_us() const { return told_us_; }

 private:
  bool wraps(std::uint32_t sequence, std::uint64_t t_us) const;
  bool starts_again(std::uint32_t sequence, std::uint64_t t_us) const;
  Reading follow(std::uint32_t sequence, std::uint64_t t_us);
  Reading misfit(std::uint32_t sequence, std::uint64_t t_us);
  void begin_life(std::optional<std::uint64_t> told_us, std::uint64_t first_stamp_us);
  std::optional<std::uint64_t> told_shortly_before(std::uint64_t t_us) const;
  void go_on_behind(std::uint64_t t_us);

  std::uint64_t shift_us_ = 0;
  std::uint64_t latest_us_ = 0;  ///< on the line
  std::uint64_t stamp_us_ = 0;   ///< the same as it was stamped
  std::uint32_t sequence_ = 0;
  std::uint64_t step_us_ = 10000;              ///< between two frames, as described or as last seen
  std::uint64_t first_us_ = 0;                 ///< of this life, on the line
  std::optional<std::uint64_t> told_us_;       ///< power-up of this life, on the unit's clock
  std::optional<std::uint64_t> described_us_;  ///< as the last description that told one has it
  bool told_now_ = false;                      ///< it has come since the last frame
  bool fixed_ = false;
  bool described_step_ = false;
  bool any_ = false;                ///< a frame has been seen
  bool in_life_ = false;            ///< and one of this life
  int misfits_ = 0;                 ///< in a row
  bool run_goes_on_ = false;        ///< each of them after the one before
  std::uint64_t run_first_us_ = 0;  ///< stamp of the first
  std::uint64_t run_last_us_ = 0;   ///< and of the last
};

}  // namespace bareglass::host
