// The state of input and its reason, in one or two sentences.

#include "answer.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "bareglass/host/text.hpp"
#include "evidence.hpp"

namespace bareglass::host {

const JournalEntry* first_event(const Account& a, JournalCode code) {
  const auto it = std::find_if(a.events.begin(), a.events.end(),
                               [&](const JournalEntry& e) { return e.code == code; });
  return it == a.events.end() ? nullptr : &*it;
}

bool refused(const Account& a) {
  for (const JournalCode code :
       {JournalCode::input_off, JournalCode::waiting, JournalCode::service_entered})
    if (first_event(a, code) != nullptr) return true;
  return false;
}

namespace {

bool is_on_the_glass(Cause cause) {
  return cause != Cause::bare_glass && cause != Cause::not_enough && cause != Cause::lone_node;
}

/// Lines and electrics: no cleaning helps.
bool is_broken(Cause cause) { return cause >= Cause::open_line && cause <= Cause::supply_sag; }

std::string answer_midway(const Account& a, const std::vector<CauseFound>& causes) {
  const bool found = is_on_the_glass(causes.front().cause);
  if (a.kind == DumpKind::differences_only)
    return found ? "This dump holds only the device's own differences, so its start-up can't be "
                   "judged. While it was recorded, something stayed on the glass: see below."
                 : "This dump holds only the device's own differences, so its start-up can't be "
                   "judged. Nothing stayed on the glass while it was recorded.";
  return found ? "The power-up is not in this dump, so what the panel decided then can't be said. "
                 "Powered up on these frames, it would keep its input off."
               : "The power-up is not in this dump, so what the panel decided then can't be said. "
                 "Powered up on these frames, it would switch its input on.";
}

/// What kept input off although the whole dump shows nothing: the entry that says so.
std::string off_for_nothing(const Account& a) {
  const auto reason = std::find_if(a.events.begin(), a.events.end(), [](const JournalEntry& e) {
    return e.code == JournalCode::glass_not_bare || e.code == JournalCode::unsteady ||
           e.code == JournalCode::input_off;
  });
  if (reason == a.events.end()) return "Input is off, and this dump does not show why.";
  return fmt::format(
      "Input was refused although nothing is on the glass as far as this dump shows. What the "
      "panel went by, at {}: \"{}\" Averaged over the dump that is no more than noise, or the "
      "spread of manufacture.",
      text::seconds(reason->t_us, zero_time(a)), text::event(*reason, a.settings));
}

}  // namespace

std::string answer(const Account& a, const std::vector<CauseFound>& causes) {
  if (a.kind != DumpKind::from_power_up) return answer_midway(a, causes);
  const bool on = a.final_state == InputState::running;
  if (is_blind(causes.front(), a.settings.shape)) {
    if (on && causes.front().ended)
      return "Input is on. For a while the panel read nothing, and no touch came through.";
    if (on) return "Input is on, but the panel no longer reads anything: no touch comes through.";
    if (!refused(a))
      return "Input never came on: the panel read nothing that it could judge its glass by.";
  }
  if (!refused(a)) {
    if (first_event(a, JournalCode::adopted) != nullptr)
      return "Input is on, but the baseline was taken with something on the glass: dead areas or "
             "touches that nobody made must be expected.";
    if (on)
      return "Input is on: the glass was bare when the panel was powered up, and nothing made the "
             "panel switch its input off.";
    return "The dump ends before the panel had decided.";
  }
  if (!is_on_the_glass(causes.front().cause)) return off_for_nothing(a);
  const bool broken = is_broken(causes.front().cause);
  if (on && broken)
    return "Input was off and came back when the panel read as it should again. Nothing on the "
           "glass was the reason: see below.";
  if (on) return "Input was off and came back: the panel waited until the glass was bare.";
  if (a.final_state == InputState::paused)
    return "Input went off while the panel was in use, and stays off while the cause remains or "
           "until the next power-up.";
  if (broken)
    return fmt::format(
        "Input is off: the panel did not read as it should when it was powered up ({}). That is "
        "its lines or its supply, not something on the glass: see below.",
        text::state(a.final_state));
  return fmt::format(
      "Input is off: the panel found that its glass was not bare when it was powered up ({}).",
      text::state(a.final_state));
}

}  // namespace bareglass::host
