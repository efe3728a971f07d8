// What the people on the ward are told. No technical words, no blame.

#include "bareglass/answer/cause_group.hpp"
#include "bareglass/present/page_words.hpp"
#include "bareglass/replay/account.hpp"
#include "bareglass/replay/input_course.hpp"

namespace bareglass::host::report {

namespace {

// The first sentence: what lay there.
std::string lay_there(Cause cause, bool at_start) {
  switch (cause) {
    case Cause::touch_at_power_up:
      return "While the device was starting, a finger, a hand or an object rested on its screen.";
    case Cause::touch_held:
      return "Something that looks like a finger to the screen stayed on it without moving.";
    case Cause::isolated_film:
      return at_start ? "When the device was switched on, something damp lay flat on its screen, "
                        "such as a damp note, a wet label or a wet patch."
                      : "Something damp lay flat on the screen, such as a damp note, a wet label "
                        "or a wet patch.";
    case Cause::drying_film:
      return "The screen was still wet when the device was switched on, and dried afterwards.";
    case Cause::grounded_film:
      return "A large part of the screen was covered by something wet, by a hand or by metal foil.";
    case Cause::wet_bezel:
      return "There was fluid in the gap between the screen and its frame.";
    case Cause::isolated_streak:
      return "A wet streak or a piece of metal lay across the screen.";
    case Cause::moving_thing:
      return "Something moved on the screen or close to it while the device was starting.";
    case Cause::drops:
      return "There were drops of fluid on the screen.";
    case Cause::residue:
      return "Something thin and damp, such as what a wipe leaves behind, covers part of the "
             "screen.";
    default:
      return "Something lay on the screen; what it was could not be made out.";
  }
}

// A thin layer that the signals can't tell from a dry one.
bool is_thin(const CauseFound& c) {
  return c.cause == Cause::dry_film ||
         (c.cause == Cause::residue && c.or_else == std::vector<Cause>{Cause::dry_film});
}

std::string thin_layer(const CauseFound& c) {
  if (c.or_else.empty())
    return "A dry note, tape or label is on the screen; as long as it stays dry it does no harm.";
  return c.ended
             ? "For a time a thin layer was on the screen: a dry note, tape or label, or what a "
               "wipe leaves behind. Which of them it was, the recording cannot tell."
             : "A thin layer is on the screen: a dry note, tape or label, or what a wipe leaves "
               "behind. Which of them it is, the recording cannot tell.";
}

std::string screen_did(const Account& a, const InputCourse& input) {
  if (!input.known)
    return "A touch screen has to be clear when it is switched on; if it is not, it can stop "
           "answering to touch.";
  if (input.on && input.object_in_baseline)
    return "The screen took it for a part of itself. Touch can fail in places, or the screen can "
           "feel touches that nobody made.";
  if (input.came_back())
    return input.restarted
               ? "The screen noticed that it was not clear and stopped answering to touch for "
                 "safety. It answers again since the device was switched on anew."
               : "The screen noticed that it was not clear, stopped answering to touch for safety, "
                 "and answers again since it is clear.";
  if (input.on && input.adopted)
    return "At first the screen took it for a part of itself. Once it was gone, the screen noticed "
           "and set itself up anew.";
  if (input.on) return "The screen did not switch touch off because of it.";
  if (a.final_state == InputState::paused)
    return "The screen noticed it and stopped answering to touch for safety, so that the device "
           "does nothing that nobody asked for.";
  if (!input.refused)
    return "The recording ends before the screen had decided whether it answers to touch.";
  return "A touch screen checks that it is clear while it starts; this one was not, so it stopped "
         "answering to touch for safety, as it is built to do.";
}

std::string reassurance(const InputCourse& input) {
  if (input.on_bare()) return "The recording shows nothing that has to be repaired.";
  return input.known ? "The screen is probably not broken: clean, dry and restarted with nothing "
                       "on it, it should answer again."
                     : "The screen is probably not broken: clean, dry and restarted with nothing "
                       "on it, it should answer to touch.";
}

std::string heading(const CauseFound& c, const InputCourse& input) {
  if (c.cause == Cause::dry_film && c.or_else.empty()) return "Something dry is on the screen.";
  if (is_thin(c))
    return c.ended ? "A thin layer was on the screen." : "A thin layer is on the screen.";
  if (!input.known) return "Something was on the screen.";
  if (input.on_bare())
    return input.refused ? "Something was on the screen. Touch works again."
                         : "Something was on the screen. Touch is switched on.";
  if (input.on) return "Something was on the screen when it started. Touch may go wrong.";
  return input.refused ? "Something was on the screen, so touch was switched off."
                       : "Something was on the screen.";
}

std::vector<std::string> happened_on_glass(const Account& a, const CauseFound& c,
                                           const InputCourse& input) {
  if (!is_thin(c))
    return {lay_there(c.cause, c.first_us <= zero_time(a, c.first_us) + 2000000),
            screen_did(a, input), reassurance(input)};
  const std::string fault =
      input.on_bare() || !input.known ? "The screen itself shows no fault." : screen_did(a, input);
  return {thin_layer(c),
          "If such a layer gets damp, the screen can take it for a touch or stop answering.",
          fault};
}

WardWords on_glass(const Account& a, const CauseFound& c) {
  const InputCourse input = input_course(a);
  WardWords w;
  w.heading = heading(c, input);
  w.happened = happened_on_glass(a, c, input);
  constexpr const char* kWipe =
      "Wipe the screen only with what the device's maker allows, with a cloth that is wrung out. "
      "Never spray on the screen, and keep fluid away from its frame.";
  constexpr const char* kBare = "Take everything off the screen: notes, tape, cables, hands.";
  if (input.on_bare())
    w.to_do = {
        kBare,
        kWipe,
        "Let the screen dry fully before the device is switched on, and let nobody touch it while "
        "it starts.",
        "If touch does not work, use another device and call the technician.",
    };
  else
    w.to_do = {
        "If a patient needs this device now, follow your ward's rules for a device that fails, and "
        "use another one.",
        kBare,
        kWipe,
        "Let the screen dry fully. Then, if your ward's rules allow it, restart the device with "
        "nothing on the screen and nobody touching it.",
        "If touch still does not work, call the technician.",
    };
  return w;
}

std::string in_unit_sentence(Cause cause) {
  switch (cause) {
    case Cause::crack:
      return "The touch part of the screen has a crack inside, which may not show from outside.";
    case Cause::lone_node:
      return "One spot of the screen gives wrong readings; nothing on the screen does that.";
    case Cause::intermittent_line:
      return "A connection inside the device is loose: part of the screen comes and goes.";
    case Cause::bridged_lines:
      return "Two connections inside the screen touch each other, so part of it reads wrong.";
    default:
      return "A connection inside the device is worn or open, so part of the screen does not "
             "answer.";
  }
}

WardWords in_unit() {
  WardWords w;
  w.heading = "A part inside the device has failed. It needs a repair.";
  w.to_do = {
      "If a patient needs this device now, follow your ward's rules for a device that fails, and "
      "use another one.",
      "Take the device out of use and mark it. Hang the note beside the screen, not on it.",
      "Call the technician and hand over this page.",
      "If the device was dropped or knocked, please tell the technician: it helps to find the "
      "damage.",
      "Do not press on the screen and do not try to clean the fault away: it would not help.",
  };
  return w;
}

std::string around_unit_sentence(Cause cause) {
  switch (cause) {
    case Cause::supply_sag:
      return "The device did not get enough power from its battery or its charger.";
    case Cause::temperature:
    case Cause::aged_reference:
      return "The screen was colder or warmer than it is used to when it started.";
    case Cause::floating_ground:
      return "The device was not well connected to its dock or its power supply, so it hardly "
             "feels a finger.";
    default:
      return "Electrical noise reached the screen, most often from a charger, a power supply or "
             "another device close by.";
  }
}

WardWords around_unit() {
  WardWords w;
  w.heading = "The power supply or the surroundings disturb the screen.";
  w.to_do = {
      "If a patient needs this device now, follow your ward's rules for a device that fails, and "
      "use another one.",
      "Let the technician look at the device together with its charger, its cable and its dock.",
      "Do not use other chargers or cables than those that belong to the device.",
  };
  return w;
}

WardWords nothing_found(Cause cause) {
  WardWords w;
  w.heading = cause == Cause::not_enough ? "The recording does not show what happened."
                                         : "Nothing was found on the screen.";
  w.happened = {cause == Cause::not_enough
                    ? "The recording of this screen is too short or too damaged to tell the cause."
                    : "The screen was clear in this recording.",
                "Nothing in it shows that anybody on the ward did anything wrong.",
                "If touch fails again, the technician needs another recording."};
  w.to_do = {
      "If touch does not work, use another device and call the technician.",
      "Tell the technician where on the screen and when touch failed.",
  };
  return w;
}

const char* how_sure(Sureness sureness) {
  switch (sureness) {
    case Sureness::sure:
      return "How sure this is: very sure.";
    case Sureness::likely:
      return "How sure this is: likely, but not certain.";
    case Sureness::possible:
      break;
  }
  return "How sure this is: a guess. Only the technician's check can tell.";
}

// A dump can't show who did what, only that nothing on the glass is the reason.
constexpr const char* kNothingOnTheScreen =
    "Nothing that lay on the screen is the reason, and nothing in the recording speaks against "
    "anybody on the ward.";

}  // namespace

std::string place_in_words(const Box& box, Shape shape) {
  const auto third = [](int from, int to, int lines) {
    const double middle = (from + to + 1) / 2.0 / lines;
    return middle < 0.36 ? 0 : middle > 0.64 ? 2 : 1;
  };
  const bool wide = box.width() * 10 >= shape.cols * 7;
  const bool high = box.height() * 10 >= shape.rows * 7;
  if (wide && high) return "over most of the screen";
  const int v = third(box.row0, box.row1, shape.rows);
  const int h = third(box.col0, box.col1, shape.cols);
  if (wide) {
    static constexpr const char* kAcross[] = {"along the top, over the whole width",
                                              "across the middle, over the whole width",
                                              "along the bottom, over the whole width"};
    return kAcross[v];
  }
  if (high) {
    static constexpr const char* kDown[] = {"along the left side, from top to bottom",
                                            "down the middle, from top to bottom",
                                            "along the right side, from top to bottom"};
    return kDown[h];
  }
  static constexpr const char* kNine[3][3] = {
      {"in the upper left part", "in the upper middle part", "in the upper right part"},
      {"in the middle of the left side", "in the middle of the screen",
       "in the middle of the right side"},
      {"in the lower left part", "in the lower middle part", "in the lower right part"}};
  return kNine[v][h];
}

WardWords ward_words(const Account& a, const Diagnosis& d) {
  const CauseFound none;
  // What an earlier start-up found is what the ward has to hear of.
  const bool history = d.causes.size() > 1 && d.causes.front().cause == Cause::bare_glass;
  const CauseFound& c = d.causes.empty() ? none : d.causes[history ? 1 : 0];
  WardWords w;
  switch (group_of(c.cause)) {
    case CauseGroup::glass:
      w = on_glass(a, c);
      break;
    case CauseGroup::lines:
      w = in_unit();
      w.happened = {in_unit_sentence(c.cause), kNothingOnTheScreen, "Cleaning will not repair it."};
      break;
    case CauseGroup::electronics:
      w = around_unit();
      w.happened = {around_unit_sentence(c.cause), kNothingOnTheScreen,
                    "The screen itself shows no fault."};
      break;
    case CauseGroup::none:
      w = nothing_found(c.cause);
      break;
  }
  for (const Cause other : c.or_else) {
    const CauseGroup group = group_of(other);
    if (group == group_of(c.cause) || group == CauseGroup::none) continue;
    const std::string sentence = group == CauseGroup::glass   ? lay_there(other, false)
                                 : group == CauseGroup::lines ? in_unit_sentence(other)
                                                              : around_unit_sentence(other);
    w.happened.push_back("The recording cannot tell this from another cause. " + sentence);
    break;
  }
  w.sureness = how_sure(c.sureness);
  if (c.has_place && group_of(c.cause) != CauseGroup::electronics)
    w.place = place_in_words(c.box, a.settings.shape);
  return w;
}

}  // namespace bareglass::host::report
