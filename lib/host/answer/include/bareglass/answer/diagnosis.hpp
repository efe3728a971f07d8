#pragma once
// The answer as data: what lay on the glass, how sure, what speaks for and against it, and what to
// do next. What finds it is above (infer, advise), and so is what shows it (words, present).

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/answer/reconstruction.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass::host {

enum class Cause {
  bare_glass,         ///< nothing found, and the dump allows to say so
  touch_at_power_up,  ///< finger, hand or a grounded lump while the panel set itself up
  touch_held,         ///< the same while running, without a tremor
  isolated_film,      ///< damp note, label, film: a conductor without a path to ground
  drying_film,        ///< the same, fading over several looks
  grounded_film,      ///< wide conductor with a path to ground: wet film to the bezel, a palm, foil
  wet_bezel,          ///< fluid along a border
  isolated_streak,    ///< conductor spanning lines: makes signals where it does not lie
  moving_thing,       ///< nothing stood still during the looks
  unknown_object,     ///< something, but it fits no kind
  lone_node,          ///< one node without neighbours: no object, a fault of panel or front end
  dry_film,           ///< dry tape, paper or label over many nodes: hardly seen, harmless by itself
  drops,              ///< several small isolated drops
  residue,            ///< dried-on deposit: a small steady departure with no edge of its own
  open_line,          ///< a row or column reads nothing at all: tail contact or trace open
  crack,              ///< lines cut at a crossing, joined over several lines
  bridged_lines,      ///< two lines joined: they read the same
  raised_resistance,  ///< one line reads low all along
  worn_tail,          ///< neighbouring lines low or open together
  intermittent_line,  ///< a line comes and goes
  interference,       ///< noise along the columns that are touched: charger
  common_mode,        ///< whole rows swing together
  floating_ground,    ///< fingers far weaker than they should be: device without a way to earth
  supply_sag,         ///< every node reads low: the drive falls with the supply
  temperature,     ///< every node reads high or low by the same part, the supply being good: a cold
                   ///< or hot unit
  aged_reference,  ///< the same: the factory reference no longer fits the panel
  not_enough,      ///< the dump does not hold enough to tell
};
inline constexpr int kCauseCount = static_cast<int>(Cause::not_enough) + 1;
/// Machine name, stable: "touch_at_power_up".
const char* name_of(Cause cause);

enum class Sureness { sure, likely, possible };
const char* name_of(Sureness sureness);

/// The lines a cause belongs to; they count from 0.
struct LinesFound {
  bool of_rows = true;  ///< else columns
  int first = 0;
  int last = 0;
  /// A cut lies between crossing at - 1 and at of the line; of several cut lines that of `first`.
  /// -1: not a cut.
  int at = -1;
  int at_last = -1;  ///< the same of `last`: a crack runs from one to the other
};

struct CauseFound {
  Cause cause = Cause::unknown_object;
  /// What makes the same signals, likeliest first, at most two: which it is, the dump can't tell,
  /// and the headline says so.
  std::vector<Cause> or_else;
  Sureness sureness = Sureness::possible;
  double confidence = 0.0;  ///< 0..1: the share of findings told so surely that are right
  std::string headline;     ///< one sentence
  bool has_place = false;
  Box box;
  std::optional<LinesFound> lines;  ///< line causes
  std::int32_t measured = 0;        ///< greatest departure, counts
  std::int32_t limit = 0;           ///< counts
  std::uint64_t first_us = 0;
  bool ended = false;
  std::uint64_t ended_us = 0;
  /// Of what lies on the glass and the panel's model explains.
  std::optional<Reconstruction> reconstruction;
  std::vector<std::string> speaks_for;
  std::vector<std::string> speaks_against;
};

/// One thing to do. Texts are whole sentences; tools, caution and stop may be empty.
struct NextStep {
  std::string name;     ///< stable, for programs: "clean"
  std::string text;     ///< what to do
  std::string tools;    ///< what is needed
  std::string caution;  ///< what to mind
  std::string stop;     ///< when not to go on
};

struct Diagnosis {
  std::string answer;  ///< the state of input and its reason, one or two sentences
  std::vector<CauseFound>
      causes;  ///< most weighty first; one entry bare_glass if nothing was found
  std::vector<NextStep> next_steps;  ///< cheapest first
  std::vector<std::string> cautions;
  std::vector<std::string> cannot_tell;  ///< what this dump does not allow to conclude
};

}  // namespace bareglass::host
