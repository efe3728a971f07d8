#pragma once
// What a dump holds once it has been replayed through the core: the facts a diagnosis rests on.
// Memory is bounded whatever the length of the dump; what was left out is counted.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/capture/records.hpp"
#include "bareglass/core/engine.hpp"
#include "bareglass/observe/survey.hpp"
#include "bareglass/replay/finger_scale.hpp"

namespace bareglass::host {

/// What the frames of a dump allow.
enum class DumpKind {
  from_power_up,     ///< raw frames from the power-up on: the start-up decision can be replayed
  raw_midway,        ///< raw frames, power-up not in them: only what lies on the glass now
  differences_only,  ///< the device's own differences: its baseline is unknown
};

/// One finding over its whole life, as the replay saw it.
struct FindingStory {
  Finding last;               ///< as last seen
  std::int16_t greatest = 0;  ///< greatest peak, counts, signed
  std::uint64_t greatest_us = 0;
  Box widest;  ///< its box when it covered most nodes: a film shrinks as it dries
  std::uint16_t widest_nodes = 0;
  bool at_power_up = false;  ///< seen by the first look after a power-up
  bool ended = false;
  std::uint64_t ended_us = 0;
  /// Mean over its nodes, counts, at up to kMaxPoints moments evenly thinned.
  struct Point {
    std::uint64_t t_us;
    std::int16_t mean;
  };
  std::vector<Point> course;
  static constexpr std::size_t kMaxPoints = 256;
};

/// The picture that explains the decision.
struct DecisiveMoment {
  enum class Against { reference, smoothness, baseline };
  std::uint64_t t_us = 0;
  Shape shape;
  Against against = Against::baseline;
  std::int32_t limit = 0;  ///< counts
  std::vector<std::int16_t>
      difference;  ///< counts, positive as a finger; empty if there is no picture
  /// Counts as the front end gave them: the mean of the look, or the frame of this moment. Empty
  /// if the dump holds differences only.
  std::vector<std::uint16_t> raw;
  /// What `raw` is held against, counts: factory reference or baseline. Empty against smoothness.
  std::vector<std::uint16_t> bare;
};

/// One run of the unit within the dump: from one power-up to the next, or to the end.
struct Run {
  std::uint64_t zero_us = 0;                ///< where its times count from, see dump_clock.hpp
  std::uint64_t first_us = 0, last_us = 0;  ///< of its frames
  std::uint64_t shift_us = 0;               ///< added to the unit's clock, modulo 2^64
  std::uint64_t frames = 0;
  bool power_up_known = false;  ///< zero_us is the power-up, else the first frame
};

/// All times in here lie on one line, on which the runs of the unit follow each other
/// (dump_clock.hpp). Of a dump with one run it is the unit's own clock.
struct Account {
  DumpKind kind = DumpKind::raw_midway;
  PanelDescription panel;
  Settings settings;
  FingerScale finger;  ///< where settings.finger_counts comes from
  /// What was assumed because the dump does not say, one plain sentence each.
  std::vector<std::string> assumptions;
  bool has_reference = false;

  CaptureStats stats;
  std::uint64_t frames = 0;           ///< frames replayed
  std::uint64_t frames_ignored = 0;   ///< frames of another kind or shape than the first
  std::uint64_t frames_backward = 0;  ///< frames stamped before the one before, left out
  std::uint64_t frames_ahead = 0;     ///< frames stamped too far after the one before, left out
  std::uint64_t frames_saturated = 0;
  /// At least one once there is a frame. Of more than kMaxRuns the last ones share a place.
  std::vector<Run> runs;
  static constexpr std::size_t kMaxRuns = 256;
  std::uint64_t first_us = 0, last_us = 0;
  std::uint64_t longest_gap_us = 0;  ///< longest time between two frames of one power-up

  std::vector<JournalEntry> events;   ///< the replay's journal, in order
  std::uint64_t events_left_out = 0;  ///< beyond kMaxEvents
  static constexpr std::size_t kMaxEvents = 4096;

  std::vector<JournalRecord> device_journal;  ///< what the device itself reported, first kMaxEvents
  std::vector<FindingStory>
      findings;  ///< confirmed ones, by first appearance; at most kMaxFindings
  std::uint64_t findings_left_out = 0;
  static constexpr std::size_t kMaxFindings = 64;

  std::uint64_t touches = 0;              ///< contacts that went down
  std::vector<std::uint64_t> touches_us;  ///< when, the first kMaxTouches
  static constexpr std::size_t kMaxTouches = 1024;
  std::uint64_t clock_restarts = 0;  ///< runs that began without a description that says so
  std::uint64_t clock_jumps = 0;     ///< places where the clock went on from elsewhere in one run
  std::uint64_t power_ups = 0;       ///< power-ups within the dump
  std::int32_t sigma_q4 =
      0;  ///< typical noise of a node when the dump ended, counts Q4; 0: never measured
  InputState final_state = InputState::unpowered;
  DecisiveMoment decisive;
  std::vector<NoteRecord> notes;  ///< first kMaxFindings
  std::optional<int> lowest_millivolts;
  std::optional<bool> docked;  ///< as the device said last
  std::optional<int> highest_millivolts;
  Survey survey;  ///< of differences_only as counts about DumpFeed::kMidScale, its reference
};

/// Seconds in the report count from here: of the last run the power-up if the dump knows it, else
/// the first frame.
std::uint64_t zero_time(const Account& account);
/// The same of the run that `t_us` lies in.
std::uint64_t zero_time(const Account& account, std::uint64_t t_us);
/// Index into Account::runs of the run that `t_us` lies in; 0 before the first.
std::size_t run_of(const Account& account, std::uint64_t t_us);

}  // namespace bareglass::host
