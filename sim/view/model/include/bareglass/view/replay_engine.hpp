#pragma once
// The core over one dump, fed as host::replay feeds it, with its state kept and put back: what lets
// a window go backwards.

#include <cstdint>
#include <optional>
#include <vector>

#include "bareglass/capture/records.hpp"
#include "bareglass/core/engine.hpp"
#include "bareglass/replay/account.hpp"
#include "bareglass/replay/dump_feed.hpp"

namespace bareglass::view {

/// Memory of an engine, sized at run time for one panel.
struct EngineArrays {
  explicit EngineArrays(Shape shape);
  /// Views that stay valid as long as no array is resized.
  Memory memory();
  /// Copies the elements of an equally shaped `from`; no array moves.
  void take(const EngineArrays& from);
  std::size_t bytes() const;

  std::vector<BaselineQ8> baseline_q8;
  std::vector<std::int16_t> difference;
  std::vector<std::uint16_t> previous, roughness_q4;
  std::vector<std::uint8_t> label;
  std::vector<CommonMode> common_mode;
  std::vector<std::uint8_t> row_busy;
  std::vector<std::int16_t> row_level, col_level, sort;
  std::vector<LineSpan> row_faulty, col_faulty;
};

class ReplayEngine {
 public:
  /// `account` of the same dump names panel, settings and assumptions. `power_up_us` overrides what
  /// the dump says, as in host::ReplayOptions.
  ReplayEngine(const host::Account& account, std::optional<std::uint64_t> power_up_us);
  ReplayEngine(const ReplayEngine&) = delete;
  ReplayEngine& operator=(const ReplayEngine&) = delete;

  void take(const host::PanelDescription& panel) { feed_.take(panel); }
  void take(const host::ReferenceRecord& reference) { feed_.take(reference); }

  /// Precondition: belongs(frame).
  host::DumpFeed::Stepped step(const host::FrameRecord& frame);
  /// True for frames of the kind and shape that the dump's first frame had.
  bool belongs(const host::FrameRecord& frame) const;

  /// See host::DumpFeed. Precondition: belongs(frame).
  std::uint64_t would_show_at(const host::FrameRecord& frame,
                              const std::vector<host::Record>& before) const {
    return feed_.would_show_at(frame, before);
  }
  const Engine& engine() const { return engine_; }
  /// The factory reference in use, counts; empty if there is none.
  View<const std::uint16_t> reference() const { return feed_.reference(); }

  /// Everything that changes from frame to frame.
  struct Snapshot {
    Engine engine;
    EngineArrays arrays;
    host::DumpFeed::Place place;
    std::size_t bytes() const { return sizeof(Snapshot) + arrays.bytes(); }
  };
  /// Precondition of both: a frame has been stepped. A snapshot goes back only into the
  /// ReplayEngine it was taken from.
  Snapshot snapshot() const { return {engine_, arrays_, feed_.place()}; }
  void restore(const Snapshot& snapshot);

 private:
  Settings settings_;
  host::FrameKind frame_kind_;
  bool use_reference_;
  EngineArrays arrays_;
  Engine engine_;
  host::DumpFeed feed_;
};

}  // namespace bareglass::view
