#pragma once
// A unit before and after: what changed, finding by finding and as a map, and whether it may be
// accepted.
//
//   std::vector<StateOfUnit> after;
//   const StateOfUnit before = read_state(*open_capture("before.frames", {}), "before.frames", {});
//   ...
//   const Comparison c = compare(before, after, limits);

#include <optional>
#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/capture/reader.hpp"
#include "bareglass/present/heat_map.hpp"
#include "bareglass/replay/account.hpp"
#include "bareglass/replay/replay.hpp"
#include "bareglass/settings/acceptance.hpp"

namespace bareglass::host {

/// What one dump says of a unit. Memory does not grow with the dump.
struct StateOfUnit {
  std::string file;
  Account account;
  Diagnosis diagnosis;
  /// Mean of each node over the first kMostFrames frames after the front end had settled: raw
  /// counts, or differences if the dump holds only these. Row-major.
  std::vector<double> mean;
  std::uint32_t frames = 0;  ///< frames in the mean
  static constexpr std::uint32_t kMostFrames = 50;
  std::vector<double> noise;             ///< rms of each node in these frames, counts
  std::vector<std::uint16_t> reference;  ///< factory reference; empty: none
  int start_ups = 0;                     ///< power-ups that the dump holds
  int start_ups_on = 0;                  ///< ... after which input came on
};

/// Reads `reader` to its end. Throws as replay() does.
StateOfUnit read_state(CaptureReader& reader, const std::string& file,
                       const ReplayOptions& options);

enum class Change { gone, weaker, still_there, stronger, fresh };
/// "gone", "weaker", "still there", "stronger", "new".
const char* name_of(Change change);

/// One finding of either side; at least one of the two is there.
struct FindingChange {
  Change change = Change::still_there;
  std::optional<CauseFound> before, after;
  double before_percent = 0.0;  ///< greatest departure, percent of a finger; 0: not there
  double after_percent = 0.0;
  std::size_t after_file = 0;  ///< index of the dump that `after` is from
};

struct Comparison {
  std::string before_file;
  std::vector<std::string> after_files;
  std::string unit;                    ///< as the dumps say; may be empty
  std::vector<std::string> remarks;    ///< warnings and what can't be compared, sentences
  std::vector<FindingChange> changes;  ///< what is left over first, then what is gone
  /// Last dump after less the one before, as differences are counted: positive where the node reads
  /// more like touched than before. The shift of the whole panel is taken off. Empty counts: no
  /// map.
  HeatMap map;
  double shift_percent = 0.0;  ///< median of that difference over all nodes, percent of a finger
  /// The panel as a whole is off by more than its limit: the glass may be covered from edge to
  /// edge.
  bool whole_panel_off = false;
  std::vector<AcceptCheck> checks;
  bool accepted = false;
};

/// What keeps two dumps from being of one panel, as a sentence; empty if nothing does. Shape and
/// pitches must agree; units must have the same name where both say it.
struct PanelMismatch {
  std::string panel;  ///< can't be compared
  std::string unit;   ///< another unit of the same kind
};
PanelMismatch mismatch(const StateOfUnit& before, const StateOfUnit& after);

/// Precondition: `after` is not empty, and no panel mismatch with any.
Comparison compare(const StateOfUnit& before, const std::vector<StateOfUnit>& after,
                   const AcceptLimits& limits);

/// Every limit against the dumps after a repair. `before`: what the panel as a whole is held
/// against where there is no factory reference; null: nothing.
std::vector<AcceptCheck> check_acceptance(const std::vector<StateOfUnit>& after,
                                          const AcceptLimits& limits,
                                          const StateOfUnit* before = nullptr);
/// Whether the one that a cover over all of the glass fails is among them and failed.
bool is_whole_panel_off(const std::vector<AcceptCheck>& checks);

/// Plain text, about 80 characters wide, ending in a newline.
std::string comparison_text(const Comparison& comparison, bool colour);
/// One JSON document (RFC 8259).
std::string comparison_json(const Comparison& comparison);

}  // namespace bareglass::host
