#pragma once
// A dump on the screen, without the screen: opening, the clock, what is selected, what is told.
// Start here to use the replay; replay_layers.hpp and replay_story.hpp turn its state into numbers
// and sentences.

#include <array>
#include <atomic>
#include <cstdint>
#include <functional>
#include <future>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/replay.hpp"
#include "bareglass/touch/touch_test.hpp"
#include "bareglass/view/dump_index.hpp"
#include "bareglass/view/replay_layers.hpp"
#include "bareglass/view/replay_story.hpp"

namespace bareglass::view {

/// A touch test on the frames of a dump.
struct TouchRequest {
  std::optional<host::TouchPlan> plan;  ///< absent: the default one for the panel
  std::string plan_file;                ///< for messages and the result; empty: none
};

struct OpenRequest {
  std::string path;  ///< "-": standard input
  host::OpenOptions reading;
  host::ReplayOptions replaying;  ///< its progress is taken over
  /// Begins with the first frame of the dump. A plan that does not fit the panel: phase failed.
  std::optional<TouchRequest> touch = std::nullopt;
  /// A longer dump is shown when this much of it has been read; the rest is read meanwhile.
  std::uint64_t first_bytes = std::uint64_t{24} << 20;
  /// `path` is being recorded: it is waited for until there are frames in it, and its end is shown.
  bool live = false;
  /// What became of the source of a live dump, as a sentence; empty if nothing.
  std::function<std::string()> source_trouble = {};
};

/// A place to show on the glass.
struct MarkedPlace {
  Box box;
  std::optional<host::LinesFound> lines;  ///< a cause with lines: these rather than the box
  host::Cause cause = host::Cause::unknown_object;
  std::vector<host::PieceFound> pieces = {};  ///< of a thing that was reconstructed
};

class ReplayModel {
 public:
  enum class Phase {
    opening,  ///< the dump is read in the background
    failed,   ///< problem() says why; a file that changes is tried again
    ready,
  };
  /// Speeds of play, times real time.
  static constexpr std::array<double, 9> kSpeeds = {0.05, 0.1, 0.25, 0.5, 1, 2, 5, 20, 100};

  explicit ReplayModel(OpenRequest request);
  ~ReplayModel();
  ReplayModel(const ReplayModel&) = delete;
  ReplayModel& operator=(const ReplayModel&) = delete;

  /// `seconds` of the viewer's time have passed: goes on opening, playing, following the file.
  void update(double seconds);
  /// Opens and reads to the end; afterwards ready or failed.
  void finish_opening();

  Phase phase() const { return phase_; }
  const OpenRequest& request() const { return request_; }
  /// One sentence that names file, place and what was expected; only if failed.
  const std::string& problem() const { return problem_; }
  /// What became of the file meanwhile; empty if nothing.
  const std::string& trouble() const { return trouble_; }
  /// 0..1 of the opening, or of the walk through a dump that is shown already.
  double progress() const;
  /// True while the whole dump has not been walked.
  bool walking() const { return walking_; }
  /// True while nothing of a live dump has come yet.
  bool waiting() const { return request_.live && phase_ == Phase::opening && !index_; }
  /// True while the newest frame is shown and the view goes on with it.
  bool at_live_edge() const { return at_end_; }
  /// True while what is told rests on the first part of a long dump.
  bool partly_told() const { return partly_told_; }

  // The rest is for phase ready.
  const host::Account& account() const { return *account_; }
  const host::Diagnosis& diagnosis() const { return diagnosis_; }
  const DumpIndex& index() const { return *index_; }
  const Engine& engine() const { return index_->engine(); }
  const Moment& moment() const { return index_->moment(); }
  std::uint64_t at_us() const { return moment().at_us; }
  std::uint64_t end_us() const { return index_->end_us(); }
  /// Seconds as the report counts them: from the power-up of its run if it is known, else from the
  /// run's first frame.
  double seconds_of(std::uint64_t at_us) const;
  double now_s() const { return seconds_of(at_us()); }
  /// The other way round, of the last run, clamped to the dump.
  std::uint64_t at_of_seconds(double seconds) const;
  /// Where the seconds of each run are multiples of `step_s`, for an axis; marks that would stand
  /// closer than half a step after the one before are left out.
  struct AxisMark {
    std::uint64_t at_us;
    double seconds;
  };
  std::vector<AxisMark> axis_marks(double step_s) const;
  /// When the dump's decisive moment is.
  std::uint64_t decision_us() const;

  bool playing() const { return playing_; }
  void play(bool on);
  double speed() const { return kSpeeds[speed_]; }
  void change_speed(int by);
  void seek(std::uint64_t at_us);
  /// By so many frames, back if negative; stops the play.
  void step(int frames);
  void to_decision();
  void to_start() { seek(0); }
  void to_end();
  /// To the next (1) or former (-1) sentence of the story.
  void next_sentence(int direction);

