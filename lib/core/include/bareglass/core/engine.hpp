#pragma once
// Start here. The Engine takes raw frames, one by one, and says which contacts are real, what lies
// on the glass, whether input may be on, and why.
//
//   static bareglass::Storage<40, 24> storage;            // all memory, sized at compile time
//   static bareglass::Engine engine(storage.memory());
//   bareglass::Settings settings;  settings.shape = {40, 24};
//   if (engine.configure(settings) != bareglass::SettingsField::none) { ... }
//   engine.power_up(now_us);
//   for each scan:  engine.step({raw, {40, 24}, sequence, now_us});
//                   read engine.contacts(), engine.state(), engine.findings(), engine.journal()
//
// Stages, in order: checks.hpp, then while input is off look.hpp, while it is on conditioning.hpp,
// regions.hpp, contacts.hpp, electrical.hpp; lines.hpp and findings.hpp serve both; journal.hpp
// records every decision.

#include <cstdint>

#include "bareglass/core/checks.hpp"
#include "bareglass/core/contacts.hpp"
#include "bareglass/core/electrical.hpp"
#include "bareglass/core/findings.hpp"
#include "bareglass/core/journal.hpp"
#include "bareglass/core/lines.hpp"
#include "bareglass/core/look.hpp"
#include "bareglass/core/regions.hpp"
#include "bareglass/core/settings.hpp"
#include "bareglass/core/storage.hpp"

namespace bareglass {

enum class InputState : std::uint8_t {
  unpowered = 0,  ///< power_up has not been called
  settling,       ///< frames are dropped until the front end is quiet
  looking,        ///< sampling the glass; contacts are never reported
  running,        ///< input is on
  waiting,        ///< input is off; looks again every Settings::retry_ms
  off,            ///< input is off until the next power-up; goes on looking, for the record
  service,        ///< input is off, a technician is asked for; goes on looking, for the record
  paused,         ///< input went off while running; returns when the glass is bare again
};
/// Static ASCII text such as "waiting".
const char* name_of(InputState state);

/// What one frame did.
struct StepResult {
  FrameStatus status = FrameStatus::ok;  ///< see step()
  bool state_changed = false;            ///< the state differs from before the frame
  bool looked = false;                   ///< a look ended: difference() is its departure
};

class Engine {
 public:
  /// `memory` must outlive the engine; see storage.hpp.
  explicit Engine(Memory memory) : memory_(memory) {}

  /// Checks and takes the settings. On an invalid field nothing changes and that field is
  /// returned; `shape` is also returned if the panel is larger than the memory. `reference` is the
  /// factory reference: raw counts of the bare panel, row-major, in memory that outlives the
  /// engine; empty if there is none, `shape` is returned if its size is not rows * cols. The engine
  /// is unpowered afterwards; contacts that were down are told as lifted by the first step.
  SettingsField configure(const Settings& settings, View<const std::uint16_t> reference = {});

  /// The panel was powered at `t_us`. Everything learnt is forgotten, the journal is kept. Contacts
  /// that were down are told as lifted once, by the first step; until then contacts() is empty.
  /// Precondition: configured.
  void power_up(std::uint64_t t_us);

  /// Starts as running on a baseline given by the caller (rows * cols counts), for streams that do
  /// not begin at power-up. No look is taken, and the journal says so. Precondition: configured.
  void join_midway(View<const std::uint16_t> baseline, std::uint64_t t_us);

  /// Processes one frame. Precondition: powered up or joined; frame.raw has rows * cols counts.
  /// Of a frame that is not ok nothing is learnt. After `repeated` contacts() lists what is down.
  /// After any other it is a frame in which nothing was seen: contacts lift after
  /// Settings::debounce_up of them in a row, each told once. `clock_restarted`, and frames that
  /// have been saturated for kLongestStepUs, make a running or paused engine look at the glass
  /// anew; what was off until the next power-up stays so.
  StepResult step(const Frame& frame);

  /// The caller knows that the clock has restarted: what step() does by itself after kClockFrames.
  /// `frame` is not used but for its number and time, the first on the new clock; `step_ms`: from
  /// where the clock was, for the journal. Precondition: as step().
  void restart_clock(const Frame& frame, std::int32_t step_ms);
  /// True if step() would take this frame for the one that shows a restarted clock.
  bool restarts_clock(const Frame& frame) const {
    return frame.shape == settings_.shape && checker_.restarts(frame);
  }

