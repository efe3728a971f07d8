#include "evidence.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>

#include "bareglass/words/text.hpp"
#include "evidence_text.hpp"

namespace bareglass::host {

namespace {

using text::percent;

// A signal that passes through the middle of its range in at least this many looks faded; what is
// peeled or lifted skips the middle, because a look takes a fraction of a second.
constexpr int kFadingPoints = 2;
// The middle: between these shares of the greatest mean, in percent.
constexpr int kMiddleLow = 30;
constexpr int kMiddleHigh = 80;

std::string strength_line(const FindingStory& s, const Account& a) {
  return text::strongest_node(a.decisive.against, s.greatest, a.decisive.limit, a.settings);
}

std::string shape_line(const FindingStory& s, const Account& a) {
  return fmt::format("The area is {} (nodes: {}).", text::size_mm(s.widest, a.settings),
                     s.widest_nodes);
}

std::string steadiness_line(const FindingStory& s) {
  // Counted as the times beside it are: until its end was noticed.
  const std::uint64_t until = s.ended ? s.ended_us : s.last.last_us;
  return fmt::format("It stayed for {:.1f} s.", static_cast<double>(until - s.last.first_us) / 1e6);
}

int flatness_percent(const FindingStory& s) {
  return s.last.peak == 0
             ? 0
             : 100 * std::abs(s.last.mean) / std::max(1, std::abs(static_cast<int>(s.last.peak)));
}

// More than one frame in ten at the converter's limits: something is wrong that no object explains.
bool many_frames_spoiled(const Account& a) { return 10 * a.frames_saturated > a.frames; }

// Twice the limit leaves no room for noise or spread; near the limit the kind may still be right,
// but the next dump should confirm it. Without a reference the sizes themselves are uncertain.
Sureness sureness_of(const FindingStory& s, const Account& a) {
  const int margin_percent = 100 * std::abs(s.greatest) / std::max(1, a.decisive.limit);
  if (a.kind == DumpKind::differences_only || many_frames_spoiled(a)) return Sureness::possible;
  if (margin_percent >= 200 && a.has_reference) return Sureness::sure;
  return margin_percent >= 110 ? Sureness::likely : Sureness::possible;
}

void weigh_touch(CauseFound& c, const FindingStory& s, const Account& a) {
  c.cause = s.at_power_up ? Cause::touch_at_power_up : Cause::touch_held;
  c.headline =
      s.at_power_up
          ? "A finger, a hand or a grounded lump lay on the glass while the panel set itself up."
          : "Something like a finger stayed on the glass without moving.";
  c.speaks_for.emplace_back(
      "The counts went the way a touch sends them: something took field away to ground.");
  c.speaks_for.push_back(shape_line(s, a));
  c.speaks_for.emplace_back(
      "No wider than a fingertip's mark, with a peak in its middle rather than a flat top.");
  if (s.ended)
    c.speaks_for.emplace_back("It went away at once, as a finger does when it is lifted.");
  if (flatness_percent(s) > 75)
    c.speaks_against.push_back(
        fmt::format("Its top is rather flat ({} % of the peak on average): a wet spot that reaches "
                    "ground or a coin under a hand looks like that too.",
                    flatness_percent(s)));
  if (!s.ended)
    c.speaks_against.emplace_back(
        "It never went away in this dump; a finger usually does. A grounded lump, a wet spot with "
        "a path to ground or a damaged place would stay.");
}

void weigh_raised(CauseFound& c, const FindingStory& s, const Account& a) {
  const Ending ending = ending_of(s);
  c.cause = ending == Ending::fading ? Cause::drying_film : Cause::isolated_film;
  c.headline = ending == Ending::fading ? "A wet film lay on the glass and dried."
                                        : "A damp note, a wet label or a closed wet patch lay on "
                                          "the glass, with no path to ground.";
  c.speaks_for.emplace_back(
      "The counts rose, against the direction of a touch: a conductor that does not reach ground "
      "adds coupling.");
  c.speaks_for.push_back(
      fmt::format("It is flat: {} % of its peak on average.", flatness_percent(s)));
  c.speaks_for.push_back(shape_line(s, a));
  if (ending == Ending::fading)
    c.speaks_for.emplace_back(
        "It faded over several looks, as drying does; nothing that is peeled off does that.");
  if (ending == Ending::at_once)
    c.speaks_for.emplace_back(
        "It ended between two looks, as what is peeled or wiped off does; what dries mostly "
        "fades.");
  if (100 * std::abs(s.greatest) > 4 * a.settings.finger_counts)
    c.speaks_for.emplace_back(
        "Dry tape or dry paper alone cannot do this: on 1.1 mm glass they move a node by about 1 % "
        "of a finger or less. What is held under it must conduct: water, disinfectant, residue.");
  if (ending == Ending::none)
    c.speaks_against.emplace_back(
        "It neither dried nor was removed in this dump, so film, label and metal piece can't be "
        "told apart.");
}

void weigh_border(CauseFound& c, const FindingStory& s, const Account& a) {
  c.cause = Cause::wet_bezel;
  c.headline = "There is fluid at the bezel.";
  c.speaks_for.push_back(fmt::format("A band along the border, {}, no deeper than two lines.",
                                     text::size_mm(s.widest, a.settings)));
  c.speaks_for.emplace_back("The counts fell: the fluid carries field to the bezel's ground.");
  if (std::abs(s.greatest) < a.settings.finger_counts * 3 / 10)
    c.speaks_for.push_back(fmt::format("Too weak for fingers along the edge ({} of a finger).",
                                       percent(s.greatest, a.settings)));
  else
    c.speaks_against.push_back(fmt::format(
        "It is as strong as a touch ({} of a finger): a hand gripping the edge looks like that.",
        percent(s.greatest, a.settings)));
}

// Against the panel's own smoothness a border line is its own yardstick: when most of it is
// lowered, its few dry nodes stand out as raised. Claiming a film there would be false.
bool is_rest_of_border(const FindingStory& s, const Account& a) {
  const Box& b = s.widest;
  const Shape shape = a.settings.shape;
  const bool in_row = b.height() == 1 && (b.row0 == 0 || b.row0 == shape.rows - 1);
  const bool in_col = b.width() == 1 && (b.col0 == 0 || b.col0 == shape.cols - 1);
  return !a.has_reference && a.kind != DumpKind::differences_only && s.greatest < 0 &&
         (in_row || in_col);
}

void weigh_rest_of_border(CauseFound& c) {
  c.cause = Cause::wet_bezel;
  c.sureness = Sureness::possible;
  c.headline =
      "Part of a border line reads unlike the rest of that line: there may be fluid at the bezel.";
  c.speaks_for.emplace_back(
      "These few nodes look raised only against the rest of their border line; fluid that lowers "
      "most of the line leaves its dry part standing out like this.");
  c.speaks_against.emplace_back(
      "Without a factory reference it can't be said which part of the line is the healthy one.");
}

void weigh_two_signs(CauseFound& c, const FindingStory& s, const Account& a) {
  c.cause = Cause::isolated_streak;
  c.headline =
      "A conductor without a path to ground spans several lines: a wet smear, a drop row or a "
      "piece of metal.";
  c.speaks_for.push_back(
      fmt::format("It shows both signs side by side: {} and {} of a finger. Only a conductor that "
                  "couples its rows to its columns does that.",
                  percent(s.last.peak, a.settings), percent(s.last.opposite, a.settings)));
  c.speaks_for.push_back(shape_line(s, a));
  c.speaks_for.emplace_back(
      "Such a smear makes touches where nothing lies; the device was right not to trust them.");
  if (std::abs(s.last.opposite) * 3 < std::abs(s.last.peak))
    c.speaks_against.emplace_back(
        "One sign is much weaker than the other; a finger beside a dead area left in the baseline "
        "can look similar.");
}

// A compact isolated conductor raises what it covers and lowers its rim a little; a streak does the
// reverse or far more. Field solution, 1.1 mm glass: discs of 6 to 24 mm raise by 20 to 38 % of a
// finger, with rims of 5 to 14 %, while an L-shaped streak raises its corner by 140 %.
bool is_film_with_rim(const FindingStory& s, const Account& a) {
  return s.greatest < 0 && 100 * -s.greatest < 45 * a.settings.finger_counts;
}

void weigh_film_with_rim(CauseFound& c, const FindingStory& s, const Account& a) {
  weigh_raised(c, s, a);
  c.speaks_for.push_back(fmt::format(
      "Its rim goes the other way, up to {} of a finger: the rim of a patch that has no path to "
      "ground.",
      percent(s.last.opposite, a.settings)));
}

void weigh_grounded(CauseFound& c, const FindingStory& s, const Account& a) {
  c.cause = Cause::grounded_film;
  c.headline =
      "A wide conductor with a path to ground covers the glass: a wet film that reaches the bezel, "
      "a hand or foil.";
  c.speaks_for.emplace_back(
      "The counts fell, as under a touch, but over more than a finger covers.");
  c.speaks_for.push_back(shape_line(s, a));
  c.speaks_for.push_back(
      fmt::format("It is flat: {} % of its peak on average.", flatness_percent(s)));
  if (!a.has_reference && !s.at_power_up)
    c.speaks_against.emplace_back(
        "Without a factory reference the baseline itself is in doubt: an isolated film that lay "
        "there at power-up and was taken away later looks the same.");
}

void weigh_lone(CauseFound& c) {
  c.cause = Cause::lone_node;
  c.headline =
      "A single node reads by itself, without its neighbours: a faulty node, or a thing no larger "
      "than one.";
  c.speaks_for.emplace_back(
      "Its neighbours show less than a sixth of its signal; under nearly everything that lies on "
      "the glass they share it. It is not taken for a touch.");
  c.speaks_against.emplace_back(
      "Panel, tail, controller and a garbled transmission can't be told apart from one node.");
}

bool lies_along_border(const Box& b, Shape shape) {
  const bool row = b.height() <= 2 && (b.row0 == 0 || b.row1 == shape.rows - 1);
  const bool column = b.width() <= 2 && (b.col0 == 0 || b.col1 == shape.cols - 1);
  return (row && b.width() >= 3) || (column && b.height() >= 3);
}

void weigh_unknown(CauseFound& c, const FindingStory& s, const Account& a) {
  c.cause = Cause::unknown_object;
  c.headline = "Something is on the glass, but it fits none of the known kinds.";
  c.sureness = Sureness::possible;
  c.speaks_for.push_back(shape_line(s, a));
}

}  // namespace

Ending ending_of(const FindingStory& s) {
  int greatest = 0;
  for (const auto& p : s.course) greatest = std::max(greatest, std::abs(static_cast<int>(p.mean)));
  int middle = 0;
  for (const auto& p : s.course) {
    const int share = greatest == 0 ? 0 : 100 * std::abs(static_cast<int>(p.mean)) / greatest;
    if (share >= kMiddleLow && share <= kMiddleHigh) ++middle;
  }
  if (middle >= kFadingPoints) return Ending::fading;
  return s.ended ? Ending::at_once : Ending::none;
}

CauseFound weigh(const FindingStory& story, const Account& account) {
  CauseFound c;
  c.has_place = true;
  c.box = story.widest;
  c.measured = story.greatest;
  c.limit = account.decisive.limit;
  c.first_us = story.last.first_us;
  c.ended = story.ended;
  c.ended_us = story.ended_us;
  c.sureness = sureness_of(story, account);
  c.speaks_for.push_back(strength_line(story, account));
  switch (story.last.kind) {
    case FindingKind::held_touch:
      weigh_touch(c, story, account);
      break;
    case FindingKind::raised_plateau:
      if (is_rest_of_border(story, account))
        weigh_rest_of_border(c);
      else
        weigh_raised(c, story, account);
      break;
    case FindingKind::border_band:
      weigh_border(c, story, account);
      break;
    case FindingKind::two_sign_conductor:
      if (is_film_with_rim(story, account))
        weigh_film_with_rim(c, story, account);
      else
        weigh_two_signs(c, story, account);
      break;
    case FindingKind::lowered_plateau:
      weigh_grounded(c, story, account);
      break;
    case FindingKind::lone_node:
      if (is_rest_of_border(story, account))
        weigh_rest_of_border(c);
      else
        weigh_lone(c);
      break;
    case FindingKind::drops:
      c.cause = Cause::drops;
      c.headline = text::headline(c.cause);
      c.speaks_for.push_back(shape_line(story, account));
      break;
    default:
      if (lies_along_border(story.widest, account.settings.shape))
        weigh_rest_of_border(c);
      else
        weigh_unknown(c, story, account);
      break;
  }
  c.speaks_for.push_back(steadiness_line(story));
  return c;
}

}  // namespace bareglass::host
