#pragma once
// The rules by which the frames of a dump are fed to the core: how it is started, what a restart
// within the dump does, how a dump of differences is laid on a scale. The report and the window
// share them, so that both decide alike.

#include <cstdint>
#include <optional>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "bareglass/host/capture/records.hpp"

namespace bareglass::host {

class DumpFeed {
 public:
  /// `engine` outlives the feed. `power_up_us`: when the panel was powered, for dumps that do not
  /// say; it holds for the start, not for a later power-up.
  DumpFeed(Engine& engine, std::optional<std::uint64_t> power_up_us);
  DumpFeed(const DumpFeed&) = delete;
  DumpFeed& operator=(const DumpFeed&) = delete;

  /// True if the dump holds the power-up: it is stamped, and the first frame is no more than two
  /// seconds later.
  bool holds_power_up(std::uint64_t first_us) const;
  /// Configures the core and powers it up, at the stamped moment if the dump holds it, else at the
  /// first frame; a dump of differences joins a running panel. `reference` outlives the feed;
  /// empty: none. Returns the setting that is out of range, and has not started then.
  SettingsField start(const Settings& settings, View<const std::uint16_t> reference,
                      const FrameRecord& first);
  bool started() const { return started_; }

  /// True if it says that the panel has been powered up again; the core is then, too. Differences
  /// have no power-up.
  bool take(const PanelDescription& panel);
  /// True for frames of the kind and shape that the first one had. Precondition: started.
  bool belongs(const FrameRecord& frame) const {
    return frame.kind == kind_ && Shape{frame.rows, frame.cols} == engine_.settings().shape;
  }

  struct Stepped {
    StepResult result;
    /// Time and sequence number both went back: the unit started again, though no description says
    /// when. The core was powered up at this frame.
    bool clock_restarted = false;
  };
  /// Precondition: belongs(frame).
  Stepped step(const FrameRecord& frame);
  /// The counts that the last step gave to the core, one per node; differences lie on the middle of
  /// the scale. Valid as long as its frame.
  const std::uint16_t* raw() const { return raw_; }

  /// What changes from frame to frame, beside the core itself.
  struct Place {
    std::optional<std::uint64_t> power_up_us;
    std::uint32_t last_sequence = 0;
  };
  Place place() const { return {power_up_us_, last_sequence_}; }
  void go_to(const Place& place);
  std::optional<std::uint64_t> power_up_us() const { return power_up_us_; }

 private:
  void join_midway(std::uint64_t t_us);

  Engine& engine_;
  bool fixed_power_up_;
  std::optional<std::uint64_t> power_up_us_;
  FrameKind kind_ = FrameKind::raw;
  std::vector<std::uint16_t> scratch_;
  const std::uint16_t* raw_ = nullptr;
  std::uint32_t last_sequence_ = 0;
  bool started_ = false;
};

}  // namespace bareglass::host