  /// What the device measured of its own supply at `t_us`, and the least that its drive needs,
  /// mV, 1..65535. Without it a fall of the supply is told from the frames alone. Holds until the
  /// next call or power_up.
  void note_supply(std::uint16_t millivolts, std::uint16_t least_millivolts, std::uint64_t t_us);

  /// A look for the record does not change the state: an engine that is off reads off during it.
  InputState state() const {
    const bool for_the_record = state_ == InputState::looking && resting_ != InputState::unpowered;
    return for_the_record ? resting_ : state_;
  }
  bool input_on() const { return state_ == InputState::running; }
  /// Contacts of this frame, and once each contact it lifted. Empty unless running, but for the
  /// lifts when input goes off.
  View<const Contact> contacts() const { return tracker_.contacts(); }
  View<const Finding> findings() const { return findings_.all(); }
  const Journal& journal() const { return journal_; }
  const Settings& settings() const { return settings_; }
  const Limits& limits() const { return limits_; }

  /// rows * cols counts, positive as a finger: against the baseline while input is on or paused,
  /// departure of the last look otherwise.
  View<const std::int16_t> difference() const { return {memory_.difference.data, nodes()}; }
  /// rows * cols counts Q8: the baseline, or the mean of the last look. Meaningless while looking.
  View<const BaselineQ8> baseline_q8() const { return {memory_.baseline_q8.data, nodes()}; }
  /// rows * cols, Q4 counts: mean absolute successive difference. Meaningless unless input is on or
  /// paused.
  View<const std::uint16_t> roughness_q4() const { return {memory_.roughness_q4.data, nodes()}; }
  /// Typical standard deviation of a node, Q4 counts.
  std::int32_t panel_sigma_q4() const { return panel_sigma_q4_; }
  /// Limit that regions were last held against, counts.
  std::int32_t region_limit() const { return region_limit_; }
  bool has_reference() const { return !reference_.empty(); }

 private:
  std::size_t nodes() const { return static_cast<std::size_t>(settings_.shape.nodes()); }
  std::size_t node_at(int row, int col) const {
    return static_cast<std::size_t>(row * settings_.shape.cols + col);
  }
  void forget(std::uint64_t t_us);
  void begin_anew(std::uint64_t t_us);
  void take(const Frame& frame);
  void refuse(const Frame& frame, FrameStatus status);
  void watch_gap(std::uint64_t t_us);
  void look_anew(std::uint64_t t_us);
  bool has_baseline() const {
    return state_ == InputState::running || state_ == InputState::paused;
  }
  void enter(InputState state) { state_ = state; }
  void note(std::uint64_t t_us, JournalCode code, std::int32_t value, std::int32_t limit,
            int row = kNoLine, int col = kNoLine, std::uint8_t detail = 0);

  // engine_start.cpp and engine_look.cpp: no trusted baseline yet
  LookSampler::Arrays look_arrays();
  void step_settling(const Frame& frame);
  bool has_settled(const Frame& frame);
  void step_blind(std::uint64_t t_us);
  void step_looking(const Frame& frame);
  void step_resting(const Frame& frame);
  void begin_look();
  void note_regions_overflow(std::uint64_t t_us);
  /// What a look says of the glass: the worst departure, and whether it goes beyond the limit.
  struct Verdict {
    bool bare = true;
    FindingKind kind = FindingKind::none;  ///< none: bare, or not to be told
    std::int32_t value = 0;                ///< counts, signed as a difference
    std::int32_t limit = 0;                ///< counts
    Box place;                             ///< one node
  };
  /// Precondition: has_reference().
  NodeMark mark_at(std::size_t i) const {
    return mark_of(reference_, settings_.shape, i, settings_.raw_low, settings_.raw_high);
  }
  void forgive_known_nodes();
  void limit_by_spread();
  SmoothScratch row_scratch() const {
    return {
        {memory_.row_level.data, static_cast<std::size_t>(settings_.shape.rows)}, {}, memory_.sort};
  }
  void depart_and_find(std::uint64_t t_us);
  void find_faint_film(std::uint64_t t_us);
  void conclude_look(std::uint64_t t_us);
  void note_verdict(std::uint64_t t_us, const Verdict& verdict);
  std::size_t farthest_node(std::int32_t level) const;
  std::int32_t departure_apart(std::size_t& at) const;
  std::int32_t departure_of_squares(std::size_t& at) const;
  Verdict judge_glass() const;
  void conclude_bare(std::uint64_t t_us);
  void decide_on_object(std::uint64_t t_us, std::int32_t value, std::int32_t limit,
                        const Box& place, FindingKind kind);
  void wait_or_give_up(std::uint64_t t_us, std::int32_t value, std::int32_t limit, const Box& place,
                       std::uint8_t detail);
  void keep_waiting(std::uint64_t t_us, std::int32_t wait_ms, const Box& place,
                    std::uint8_t detail);
  void rest(std::uint64_t t_us, InputState state);
  void seed_noise();
  void start_running(std::uint64_t t_us);

