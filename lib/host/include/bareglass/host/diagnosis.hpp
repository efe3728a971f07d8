#pragma once
// From an account to an answer: what lay on the glass, how sure, what speaks for and against it,
// and what to do next.

#include <string>
#include <vector>

#include "bareglass/host/account.hpp"

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
};
/// Machine name, stable: "touch_at_power_up".
const char* name_of(Cause cause);

enum class Sureness { sure, likely, possible };
const char* name_of(Sureness sureness);

struct CauseFound {
  Cause cause = Cause::unknown_object;
  Sureness sureness = Sureness::possible;
  std::string headline;  ///< one sentence
  bool has_place = false;
  Box box;
  std::int32_t measured = 0;  ///< greatest departure, counts
  std::int32_t limit = 0;     ///< counts
  std::uint64_t first_us = 0;
  bool ended = false;
  std::uint64_t ended_us = 0;
  std::vector<std::string> speaks_for;
  std::vector<std::string> speaks_against;
};

struct Diagnosis {
  std::string answer;  ///< the state of input and its reason, one or two sentences
  std::vector<CauseFound>
      causes;  ///< most weighty first; one entry bare_glass if nothing was found
  std::vector<std::string> next_steps;  ///< cheapest first
  std::vector<std::string> cautions;
  std::vector<std::string> cannot_tell;  ///< what this dump does not allow to conclude
};

Diagnosis diagnose(const Account& account);

/// Seconds in the report count from here: the power-up if the dump knows it, else the first frame.
std::uint64_t zero_time(const Account& account);

}  // namespace bareglass::host
