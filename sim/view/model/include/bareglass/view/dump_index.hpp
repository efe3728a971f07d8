#pragma once
// A dump of any length as a film: walked once from end to end, then shown at any moment. Between
// the kept states of the core (at most kMostCheckpoints, thinned as the dump grows) it is replayed.
//
// Time in here, "at", is microseconds since the first frame, on the line of host::DumpClock: it
// never goes back. Where the unit's clock begins anew it goes on by one frame period.

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "bareglass/view/dump_file.hpp"
#include "bareglass/view/node_history.hpp"
#include "bareglass/view/replay_engine.hpp"

namespace bareglass::view {

/// One frame and what the core made of it.
struct Moment {
  std::uint64_t number = 0;  ///< frames before it
  std::uint64_t at_us = 0;
  host::FrameRecord frame;
};

/// Something that happened, for the timeline.
struct Mark {
  enum class Kind { entry, damage, gap };
  Kind kind = Kind::entry;
  std::uint64_t at_us = 0;
  JournalEntry entry;        ///< of the replay's journal, if Kind::entry
  std::uint64_t amount = 0;  ///< damage: packets; gap: frames
};

/// A stretch of one state of input.
struct StateSpan {
  std::uint64_t from_us = 0;
  InputState state = InputState::unpowered;
};

/// A finding, from its beginning in the journal to its end.
struct FindingSpan {
  std::uint64_t from_us = 0;
  std::optional<std::uint64_t> to_us;
  FindingKind kind = FindingKind::none;
  std::uint8_t row = 0, col = 0;
};

/// Reads frames one after another and steps the core with them.
class DumpWalker {
 public:
  DumpWalker(const DumpFile& file, const host::Account& account,
             std::optional<std::uint64_t> power_up_us);

  /// A place to go on from.
  struct Checkpoint {
    std::uint64_t offset = 0;  ///< bytes; the packet after the frame
    std::uint64_t frames = 0;  ///< walked so far
    Moment moment;             ///< the frame walked last
    ReplayEngine::Snapshot state;
  };
  /// Precondition: a frame has been walked.
  Checkpoint checkpoint() const;
  /// Precondition: `place` is a checkpoint of this walker. `end`: bytes that may be read.
  void go_to(const Checkpoint& place, std::uint64_t end);

  /// More bytes are there, up to `end`.
  void extend(std::uint64_t end);
  /// When the next frame was; nothing at the end.
  std::optional<std::uint64_t> next_at();
  /// Walks one frame; false at the end.
  bool step();

  const Moment& moment() const { return moment_; }
  const ReplayEngine& engine() const { return engine_; }
  std::uint64_t frames() const { return frames_; }
  /// What the core made of the frame walked last.
  FrameStatus status() const { return status_; }
  /// Damaged packets and missing frames met by the step before, and everything read so far.
  std::uint64_t new_damage() const { return new_damage_; }
  std::uint64_t new_missing() const { return new_missing_; }
  std::uint64_t offset() const { return offset_; }

 private:
  bool peek();
  std::uint64_t at_of(const host::FrameRecord& frame) const;

  const DumpFile& file_;
  std::uint64_t first_us_;  ///< of the dump's first frame
  ReplayEngine engine_;
  std::unique_ptr<host::CaptureReader> reader_;
  std::uint64_t reader_begin_ = 0;
  std::uint64_t end_ = 0;
  std::uint64_t offset_ = 0;  ///< after the frame walked last
  std::uint64_t frames_ = 0;
  Moment moment_;
  host::Record next_;
  bool peeked_ = false;
  std::uint64_t next_offset_ = 0;
  std::vector<host::Record> waiting_;  ///< descriptions and references that come before it
  std::uint64_t damage_seen_ = 0, missing_seen_ = 0;
  std::uint64_t new_damage_ = 0, new_missing_ = 0;
  FrameStatus status_ = FrameStatus::ok;
};

class DumpIndex {
 public:
  static constexpr std::size_t kMostCheckpoints = 256;
  static constexpr std::size_t kMostMarks = 4096;

  /// `file` and what `account` speaks of outlive the index.
  DumpIndex(const DumpFile& file, const host::Account& account,
            std::optional<std::uint64_t> power_up_us);

  /// Walks on through at most `frames` frames; false once all there is has been walked. Looks for
  /// bytes that have come since. Throws CaptureError.
  bool extend(std::size_t frames);
  /// Called after every frame that is walked for the first time.
  using Observer = std::function<void(const DumpWalker&)>;
  void observe(Observer observer) { observer_ = std::move(observer); }

  std::uint64_t frames() const { return frames_; }
  /// Of the last frame walked.
  std::uint64_t end_us() const { return end_us_; }
  std::uint64_t bytes_done() const { return bytes_done_; }

  /// Goes to the last frame not after `at_us`, or to frame `number`; true once there, false if
  /// `most_steps` frames did not suffice (call again). Beyond the ends: the first or last frame.
  bool seek_time(std::uint64_t at_us, std::size_t most_steps);
  bool seek_frame(std::uint64_t number, std::size_t most_steps);
  /// What is shown. Precondition: frames() > 0 and a seek has been made.
  const Moment& moment() const { return walker_.moment(); }
  const Engine& engine() const { return walker_.engine().engine(); }
  View<const std::uint16_t> reference() const { return walker_.engine().reference(); }

  const std::vector<Mark>& marks() const { return marks_; }
  std::uint64_t marks_left_out() const { return marks_left_out_; }
  const std::vector<StateSpan>& states() const { return states_; }
  const std::vector<FindingSpan>& findings() const { return findings_; }
  const NodeHistory& history() const { return history_; }
  /// Where a time of the account lies; the nearest place if it lies nowhere.
  std::uint64_t at_of(std::uint64_t t_us) const;
  std::size_t checkpoints() const { return checkpoints_.size(); }

 private:
  void note_step();
  void note_entry(const JournalEntry& entry, std::uint64_t at_us);
  void add_mark(const Mark& mark);
  void add_checkpoint();
  const DumpWalker::Checkpoint& checkpoint_before_time(std::uint64_t at_us) const;
  const DumpWalker::Checkpoint& checkpoint_before_frame(std::uint64_t number) const;

  void to_head();
  void to_view();

  const DumpFile& file_;
  /// One core serves both: it goes on from `head_` to index, from `view_` to show.
  DumpWalker walker_;
  bool viewing_ = false;
  Observer observer_;
  std::optional<DumpWalker::Checkpoint> head_, view_;
  std::uint64_t end_ = 0;  ///< bytes there when last looked
  bool complete_ = false;  ///< all up to end_ has been walked
  std::uint64_t frames_ = 0, end_us_ = 0, bytes_done_ = 0;
  std::vector<DumpWalker::Checkpoint> checkpoints_;
  std::uint64_t stride_ = 32;  ///< frames between two checkpoints
  std::vector<Mark> marks_;
  std::uint64_t marks_left_out_ = 0;
  std::vector<StateSpan> states_;
  std::vector<FindingSpan> findings_;
  NodeHistory history_;
  std::uint32_t journal_read_ = 0;
  std::uint64_t first_us_;  ///< of the dump's first frame, where at is 0
};

}  // namespace bareglass::view