  // engine_run.cpp: with a trusted baseline
  void start_conditioning();
  void step_running(const Frame& frame);
  /// Which of its kRowTurns turns a row has in this frame.
  int turn_of(std::size_t row) const { return static_cast<int>((row + turn_) % kRowTurns); }
  RowExtremes clean(View<std::int16_t> difference, std::size_t row, std::int32_t fluctuation);
  bool condition(const Frame& frame);
  void update_panel_noise();
  /// Why a region is the baseline's fault; code none if it is not.
  struct Doubt {
    JournalCode code = JournalCode::none;
    std::int32_t value = 0, limit = 0;
    std::uint8_t row = 0, col = 0;
  };
  void unlabel_lone_nodes();
  void track();

  // engine_watch.cpp: what a frame means
  Doubt doubt_baseline(const Region& region);
  Doubt explain_regions(const Region*& phantom);
  bool audit_baseline(std::uint64_t t_us);
  void hold_back_two_signed(std::uint64_t t_us);
  void watch_palm(std::uint64_t t_us);
  bool judge_contacts(std::uint64_t t_us);
  Finding find_overstayed(std::uint32_t& limit_ms, std::uint64_t t_us) const;
  bool is_touched() const;
  std::int32_t baseline_shift();
  void supervise(std::uint64_t t_us);
  bool may_return() const {
    return settings_.policy == StartPolicy::wait || settings_.policy == StartPolicy::adopt;
  }
  bool glass_is_bare() const;
  void pause_input(std::uint64_t t_us, const Finding& cause);

  // engine_lines.cpp: line faults and what comes by wire
  FaultyNodes faulty_nodes() const;
  FaultyNodes faulty_now() const { return masked_ ? faulty_nodes() : FaultyNodes{}; }
  std::int32_t look_sigma_q4() const;
  void read_lines(bool level_is_reading);
  void note_lines_overflow(std::uint64_t t_us);
  void hold_known_lines();
  void read_lines_running(std::uint64_t t_us, bool busy);
  void note_held_lines(std::uint64_t t_us);
  void add_pair(LinePair pair, std::int32_t left_permille, std::int32_t against);
  void find_pairs_in_look();
  Likeness likeness_in_look(LinePair pair, std::int32_t quiet) const;
  std::int64_t typical_unlikeness(bool of_rows);
  void watch_pair(std::uint64_t t_us);
  LinePair pair_now() const;
  void judge_pair(LinePair pair, const Likeness& now, std::uint64_t t_us);
  void report_bridge(LinePair pair, std::int32_t left_permille, std::uint64_t t_us);
  void hold_back_interference(std::uint64_t t_us);
  void watch_coupling(std::uint64_t t_us);
  void watch_common_mode(std::uint64_t t_us);
  /// What a stage has made sure of by itself.
  struct Observed {
    FindingKind kind;
    Box box;
    int nodes;
    std::int32_t peak, measured, limit;
    std::int32_t margin_permille;  ///< of the limit, for the confidence
  };
  void observe(const Observed& seen, std::uint64_t t_us);

  /// Frames that show a thing: one entry in the journal, however often noise hides it for a moment.
  struct Run {
    std::uint64_t last_us = 0;  ///< 0: not yet

    bool begins(std::uint64_t t_us);
  };

