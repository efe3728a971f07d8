#include "advice.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "bareglass/host/text.hpp"

namespace bareglass::host {

namespace {

bool any(const std::vector<CauseFound>& causes, std::initializer_list<Cause> wanted) {
  return std::any_of(causes.begin(), causes.end(), [&](const CauseFound& c) {
    return std::find(wanted.begin(), wanted.end(), c.cause) != wanted.end();
  });
}

void bare_glass_steps(std::vector<std::string>& steps, const Account& a) {
  const bool device_refused =
      std::any_of(a.device_journal.begin(), a.device_journal.end(),
                  [](const JournalRecord& r) { return r.code == JournalCode::input_off; });
  if (device_refused) {
    steps.emplace_back(
        "The device itself reported that it switched its input off, yet these frames show a bare "
        "glass: compare its settings with the ones used here (--settings), then capture once more "
        "from power-up.");
    return;
  }
  steps.emplace_back(
      "Nothing on the glass needs attention. If touches still fail, capture while somebody touches "
      "the places that fail, and explain that dump.");
}

void lone_node_steps(std::vector<std::string>& steps) {
  steps.emplace_back(
      "Cleaning will not help: a single node without its neighbours is not caused by the glass.");
  steps.emplace_back(
      "Restart and capture again. If the same node stands out once more, pass the device on for "
      "repair (tail, panel or controller); if other nodes do, look for a loose connection of the "
      "capture itself.");
}

// The panel helped itself; what is left is to keep it from happening again.
void came_back_steps(std::vector<std::string>& steps) {
  steps.emplace_back("Input is on again: nothing has to be opened or replaced.");
  steps.emplace_back(
      "See to it that the glass is bare and dry whenever the device is powered up: nothing taped "
      "to the screen, and a wipe-down dry before the restart.");
  steps.emplace_back(
      "To prove it, restart with nothing on the glass, capture from power-up and run \"bareglass "
      "explain\" on the new dump: nothing may be found.");
}

}  // namespace

std::vector<std::string> next_steps(const std::vector<CauseFound>& causes, const Account& account) {
  std::vector<std::string> steps;
  const bool only_lone_nodes = std::all_of(causes.begin(), causes.end(), [](const CauseFound& c) {
    return c.cause == Cause::lone_node;
  });
  if (only_lone_nodes) {
    lone_node_steps(steps);
    return steps;
  }
  if (any(causes, {Cause::bare_glass})) {
    bare_glass_steps(steps, account);
    return steps;
  }
  if (account.kind == DumpKind::from_power_up && account.final_state == InputState::running) {
    came_back_steps(steps);
    return steps;
  }
  steps.emplace_back(
      "Take everything off the glass: hands, notes, tape, covers, cables. Hold the device by its "
      "case.");
  if (any(causes, {Cause::isolated_film, Cause::drying_film, Cause::grounded_film, Cause::wet_bezel,
                   Cause::isolated_streak, Cause::unknown_object}))
    steps.emplace_back(
        "Clean the glass with what the device's maker permits and nothing else, on a cloth that is "
        "wrung out. Never spray or soak; keep fluid away from the bezel.");
  if (any(causes, {Cause::wet_bezel}))
    steps.emplace_back(
        "Dry the gap between glass and bezel with a lint-free cloth or an absorbent paper edge, "
        "from the corner outwards; let the device stand with that edge down until dry.");
  if (any(causes, {Cause::isolated_film, Cause::drying_film, Cause::grounded_film, Cause::wet_bezel,
                   Cause::isolated_streak}))
    steps.emplace_back("Let glass and bezel dry fully before power is applied again.");
  if (any(causes, {Cause::moving_thing}))
    steps.emplace_back(
        "Disconnect the charger, move the device away from other powered equipment, and do not "
        "touch it while it starts.");
  steps.emplace_back("Restart the device with nothing on the glass and nobody touching it.");
  steps.emplace_back(
      "Capture again from power-up and run \"bareglass explain\" on the new dump: input must come "
      "on and nothing may be found.");
  steps.emplace_back(
      "Stop here and pass the device on for repair if the same place shows again on clean, dry, "
      "bare glass after two restarts: then the cause is not on the glass.");
  return steps;
}

std::vector<std::string> cautions() {
  return {
      "Make sure that the device is not connected to a patient and is marked as out of use before "
      "you work on it.",
      "Use only the cleaning agents and methods that the device's maker permits.",
      "If the case has been opened, an electrical safety test must be passed before the device "
      "goes back into use.",
      "Local rules and the judgement of licensed staff come before anything printed here.",
  };
}

std::vector<std::string> cannot_tell(const Account& a, const std::vector<CauseFound>& causes) {
  std::vector<std::string> out;
  if (a.kind == DumpKind::raw_midway)
    out.emplace_back(
        "The power-up is not in this dump: neither what lay on the glass then nor what the panel "
        "decided.");
  if (a.kind == DumpKind::differences_only) {
    out.emplace_back(
        "Only the device's own differences are in this dump: what its baseline took in at power-up "
        "is invisible, and so is the start-up decision.");
  } else if (!a.has_reference) {
    out.push_back(
        fmt::format("There is no factory reference in this dump: the panel is held against its own "
                    "smoothness instead, which can't see anything weaker than {} of a finger, nor "
                    "a film over more than half of the glass, nor fluid along a whole border.",
                    text::percent(limits_of(a.settings).smooth, a.settings)));
  }
  if (any(causes, {Cause::bare_glass}))
    out.emplace_back(
        "A dry note or dry tape may still be on the glass: it moves the signals too little to be "
        "seen, and does no harm by itself as long as it stays dry.");
  out.emplace_back(
      "Faults of lines and of the supply (cracked sensor, worn tail, floating ground) are not "
      "judged by this version.");
  if (a.frames_saturated != 0)
    out.push_back(fmt::format(
        "{} of {} frames are spoiled: nodes stand at the converter's limits, which nothing on the "
        "glass can do. A broken line or a failing supply can; these frames were left out.",
        a.frames_saturated, a.frames));
  if (a.stats.damaged_packets != 0 || a.stats.malformed_lines != 0)
    out.emplace_back("Parts of the dump are damaged; what happened in them is unknown.");
  for (const std::string& assumption : a.assumptions) out.push_back(assumption);
  return out;
}

}  // namespace bareglass::host
