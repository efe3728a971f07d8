#pragma once
// What a capture is, in a few numbers: gathered record by record in fixed memory.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/capture/reader.hpp"
#include "bareglass/replay/dump_clock.hpp"

namespace bareglass::tools {

/// Smallest and greatest value seen.
struct ValueRange {
  int least = 0, most = 0;
  bool any = false;
  void add(int value);
};

struct CaptureSummary {
  std::optional<host::PanelDescription> panel;  ///< as last described
  std::uint64_t descriptions = 0;
  std::uint64_t power_ups = 0;  ///< runs that a description begins
  /// One run of the unit after another; times on its own clock. At most kMaxRuns, then the last
  /// ones share a place.
  struct Run {
    std::uint64_t first_us = 0, last_us = 0;
    std::uint64_t frames = 0;
    std::optional<std::uint64_t> power_up_us;
  };
  std::vector<Run> runs;
  std::uint64_t run_count = 0;
  static constexpr std::size_t kMaxRuns = 256;
  std::uint64_t raw_frames = 0, difference_frames = 0;
  std::uint64_t references = 0, contact_reports = 0, journal_entries = 0, supply_states = 0,
                note_count = 0;
  std::uint64_t longest_step_us = 0;  ///< of time between frames of one run
  std::uint64_t steps = 0;            ///< of time between frames, forward, without repetitions
  std::uint64_t steps_us = 0;         ///< their sum
  ValueRange raw, difference;
  ValueRange millivolts;
  std::vector<host::NoteRecord> notes;  ///< the first kMaxNotes
  static constexpr std::size_t kMaxNotes = 8;

  void take(const host::Record& record);

 private:
  void begin_run();
  void put(const host::PanelDescription& panel_told);
  void put(const host::FrameRecord& frame);
  void put(const host::ReferenceRecord&) { ++references; }
  void put(const host::ContactsRecord&) { ++contact_reports; }
  void put(const host::JournalRecord&) { ++journal_entries; }
  void put(const host::SupplyRecord& supply);
  void put(const host::NoteRecord& note);

  host::DumpClock clock_;
  std::optional<host::FrameKind> kind_;  ///< of the first frame: the clock follows these
  bool begins_ = false;                  ///< a description has begun a run
  std::uint64_t last_line_us_ = 0;
};

/// For people; the names of the lines in bold if `colour`.
std::string summary_text(const std::string& file, const CaptureSummary& summary,
                         const host::CaptureReader& reader, bool colour);
/// For programs: one JSON object.
std::string summary_json(const std::string& file, const CaptureSummary& summary,
                         const host::CaptureReader& reader);

}  // namespace bareglass::tools
