// Sentences about things on the glass, and about how far a picture departs.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/words/text.hpp"
#include "evidence_text.hpp"

namespace bareglass::host::text {

namespace {

/// The whole sentence for what a picture is held against; a translation can order its words.
const char* held_against(DecisiveMoment::Against a, const char* reference, const char* smoothness,
                         const char* baseline) {
  switch (a) {
    case DecisiveMoment::Against::reference:
      return reference;
    case DecisiveMoment::Against::smoothness:
      return smoothness;
    case DecisiveMoment::Against::baseline:
      break;
  }
  return baseline;
}

}  // namespace

std::string largest_departure(DecisiveMoment::Against a, std::int32_t counts, std::int32_t limit,
                              const Settings& s) {
  return fmt::format(held_against(a,
                                  "The largest departure from the factory reference is {} counts, "
                                  "{} of a finger; anything from {} on would be too much.",
                                  "The largest departure from the panel's own smoothness is {} "
                                  "counts, {} of a finger; anything from {} on would be too much.",
                                  "The largest departure from the baseline is {} counts, {} of a "
                                  "finger; anything from {} on would be too much."),
                     counts, percent(counts, s), percent(limit, s));
}

std::string departure_of_touches(DecisiveMoment::Against a, std::int32_t counts, std::int32_t limit,
                                 const Settings& s) {
  return fmt::format(
      held_against(a,
                   "The largest departure from the factory reference is {} counts, {} of a finger, "
                   "beyond the {} that are allowed; over the whole dump it is no more than touches "
                   "and the panel's own bends make.",
                   "The largest departure from the panel's own smoothness is {} counts, {} of a "
                   "finger, beyond the {} that are allowed; over the whole dump it is no more than "
                   "touches and the panel's own bends make.",
                   "The largest departure from the baseline is {} counts, {} of a finger, beyond "
                   "the {} that are allowed; over the whole dump it is no more than touches and "
                   "the panel's own bends make."),
      counts, percent(counts, s), percent(limit, s));
}

std::string map_shows(std::int32_t counts, const Settings& settings, BareBy bare) {
  return fmt::format(bare == BareBy::reference
                         ? "While it lay there, its strongest node departed by {} counts, {} of a "
                           "finger, from the factory reference (averaged)."
                     : bare == BareBy::state
                         ? "While it lay there, its strongest node departed by {} counts, {} of a "
                           "finger, from the rest of the dump (averaged)."
                         : "While it lay there, its strongest node departed by {} counts, {} of a "
                           "finger, from a smooth panel (averaged).",
                     counts, percent(counts, settings));
}

std::string area_is(const std::string& size) { return fmt::format("The area is {}.", size); }

namespace {

const char* isolated_thing(Cause c) {
  return c == Cause::drops             ? "several small drops"
         : c == Cause::isolated_streak ? "a wet smear across several lines"
                                       : "a damp note or a closed wet patch";
}

}  // namespace

std::string headline_of_all(const CauseFound& found) {
  const auto all = [&](std::initializer_list<Cause> group) {
    const auto is_in = [&](Cause c) {
      return std::find(group.begin(), group.end(), c) != group.end();
    };
    return is_in(found.cause) && std::all_of(found.or_else.begin(), found.or_else.end(), is_in);
  };
  if (found.or_else.empty()) return headline(found.cause);
  if (all({Cause::dry_film, Cause::residue})) return thin_layer_headline();
  if (all({Cause::isolated_film, Cause::isolated_streak, Cause::drops})) {
    std::string out = "A conductor without a path to ground lies on the glass: either ";
    out += isolated_thing(found.cause);
    for (const Cause c : found.or_else) out += std::string(", or ") + isolated_thing(c);
    return out + ". The map alone can't tell which.";
  }
  std::string out = headline(found.cause);
  for (const Cause c : found.or_else) out += " It could also be this: " + headline(c);
  return out;
}

std::string may_be_faint(const Box& box, std::int32_t counts, const Settings& settings) {
  return fmt::format(
      "Something faint may lie at {}: {} of a finger, hardly more than the panel's own unevenness.",
      lines(box), percent(counts, settings));
}

std::string thin_layer_headline() {
  return "A thin layer lies on the glass: dry tape, paper or a label, or a thin residue. The "
         "signals alone can't tell which.";
}

std::string falls_as_touch() {
  return "The counts went the way a touch sends them: something took field away to ground.";
}

std::string fingertip_sized() { return "It is no wider than a fingertip's mark."; }

std::string ended_at_once_as_finger() {
  return "It went away at once, as a finger does when it is lifted.";
}

std::string ended_at_once_as_peeled() {
  return "It ended at once, as what is peeled or wiped off does; what dries mostly fades.";
}

std::string touch_never_ended() {
  return "It never went away in this dump; a finger usually does. A grounded lump, a wet spot with "
         "a path to ground or a damaged place would stay.";
}

std::string stayed_to_the_end() {
  return "It neither dried nor was removed in this dump, so film, label and metal piece can't be "
         "told apart.";
}

std::string falls_over_more() {
  return "The counts fell, as under a touch, but over more than a finger covers.";
}

std::string band_at_border(const Box& box, const Settings& settings) {
  return fmt::format("It is a band along the border, {}, and does not reach further inwards.",
                     size_mm(box, settings));
}

std::string fluid_lowers() {
  return "The counts fell: the fluid carries field to the bezel's ground.";
}

std::string both_signs(double lowered, double raised) {
  return fmt::format(
      "Counts fell by up to {:.0f} % of a finger where it lies and rose by up to {:.0f} % where "
      "its rows and columns cross beside it. Only a conductor that couples its rows to its columns "
      "does that.",
      100 * lowered, 100 * raised);
}

std::string streak_makes_touches() {
  return "Such a smear makes touches where nothing lies; the device is right not to trust them.";
}

std::string rises_against_touch() {
  return "The counts rose, against the direction of a touch: a conductor that does not reach "
         "ground adds coupling.";
}

std::string has_rim(double share) {
  return fmt::format(
      "Its rim goes the other way: the counts fell there by up to {:.1f} % of a finger. A patch "
      "without a path to ground does that.",
      100 * share);
}

std::string dry_tape_cannot() {
  return "Dry tape or dry paper alone cannot do this: on 1.1 mm glass they move a node by about 1 "
         "% of a finger or less. What is held under it must conduct: water, disinfectant, residue.";
}

std::string only_smoothness() {
  return "It was there all the time and there is no factory reference, so it is held against what "
         "a smooth panel would read.";
}

std::string put_down_or_lifted() {
  return "Without a factory reference it can't be said whether it was put down or taken away.";
}

std::string all_nodes_stepped(double by, std::int32_t counts, const Settings& settings) {
  return fmt::format(
      "All nodes {} together by {:.1f} % of their reading, {} of a finger, within half a second.",
      by < 0 ? "fell" : "rose", 100.0 * std::abs(by), percent(counts, settings));
}

std::string all_nodes_lower(double lost, std::int32_t counts, const Settings& settings) {
  return fmt::format("All nodes read {:.1f} % less than in the factory reference, {} of a finger.",
                     100.0 * lost, percent(counts, settings));
}

std::string as_much_as_a_cover(double share) {
  return fmt::format(
      "That is {:.0f} % of what an earthed conductor over all of the glass takes; temperature and "
      "age take less.",
      100.0 * share);
}

std::string gain_or_cover() {
  return "It was so from the start, and what covers all of the glass and a low gain read the same: "
         "look at the glass, then capture again with nothing on it.";
}

std::string no_temperature_steps() { return "Temperature and age move a panel far more slowly."; }

std::string moved_during_look() {
  return "While the panel set itself up, nodes were restless, and a moment later others were "
         "touched than before: something moved over the glass.";
}

std::string separate_places(int places) {
  return fmt::format("It is made of {} small places, each no wider than 20 mm.", places);
}

std::string no_rim() {
  return "It is flat, and nothing beside it goes the other way: it does not conduct, or hardly.";
}

std::string dry_or_damp() {
  return "So little can be a dry label or paper as well as a thin residue; only what happens when "
         "it is wiped or peeled tells them apart.";
}

std::string faded() {
  return "It faded over several averages, as drying does; nothing that is peeled off does that.";
}

std::string lone_node() {
  return "Its neighbours show nothing of it; whatever lies on the glass acts on them, too.";
}

std::string lone_node_where() {
  return "Panel, tail, controller and a garbled transmission can't be told apart from one node.";
}

}  // namespace bareglass::host::text
