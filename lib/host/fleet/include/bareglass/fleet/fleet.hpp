#pragma once
// Many units: which cause, how often, where, and whether taped glass goes with failures at
// power-up.

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/fleet/units_file.hpp"
#include "bareglass/replay/account.hpp"
#include "bareglass/statistics/statistics.hpp"

namespace bareglass::host {

/// What became of the start-ups in a dump.
enum class StartUp {
  on,       ///< input came on at the first look of every start-up
  failed,   ///< the glass was found not bare at one: input off, waiting or set-up mode
  unknown,  ///< no start-up in the dump, or it ends before the decision
  adopted,  ///< none failed, but at one input came on with the thing taken into the baseline
};
const char* name_of(StartUp start_up);
StartUp start_up_of(const Account& account);

/// Why a unit failed at power-up, by what its first cause is of.
enum class OffBecause {
  glass,        ///< something on the glass
  lines,        ///< rows, columns, single nodes
  temperature,  ///< cold or hot, or a reference that no longer fits: the same readings
  noise,        ///< interference, rows that swing
  supply,       ///< the drive's supply, the way to earth
  other,        ///< nothing was found: the panel refused for another reason
};
const char* name_of(OffBecause why);
OffBecause off_because(Cause cause);

/// One dump, boiled down.
struct FleetDump {
  std::string file;   ///< name within the folder
  std::string unit;   ///< as the dump says; may be empty
  std::string error;  ///< why it can't be read; empty if it can
  StartUp start_up = StartUp::unknown;
  Cause cause = Cause::not_enough;
  double confidence = 0.0;
  bool states_finger = true;  ///< the dump or an option says what a finger's signal is
};

/// One unit: a row of units.csv, or a dump without one.
struct FleetUnit {
  std::string unit;
  std::optional<UnitRow> row;
  std::vector<FleetDump> dumps;         ///< readable ones
  StartUp start_up = StartUp::unknown;  ///< failed if any dump failed, else adopted if any did
  Cause cause = Cause::not_enough;      ///< of the dump that failed, else the surest finding
  double confidence = 0.0;
};

struct Share {
  std::uint32_t hits = 0, of = 0;
  Interval interval;  ///< Wilson, 95 %
};

struct Fleet {
  std::string folder;
  std::vector<FleetUnit> units;  ///< with at least one readable dump; by unit id
  std::vector<FleetDump> unreadable;
  std::vector<std::string> without_row;              ///< dumps that no row of units.csv names
  std::vector<UnitRow> without_dump;                 ///< rows
  std::vector<std::string> left_out;                 ///< files that are no dumps by their ending
  std::vector<std::pair<Cause, Share>> causes;       ///< over all units, most frequent first
  std::vector<std::pair<std::string, Share>> wards;  ///< failed at power-up, of those known
  /// Of the units that failed at power-up, most frequent first.
  std::vector<std::pair<OffBecause, Share>> off;
  /// Taped against failed at power-up: a taped and failed, b taped and on, c untaped and failed,
  /// d untaped and on. Input that came on with something adopted is on.
  TwoByTwo table;
  std::uint32_t taped_unknown_failed = 0, taped_unknown_on = 0;
  std::uint32_t outcome_unknown = 0;        ///< units whose start-up is not known
  std::uint32_t adopted = 0;                ///< units counted as on though something was adopted
  std::uint32_t finger_not_stated = 0;      ///< dumps whose scale follows from something else
  std::vector<std::string> contradictions;  ///< a sentence for each dump that names another unit
  FisherTest fisher;
  OddsRatio odds;
};

/// Gives the readable dump `path`, named `file`, boiled down. Throws CaptureError. Called from
/// several threads at once, for one dump each.
using ReadDump = std::function<FleetDump(const std::string& path, const std::string& file)>;

/// Paths of the files that read_fleet reads: DIR/units.csv and every dump in DIR. Throws
/// CaptureError if the folder can't be read.
std::vector<std::string> fleet_inputs(const std::string& folder);

struct FleetOptions {
  int threads = 1;  ///< dumps read at a time, 1..; the result does not depend on it
  /// Called after every dump with how many of how many are read, never by two threads at once.
  std::function<void(std::size_t done, std::size_t all)> progress = nullptr;
};

/// Reads DIR/units.csv and every dump in DIR; keeps a few hundred bytes of each. Throws
/// CaptureError if the folder or units.csv can't be read; a dump that can't is listed. What `read`
/// throws beyond CaptureError ends it and is thrown here.
Fleet read_fleet(const std::string& folder, const ReadDump& read, const FleetOptions& options = {});

/// Plain words on the association of taping and failing: what the counts say and what they do not.
std::vector<std::string> association_words(const Fleet& fleet);

/// Plain text, about 80 characters wide, ending in a newline.
std::string fleet_text(const Fleet& fleet);
/// One JSON document (RFC 8259). Infinite numbers are null.
std::string fleet_json(const Fleet& fleet);
/// A self-contained page (HTML 5, no script, nothing from elsewhere).
std::string fleet_page(const Fleet& fleet);

}  // namespace bareglass::host
