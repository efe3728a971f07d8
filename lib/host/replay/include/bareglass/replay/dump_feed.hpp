#pragma once
// The rules by which the frames of a dump are fed to the core: how it is started, what a restart
// within the dump does, how a dump of differences is laid on a scale. The report and the window
// share them, so that both decide alike.

#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "bareglass/capture/records.hpp"
#include "bareglass/core/engine.hpp"
#include "bareglass/replay/dump_clock.hpp"

namespace bareglass::host {

class DumpFeed {
 public:
  /// Counts that a difference of nothing is laid on.
  static constexpr std::uint16_t kMidScale = 32768;

  /// `engine` outlives the feed. `power_up_us`: when the panel was powered, for dumps that do not
  /// say; it holds for the start, not for a later power-up.
  DumpFeed(Engine& engine, std::optional<std::uint64_t> power_up_us);
  DumpFeed(const DumpFeed&) = delete;
  DumpFeed& operator=(const DumpFeed&) = delete;

  /// True if the dump holds the power-up: it is stamped, and the first frame is no more than two
  /// seconds later.
  bool holds_power_up(std::uint64_t first_us) const;
  /// Configures the core and powers it up, at the stamped moment if the dump holds it, else at the
  /// first frame; a dump of differences joins a running panel. `with_reference`: against the
  /// factory reference that was taken last, if it has the panel's size. Returns the setting that is
  /// out of range, and has not started then.
  SettingsField start(const Settings& settings, bool with_reference, const FrameRecord& first);
  bool started() const { return started_; }

  /// True if it says that the panel has been powered up again; the core is then, too. Differences
  /// have no power-up.
  bool take(const PanelDescription& panel);
  /// What became of a factory reference.
  enum class Offered {
    kept,     ///< for the start, or for the next power-up in the dump
    known,    ///< the same as before
    refused,  ///< after the start: not of the panel's size, or one too many
  };
  /// Copies it: what the core looks at never changes under it. One that comes after the start holds
  /// from the next power-up on.
  Offered take(const ReferenceRecord& reference);
  /// The factory reference taken last, in use or not; empty if there is none.
  View<const std::uint16_t> offered_reference() const { return reference_at(offered_); }
  /// The one that the core is held against; empty if there is none.
  View<const std::uint16_t> reference() const { return reference_at(in_use_); }
  /// True for frames of the kind and shape that the first one had. Precondition: started.
  bool belongs(const FrameRecord& frame) const {
    return frame.kind == kind_ && Shape{frame.rows, frame.cols} == engine_.settings().shape;
  }

  struct Stepped {
    StepResult result;
    /// What the clock did; began_anew: the core was powered up at this frame. Differences join
    /// anew whenever it did not go on.
    DumpClock::Step clock = DumpClock::Step::on;
    std::int32_t jump_ms = 0;  ///< if it did not go on: from where it was
    std::uint64_t t_us = 0;    ///< on the line of time; the core's times are on it, too
  };
  /// Precondition: belongs(frame).
  Stepped step(const FrameRecord& frame);
  /// Where the frame would be shown, on the line of time: a misfit where the frame before is.
  /// `before`: what comes before it in the dump. Precondition: belongs(frame).
  std::uint64_t would_show_at(const FrameRecord& frame, const std::vector<Record>& before) const;
  const DumpClock& clock() const { return clock_; }
  /// The counts that the last step gave to the core, one per node; differences lie on the middle of
  /// the scale. Valid as long as its frame.
  const std::uint16_t* raw() const { return raw_; }

  /// What changes from frame to frame, beside the core itself.
  struct Place {
    DumpClock clock;
    std::size_t offered = 0, in_use = 0;
  };
  Place place() const { return {clock_, offered_, in_use_}; }
  void go_to(const Place& place);
  std::optional<std::uint64_t> power_up_us() const { return clock_.told_power_up_us(); }

 private:
  /// Dumps that hold more different ones are not met; memory is bounded all the same.
  static constexpr std::size_t kMostReferences = 16;
  View<const std::uint16_t> reference_at(std::size_t place) const;
  void power_up();
  void join_midway(std::uint64_t t_us);
  void lay_out(const FrameRecord& frame);

  Engine& engine_;
  DumpClock clock_;
  FrameKind kind_ = FrameKind::raw;
  /// All that were taken, each for as long as the feed lives: kept states of the core look at them.
  std::vector<std::unique_ptr<const std::vector<std::uint16_t>>> references_;
  std::size_t offered_ = 0, in_use_ = 0;  ///< place + 1; 0: none
  std::vector<std::uint16_t> scratch_;
  const std::uint16_t* raw_ = nullptr;
  bool with_reference_ = false;
  bool started_ = false;
};

}  // namespace bareglass::host
