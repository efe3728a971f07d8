#include "evidence_text.hpp"

#include <fmt/format.h>

#include <cmath>

namespace bareglass::host::text {

namespace {

std::string crack_headline(const LinesFound& l) {
  if (l.first == l.last)
    return fmt::format(l.of_rows
                           ? "Row {} is cut between columns {} and {}: the sensor is cracked."
                           : "Column {} is cut between rows {} and {}: the sensor is cracked.",
                       l.first, l.at - 1, l.at);
  return fmt::format(l.of_rows
                         ? "The sensor is cracked: rows {} to {} are cut off along one line."
                         : "The sensor is cracked: columns {} to {} are cut off along one line.",
                     l.first, l.last);
}

std::string one_line_headline(Cause cause, const LinesFound& l) {
  switch (cause) {
    case Cause::open_line:
      return fmt::format(l.of_rows
                             ? "Row {} reads nothing: its contact in the tail or its trace is open."
                             : "Column {} reads nothing: its contact in the tail or its trace is "
                               "open.",
                         l.first);
    case Cause::raised_resistance:
      return fmt::format(
          l.of_rows
              ? "Row {} reads low all along: its contact in the tail has a high resistance."
              : "Column {} reads low all along: its contact in the tail has a high resistance.",
          l.first);
    default:
      return fmt::format(l.of_rows ? "Row {} comes and goes: a loose contact."
                                   : "Column {} comes and goes: a loose contact.",
                         l.first);
  }
}

}  // namespace

std::string line_headline(Cause cause, const LinesFound& l) {
  switch (cause) {
    case Cause::crack:
      return crack_headline(l);
    case Cause::bridged_lines:
      return fmt::format(l.of_rows ? "Rows {} and {} are joined and read the same."
                                   : "Columns {} and {} are joined and read the same.",
                         l.first, l.last);
    case Cause::worn_tail:
      return fmt::format(
          l.of_rows ? "Rows {} to {} read low or nothing together: the tail is worn or loose."
                    : "Columns {} to {} read low or nothing together: the tail is worn or loose.",
          l.first, l.last);
    default:
      return one_line_headline(cause, l);
  }
}

std::string blind_headline() {
  return "The whole panel reads nothing: its tail is unplugged or torn, or the controller itself "
         "has failed.";
}

std::string blind_low() {
  return "Nearly all nodes stand at the lower end of the converter's range; nothing on the glass "
         "and no fault of single lines does that.";
}

std::string blind_high() {
  return "Nearly all nodes stand at the upper end of the converter's range; nothing on the glass "
         "and no fault of single lines does that.";
}

std::string blind_or_badly_captured() {
  return "A dump that was captured or converted wrongly looks like that too; if touch works on the "
         "device, look there first.";
}

std::string line_reads_nothing() {
  return "Less than a quarter of the bare reading is left; nothing that lies on the glass takes "
         "more than a fifth.";
}

std::string line_lost(double share) {
  return fmt::format("At its worst it has lost {:.0f} % of its bare reading.", 100 * share);
}

std::string line_even() {
  return "The loss is nearly the same from end to end, as a resistance in the tail makes it.";
}

std::string line_neighbours_sound() {
  return "The lines beside it are sound, and the loss ends with the line; a thing on the glass "
         "fades out over the lines beside it.";
}

std::string cut_keeps_near_part() {
  return "One part of the line reads as it should and the rest reads nothing: the line itself is "
         "broken there, not its contact.";
}

std::string crack_runs(const LinesFound& l) {
  return fmt::format(l.of_rows ? "The crack runs from column {} at row {} to column {} at row {}."
                               : "The crack runs from row {} at column {} to row {} at column {}.",
                     l.at, l.first, l.at_last, l.last);
}

std::string line_was_held_back(bool input_stayed_on) {
  return input_stayed_on ? "The panel itself held back every contact on the line; the rest of the "
                           "panel goes on working."
                         : "The panel itself held back every contact on the line.";
}

std::string bridge_same(double left_share) {
  return fmt::format(
      "Node for node the two lines read the same: {:.1f} % of the difference that healthy lines "
      "have by manufacture is left.",
      100 * std::sqrt(left_share));
}

std::string bridge_doubled() {
  return "Both lines read far more than they should, as two lines do that are driven or read "
         "together.";
}

std::string line_steps(int steps) {
  return fmt::format("The whole line jumped from one frame to the next, {} times.", steps);
}

std::string no_object_does_that() {
  return "Nothing that lies on the glass moves a whole line and leaves the next one alone.";
}

std::string no_reference_for_lines() {
  return "Without a factory reference the line is held against its neighbours; lines may differ by "
         "construction.";
}

std::string sag_lost(double share) {
  return fmt::format("All nodes together lost up to {:.1f} % of their reading.", 100 * share);
}

std::string sag_millivolts(int lowest) {
  return fmt::format("The unit reported a supply of {} mV at its lowest.", lowest);
}

std::string sag_only_millivolts() {
  return "The readings themselves do not show it: without a factory reference a steady loss of all "
         "nodes can't be seen.";
}

std::string level_off(double share, double limit) {
  return fmt::format(
      "All nodes together read {:.1f} % {} than in the factory reference; the limit is {:.1f} %.",
      100.0 * std::abs(share), share < 0 ? "less" : "more", 100.0 * limit);
}

std::string level_either() {
  return "A cold or hot unit, a reference that no longer fits and something over all of the glass "
         "read the same: look at the glass, then capture at room temperature.";
}

std::string swing(double counts, double limit) {
  return fmt::format(
      "From frame to frame whole rows move together by {:.1f} counts (rms); {:.1f} would be "
      "normal.",
      counts, limit);
}

std::string swing_share() {
  return "All parts of a row move alike, touched or not: it comes by wire, not through the glass.";
}

std::string column_noise(double times) {
  return fmt::format("The readings of these columns are {:.1f} times as noisy as the others.",
                     times);
}

std::string column_noise_only() {
  return "Only columns under a contact are noisy: the disturbance flows through the finger.";
}

std::string column_was_held_back() {
  return "The panel held back every contact in these columns: the false ones, and the real finger "
         "with them.";
}

std::string weak_contact(double share) {
  return fmt::format("The contact reads {:.0f} % of a finger at most.", 100 * share);
}

std::string weak_contact_wide() {
  return "It is as wide as a finger all the same; a small fingertip would be weak and narrow.";
}

std::string weak_contact_other() {
  return "A glove, something thick between finger and glass, or a light touch of under 6 mm in the "
         "middle between the lines looks like that too.";
}

}  // namespace bareglass::host::text