  Memory memory_;
  View<const std::uint16_t> reference_;
  Settings settings_;
  Limits limits_;
  InputState state_ = InputState::unpowered;
  FrameChecker checker_;
  LookSampler sampler_;
  RegionTable regions_;
  PeakList peaks_;
  ContactTracker tracker_;
  FindingTable findings_;
  Journal journal_;

  std::uint64_t power_us_ = 0;       ///< when the panel was powered
  std::uint64_t watched_us_ = 0;     ///< last frame that could be read
  std::uint64_t look_due_us_ = 0;    ///< next look while input is off
  std::uint64_t wait_since_us_ = 0;  ///< first refusal under policy wait
  std::uint64_t bare_since_us_ = 0;  ///< since when a paused panel is bare; 0: it is not
  std::uint64_t suspect_since_us_ =
      0;  ///< since when a region is explained by the baseline; 0: none
  std::uint32_t looks_ = 0;
  std::uint32_t dropped_ = 0;  ///< frames dropped while settling
  /// What is known of the front end's settling.
  struct Settling {
    bool began = false;
    std::uint64_t first_us = 0;     ///< of the first frame
    std::uint64_t compared_us = 0;  ///< of the frame that later ones are compared with
    std::int32_t mean_q4 = 0;       ///< of that frame, counts
    std::int32_t change_q4 = 0;     ///< at the last comparison, counts
  };
  Settling settling_;
  bool unsettled_ = false;    ///< the look began though the front end had not settled
  bool blind_noted_ = false;  ///< a run of saturated frames is in the journal
  std::uint64_t blind_since_us_ =
      0;                           ///< first of a run of saturated frames; meaningless without one
  std::uint32_t blind_ = 0;        ///< frames of that run
  std::uint32_t unread_ = 0;       ///< frames in a row that were misshapen or repeated
  std::int32_t spread_ = 0;        ///< counts Q4; how much nodes differ by themselves
  std::int32_t spread_limit_ = 0;  ///< counts; limit that the panel's own spread asks for
  std::int32_t region_limit_ = 0;
  std::int32_t panel_sigma_q4_ = 0;
  std::int32_t typical_range_ = 0;              ///< of the last look, counts
  std::uint32_t turn_ = 0;                      ///< frames conditioned, for turn_of
  std::uint16_t noise_row_ = 0;                 ///< row whose noise is averaged next
  InputState resting_ = InputState::unpowered;  ///< state to return to after a look for the record
  FindingKind last_verdict_ =
      FindingKind::none;  ///< of the look before: repeated verdicts are one entry
  bool last_unsteady_ = false;
  bool unsteady_before_ = false;  ///< the look before was unsteady too
  bool relook_ = false;           ///< looking anew after input was on: a hand may lie there, so it
                                  ///< waits until the glass is bare, whatever the policy
  Run pair_run_;                  ///< frames with a two-signed pair that reads like a touch
  Run palm_run_;                  ///< frames with a palm
  std::uint32_t shift_turn_ = 0;  ///< when shift_ was measured
  std::int32_t shift_ = 0;        ///< of the whole baseline against the reference, counts
  LineFaults faults_;
  bool suspect_ = false;      ///< a row or column of this frame reads like no surface thing
  bool masked_ = false;       ///< faulty_nodes() is not empty
  bool lines_noted_ = false;  ///< contacts held back on lines: the run is in the journal
  bool noise_noted_ = false;  ///< the same for interference
  bool supply_known_ = false;
  bool supply_low_ = false;
  std::uint8_t noisy_ = 0;        ///< frames with a noisy touched column, less those without
  std::uint8_t weak_ = 0;         ///< frames with a weak wide touch, less those with a strong one
  std::uint16_t pair_ = 0;        ///< pair of lines whose turn it is
  std::uint8_t pair_frames_ = 0;  ///< frames this pair has been watched
  std::int64_t pair_seen_ = 0, pair_known_ = 0;
  std::int32_t swing_q4_ = 0;      ///< mean absolute fluctuation of rows, counts Q4
  std::int32_t frame_swing_ = 0;   ///< of this frame, counts, sum over rows
  bool overflowed_ = false;        ///< the frame before had more regions than the table holds
  bool lines_overflowed_ = false;  ///< the same of line faults
};

}  // namespace bareglass
