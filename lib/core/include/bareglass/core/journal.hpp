#pragma once
// A fixed ring of coded entries. Every decision is entered with the value that led to it and the
// limit it was held against: a decision without its evidence is a defect.

#include <cstdint>

#include "bareglass/core/types.hpp"

namespace bareglass {

/// What happened. The numbers travel in captures (packet kind "journal"), so they never change
/// meaning; new codes are added at the end. `value` and `limit` of each entry are named here.
enum class JournalCode : std::uint8_t {
  none = 0,
  power_up = 1,        ///< value: policy
  settled = 2,         ///< value: frames dropped; limit: settle time, ms
  sampled = 3,         ///< value: largest range of a node, counts; limit: the unsteady limit
  glass_bare = 4,      ///< value: largest departure seen, counts; limit: counts
  glass_not_bare = 5,  ///< value: largest departure, counts, signed as a difference; limit: counts
  unsteady = 6,        ///< value: largest range of a node, counts; limit: counts
  input_on = 7,        ///< value: looks taken; limit: 0
  input_off = 8,       ///< value: departure, counts, or noise; limit: counts; detail: FindingKind.
                       ///< Of a start without a place and a kind: value 0 after start_saturated,
                       ///< else as in spread_hides
  waiting = 9,         ///< value: looks taken so far; limit: wait time, ms, 0 without end
  wait_over = 10,      ///< value: looks taken; limit: wait time, ms
  adopted = 11,        ///< value: departure taken into the baseline, counts; limit: counts
  service_entered = 12,  ///< value: departure, counts; limit: counts
  finding_began = 13,    ///< value: peak, counts; limit: counts; detail: FindingKind
  finding_ended = 14,    ///< value: peak when last seen; limit: counts; detail: FindingKind
  contact_judged = 15,  ///< a contact held too long is an object, or a palm that stays; value: held
                        ///< ms; limit: ms; detail: FindingKind
  object_lifted =
      16,  ///< what was in the baseline is gone; value: departure, counts; limit: counts
  baseline_disproved = 17,  ///< reference says the baseline is wrong; value: baseline error; limit:
                            ///< half of the departure it explains, counts
  phantom_held_back = 18,   ///< a contact was not reported; value: strength, counts; limit: counts
  frames_missing = 19,      ///< value: how many; limit: 0
  stamp_backward = 20,      ///< a frame was left out; value: step back, ms (saturated); limit: 0
  frame_saturated = 21,     ///< value: saturated nodes; limit: nodes allowed
  regions_overflow = 22,    ///< value: regions beyond the table; limit: table size
  joined_midway = 23,       ///< started from a baseline given by the caller; no power-up was seen
  wrong_shape = 24,         ///< value: nodes of the frame; limit: nodes of the panel
  line_held_back = 25,  ///< contacts on a faulty line are not reported from now on; value: measured
                        ///< permille; limit: permille; detail: FindingKind
  interference_held_back = 26,  ///< contacts in a noisy column are not begun; value: noise along
                                ///< the column, counts; limit: counts
  supply_low = 27,              ///< the device's own supply reading; value: mV; limit: mV
  clock_restarted = 28,    ///< the time stamps go on from elsewhere: contacts lift, the glass is
                           ///< looked at anew; value: step from the old time to the new, ms, signed
                           ///< (saturated); limit: longest step allowed that way, ms, 0 back
  stamp_ahead = 29,        ///< a frame was left out; value: step ahead, ms (saturated); limit: ms
  frames_unwatched = 30,   ///< no frame could be read; value: how long, ms; limit: ms. From one
                           ///< second on contacts lift and waits begin anew; from kLongestStepUs
                           ///< on the glass is looked at anew
  sequence_back = 31,      ///< the sequence went back while time went on; value: by how much
                           ///< (saturated); limit: 0. The 1st, 4th, 16th ... time
  findings_overflow = 32,  ///< value: findings of one frame or look that found no place; limit:
                           ///< table size; place and detail (FindingKind) of the weightiest
  lines_overflow = 33,     ///< value: line faults beyond the table; limit: table size
  start_saturated = 34,    ///< no usable frame; value: for how long, ms; limit: ms
  unsettled = 35,     ///< the front end still drifts; value: change of the panel's mean between two
                      ///< comparisons, counts; limit: counts
  spread_hides = 36,  ///< nodes differ too much to tell an object without a reference; value: limit
                      ///< that their spread asks for, counts; limit: greatest allowed, counts
  seen_from = 37,  ///< of a look without a reference; value: least departure that is surely seen,
                   ///< counts; limit: the limit of the look, counts
  frames_unread = 38,  ///< frames of another shape or the same scan again and again: contacts lift,
                       ///< the glass is looked at anew; value: frames in a row; limit: as many
  palm_held_back = 40,  ///< a palm lies on the glass: no contact is a deliberate touch from now on;
                        ///< value: its strength, counts; limit: counts
};

/// 24 bytes. From one power_up, joined_midway or clock_restarted to the next, t_us never goes back:
/// what is said of a frame whose stamp cannot be trusted carries the last time that could. Row and
/// column are kNoLine where a place makes no sense.
struct JournalEntry {
  std::uint64_t t_us = 0;
  std::int32_t value = 0;
  std::int32_t limit = 0;
  JournalCode code = JournalCode::none;
  std::uint8_t detail = 0;
  std::uint8_t row = 0;
  std::uint8_t col = 0;
};
constexpr std::uint8_t kNoLine = 255;

/// The newest kSize entries. Total memory is fixed; the oldest entry is overwritten and counted.
class Journal {
 public:
  static constexpr std::uint32_t kSize =
      40;  ///< a start-up with all its looks and one day's odd events

  void clear() { written_ = 0; }
  void add(const JournalEntry& entry) { ring_[written_++ % kSize] = entry; }

  /// Entries ever added; the journal holds numbers [first(), end()).
  std::uint32_t end() const { return written_; }
  std::uint32_t first() const { return written_ > kSize ? written_ - kSize : 0; }
  /// Precondition: first() <= number < end().
  const JournalEntry& at(std::uint32_t number) const { return ring_[number % kSize]; }

 private:
  JournalEntry ring_[kSize];
  std::uint32_t written_ = 0;
};

}  // namespace bareglass
