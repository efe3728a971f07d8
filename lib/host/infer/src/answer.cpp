// The state of input and its reason, in one or two sentences.

#include "answer.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "bareglass/replay/input_course.hpp"
#include "bareglass/words/text.hpp"
#include "evidence.hpp"

namespace bareglass::host {

const JournalEntry* first_event(const Account& a, JournalCode code) {
  const auto it = std::find_if(a.events.begin(), a.events.end(),
                               [&](const JournalEntry& e) { return e.code == code; });
  return it == a.events.end() ? nullptr : &*it;
}

namespace {

bool is_on_the_glass(Cause cause) {
  return cause != Cause::bare_glass && cause != Cause::not_enough && cause != Cause::lone_node;
}

/// Lines and electrics: no cleaning helps.
bool is_broken(Cause cause) { return cause >= Cause::open_line && cause <= Cause::aged_reference; }

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
std::string off_for_nothing(const Account& a, Cause first) {
  if (const JournalEntry* hidden = first_event(a, JournalCode::spread_hides))
    return fmt::format("Input is off, and not for something on the glass. {}",
                       text::event(*hidden, a.settings));
  if (first == Cause::lone_node)
    return fmt::format(
        "Input is off: one node by itself departs beyond the limit ({}). Look at the glass there; "
        "if nothing lies on it, the node is faulty, and only a factory reference that marks it "
        "lets the panel start.",
        text::state(a.final_state));
  const auto reason = std::find_if(a.events.begin(), a.events.end(), [](const JournalEntry& e) {
    return e.code == JournalCode::glass_not_bare || e.code == JournalCode::unsteady ||
           e.code == JournalCode::input_off;
  });
  if (reason == a.events.end()) return "Input is off, and this dump does not show why.";
  return fmt::format(
      "Input was refused although nothing is on the glass as far as this dump shows. What the "
      "panel went by, at {}: \"{}\" Averaged over the dump that is no more than noise, or the "
      "spread of manufacture.",
      text::moment(reason->t_us, a), text::event(*reason, a.settings));
}

/// Policy adopt: input was given in spite of what the panel found.
std::string answer_adopted(const InputCourse& input, bool broken) {
  if (input.object_in_baseline)
    return broken ? "Input is on, but the baseline was taken with a fault of lines or supply: "
                    "dead areas or touches that nobody made must be expected."
                  : "Input is on, but the baseline was taken with something on the glass: dead "
                    "areas or touches that nobody made must be expected.";
  if (input.restarted || input.refused)
    return "Input is on. A baseline was taken although the panel had found something that it "
           "refuses; since then the baseline has been taken anew, without it.";
  return broken
             ? "Input is on. The first baseline was taken while the panel did not read as it "
               "should; later the panel took its baseline anew and found nothing that it "
               "refuses."
             : "Input is on. The first baseline was taken with something on the glass; when that "
               "was gone, the panel noticed it, took its baseline anew and found the glass bare. "
               "Until then touches could be lost or wrong.";
}

std::string answer_came_back(const InputCourse& input, bool broken) {
  if (input.restarted)
    return broken ? "Input was off and came back with a restart: powered up again, the panel read "
                    "as it should. Nothing on the glass was the reason: see below."
                  : "Input was off and came back with a restart: powered up again, the panel found "
                    "nothing that it refuses.";
  if (broken)
    return "Input was off and came back when the panel read as it should again. Nothing on the "
           "glass was the reason: see below.";
  return input.waited ? "Input was off and came back: the panel waited until the glass was bare."
                      : "Input was off and came back when its cause was gone.";
}

std::string answer_blind(const InputCourse& input, bool ended) {
  if (!input.on)
    return "Input never came on: the panel read nothing that it could judge its glass by.";
  return ended ? "Input is on. For a while the panel read nothing, and no touch came through."
               : "Input is on, but the panel no longer reads anything: no touch comes through.";
}

}  // namespace

std::string answer(const Account& a, const std::vector<CauseFound>& causes) {
  if (a.kind != DumpKind::from_power_up) return answer_midway(a, causes);
  const InputCourse input = input_course(a);
  const Cause first = causes.front().cause;
  const bool broken = is_broken(first);
  // A level that is off reads as a cover over all of the glass does, and what is merely possible is
  // no ground to tell anybody that the glass is clean.
  const bool surely_broken = broken && first != Cause::temperature &&
                             first != Cause::aged_reference &&
                             causes.front().sureness != Sureness::possible;
  if (is_blind(causes.front(), a.settings.shape) && (input.on || !input.refused))
    return answer_blind(input, causes.front().ended);
  if (input.on && input.adopted) return answer_adopted(input, broken);
  if (!input.refused) {
    if (!input.on) return "The dump ends before the panel had decided.";
    return is_on_the_glass(first)
               ? "Input is on: at power-up the panel found nothing that it refuses, and nothing "
                 "made it switch its input off."
               : "Input is on: the glass was bare when the panel was powered up, and nothing made "
                 "the panel switch its input off.";
  }
  // Of several start-ups an earlier one may have been refused: what it was is told as history.
  if (!is_on_the_glass(first) && !input.on) return off_for_nothing(a, first);
  if (input.on) return answer_came_back(input, surely_broken);
  if (a.final_state == InputState::paused)
    return "Input went off while the panel was in use, and stays off while the cause remains or "
           "until the next power-up.";
  if (surely_broken)
    return fmt::format(
        "Input is off: the panel did not read as it should when it was powered up ({}). That is "
        "its lines or its supply, not something on the glass: see below.",
        text::state(a.final_state));
  if (broken)
    return fmt::format(
        "Input is off: the panel did not read as it should when it was powered up ({}). Nothing "
        "was made out on the glass; look at it all the same, then see below.",
        text::state(a.final_state));
  return fmt::format(
      "Input is off: the panel found that its glass was not bare when it was powered up ({}).",
      text::state(a.final_state));
}

}  // namespace bareglass::host