  ReplayLayer layer() const { return layer_; }
  void show(ReplayLayer layer) { layer_ = layer; }
  /// What is drawn now; computed once a moment.
  const NodeLayer& values();

  /// The node whose history is shown: the one under the pointer, else the one pinned, else the one
  /// that departed most at the decisive moment.
  int node() const;
  void point_at(std::optional<int> node) { pointed_ = node; }
  void pin(std::optional<int> node) { pinned_ = node; }
  std::optional<int> pinned() const { return pinned_; }

  const std::vector<StorySentence>& story() const { return story_; }
  /// The sentence that holds now: the last one not after this moment.
  std::optional<std::size_t> current_sentence() const;
  /// Goes to a sentence's moment and marks its place.
  void follow(std::size_t sentence);
  // A touch test, guided while frames arrive: `bareglass touchtest` as it happens.
  /// Counts the frames that arrive from now on, and follows them. Throws host::CaptureError for a
  /// plan that leaves the panel. Precondition: ready.
  void begin_touch_test(TouchRequest request);
  void end_touch_test() { touch_.reset(); }
  /// Nothing while none is made.
  const host::TouchTest* touch_test() const { return touch_ ? &touch_->test : nullptr; }
  /// Its result as text, as the command prints it. Precondition: one is made.
  std::string touch_text() const;
  /// Seconds of the viewer's time since a frame came in last.
  double quiet_s() const { return quiet_s_; }

  /// Place marked on the glass.
  const std::optional<MarkedPlace>& marked() const { return marked_; }
  void mark(std::optional<MarkedPlace> place) { marked_ = std::move(place); }
  /// Goes to where and when a cause began.
  void show_cause(const host::CauseFound& cause);

 private:
  struct Opened {
    std::shared_ptr<DumpFile> file;
    std::optional<host::Account> account;
    host::Diagnosis diagnosis;
    std::uint64_t bytes = 0;
    bool partly = false;  ///< there is more
    double took_s = 0.0;
    std::string problem;
  };
  struct Touch {
    host::TouchTest test;
    std::string plan_file;
    std::uint64_t from_byte;  ///< frames that end before it do not count
  };
  Touch touch_of(TouchRequest request, std::uint64_t from_byte) const;
  Opened read(std::shared_ptr<DumpFile> file, std::uint64_t most);
  /// `most`: bytes to read; 0: all.
  void begin_reading(std::shared_ptr<DumpFile> file, std::uint64_t most);
  void take_opened(Opened opened);
  void walk();
  void watch_file(double seconds);
  /// Frames are still coming, and nobody asked for a moment of the past.
  bool opens_at_end() const;
  void advance_clock(double seconds);
  void go(std::uint64_t at_us);
  void retell();
  void keep_to_decision();
  void mark_cause(const host::CauseFound& cause);

  OpenRequest request_;
  Phase phase_ = Phase::opening;
  std::string problem_, trouble_;
  std::atomic<bool> stop_{false};
  std::atomic<std::uint64_t> bytes_read_{0}, bytes_total_{0};
  std::future<Opened> reading_;
  std::shared_ptr<DumpFile> file_;
  /// The index speaks of the account it was made with; a later reading of a grown file replaces
  /// what is told, not that one.
  std::unique_ptr<host::Account> indexed_account_;
  std::unique_ptr<host::Account> account_;
  host::Diagnosis diagnosis_;
  std::unique_ptr<DumpIndex> index_;
  std::optional<Touch> touch_;
  double quiet_s_ = 0.0;
  bool walking_ = false;
  bool partly_told_ = false;
  /// The decision is shown and nobody has gone elsewhere: a later reading that finds another one
  /// takes the window there.
  bool at_decision_ = false;
  double telling_took_s_ = 0.0;
  std::uint64_t bytes_told_ = 0;  ///< of the file when the diagnosis was made
  double since_look_s_ = 0.0, since_telling_s_ = 0.0;
  std::uint64_t failed_size_ = 0;

  bool playing_ = false;
  std::size_t speed_ = 4;
  double clock_us_ = 0.0;
  bool at_end_ = false;  ///< stays at the end of a dump that grows
  ReplayLayer layer_ = ReplayLayer::difference;
  std::optional<std::uint64_t> valued_frame_;
  ReplayLayer valued_layer_ = ReplayLayer::difference;
  NodeLayer values_;
  std::optional<int> pointed_, pinned_;
  std::vector<StorySentence> story_;
  std::size_t told_marks_ = 0;
  std::optional<MarkedPlace> marked_;
};

}  // namespace bareglass::view
