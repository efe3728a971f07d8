// What each cause is: a title and one whole sentence for each.

#include <cctype>

#include "bareglass/answer/cause_group.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

const char* title_of(Cause cause) {
  static constexpr const char* kTitles[] = {
      "Nothing on the glass",
      "Touch at power-up",
      "Touch that stays",
      "Damp note or wet patch",
      "Wet film that dries",
      "Wide wet film, hand or foil",
      "Fluid at the bezel",
      "Wet smear or piece of metal",
      "Something moving",
      "Unknown object",
      "Single node",
      "Dry film",
      "Drops",
      "Residue",
      "Open line",
      "Cracked sensor",
      "Bridged lines",
      "Raised resistance",
      "Worn tail",
      "Intermittent line",
      "Interference",
      "Common mode",
      "Floating ground",
      "Supply sag",
      "Cold or hot unit",
      "Reference no longer fits",
      "Not enough to tell",
  };
  static_assert(sizeof kTitles / sizeof *kTitles == kCauseCount, "one title for each cause");
  return kTitles[static_cast<int>(cause)];
}

namespace text {

namespace {

std::string surface_headline(Cause cause) {
  switch (cause) {
    case Cause::touch_at_power_up:
      return "A finger, a hand or a grounded lump lay on the glass while the panel set itself up.";
    case Cause::touch_held:
      return "Something like a finger stayed on the glass without moving.";
    case Cause::isolated_film:
      return "A damp note, a wet label or a closed wet patch lay on the glass, with no path to "
             "ground.";
    case Cause::drying_film:
      return "A wet film lay on the glass and dried.";
    case Cause::grounded_film:
      return "A wide conductor with a path to ground covers the glass: a wet film that reaches the "
             "bezel, a hand or foil.";
    case Cause::wet_bezel:
      return "There is fluid at the bezel.";
    case Cause::isolated_streak:
      return "A conductor without a path to ground spans several lines: a wet smear, a drop row or "
             "a piece of metal.";
    case Cause::moving_thing:
      return "The readings did not stand still while the panel set itself up: something moved on "
             "the glass, or interference reached it.";
    case Cause::dry_film:
      return "A dry film lies on the glass: tape, paper or a label without moisture under it.";
    case Cause::drops:
      return "Several small drops lie on the glass, each by itself.";
    case Cause::residue:
      return "A thin damp residue covers part of the glass.";
    default:
      return "Something is on the glass, but it fits none of the known kinds.";
  }
}

std::string line_headline(Cause cause) {
  switch (cause) {
    case Cause::open_line:
      return "A line of the panel reads nothing: its contact in the tail or its trace is open.";
    case Cause::crack:
      return "The sensor is cracked: beyond the crack its lines are cut off.";
    case Cause::bridged_lines:
      return "Two neighbouring lines of the panel are joined and read the same.";
    case Cause::raised_resistance:
      return "One line of the panel reads low all along: its contact in the tail has a high "
             "resistance.";
    case Cause::worn_tail:
      return "Neighbouring lines read low or nothing together: the tail is worn or loose.";
    case Cause::intermittent_line:
      return "A line of the panel comes and goes: a loose contact.";
    default:
      return "A single node reads by itself, without its neighbours: nothing on the glass does "
             "that.";
  }
}

std::string electrical_headline(Cause cause) {
  switch (cause) {
    case Cause::interference:
      return "Interference enters through the fingers: the columns that are touched become noisy, "
             "as with a poor charger.";
    case Cause::common_mode:
      return "Whole rows swing together: the supply or the display disturbs the readings.";
    case Cause::floating_ground:
      return "Fingers read far weaker than they should: the device has no good way to earth.";
    case Cause::supply_sag:
      return "All nodes read low together: the supply sank and the drive of the panel with it.";
    case Cause::temperature:
      return "All nodes read high or low by the same part, though the supply is good: the unit is "
             "cold or hot.";
    case Cause::aged_reference:
      return "All nodes read high or low by the same part: the factory reference no longer fits "
             "the "
             "panel.";
    case Cause::not_enough:
      return "This dump does not hold enough to tell.";
    default:
      return "Nothing was found on the glass.";
  }
}

}  // namespace

std::string headline(Cause cause) {
  switch (group_of(cause)) {
    case CauseGroup::glass:
      return surface_headline(cause);
    case CauseGroup::lines:
      return line_headline(cause);
    default:
      return electrical_headline(cause);
  }
}

std::string title(const CauseFound& found) {
  std::string title = title_of(found.cause);
  const auto is_layer = [](Cause c) { return c == Cause::dry_film || c == Cause::residue; };
  if (found.or_else.size() == 1 && is_layer(found.cause) && is_layer(found.or_else.front()))
    return "Thin layer, dry film or residue";
  for (const Cause& c : found.or_else) {
    std::string other = title_of(c);
    other[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(other[0])));
    title += (&c == &found.or_else.back() ? ", or " : ", ") + other;
  }
  return title;
}

std::string sureness(const CauseFound& found) {
  if (found.or_else.empty()) return name_of(found.sureness);
  const char* many = found.or_else.size() == 1 ? "two" : "three";
  switch (found.sureness) {
    case Sureness::sure:
      return std::string("sure that it is one of ") + many;
    case Sureness::likely:
      return std::string("likely one of ") + many;
    case Sureness::possible:
      break;
  }
  return std::string("possibly one of ") + many;
}

}  // namespace text

}  // namespace bareglass::host
