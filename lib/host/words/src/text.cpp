#include "bareglass/words/text.hpp"

#include <fmt/format.h>

#include <cmath>

namespace bareglass::host::text {

std::string percent(std::int32_t counts, const Settings& settings) {
  const double p = 100.0 * counts / settings.finger_counts;
  return std::abs(p) < 9.95 ? fmt::format("{:.1f} %", p) : fmt::format("{:.0f} %", p);
}

std::string moment(std::uint64_t t_us, const Account& a) {
  const std::string s = seconds(t_us, zero_time(a, t_us));
  return a.runs.size() < 2 ? s : fmt::format("{} of run {}", s, run_of(a, t_us) + 1);
}

std::string lines(const Box& b) {
  const auto span = [](const char* one, const char* many, int from, int to) {
    return from == to ? fmt::format("{} {}", one, from)
                      : fmt::format("{} {} to {}", many, from, to);
  };
  return span("row", "rows", b.row0, b.row1) + ", " + span("column", "columns", b.col0, b.col1);
}

std::string place_mm(const Box& b, const Settings& s) {
  const double px = s.pitch_col_um / 1000.0;
  const double py = s.pitch_row_um / 1000.0;
  return fmt::format("{:.0f} to {:.0f} mm from the left, {:.0f} to {:.0f} mm from the top",
                     b.col0 * px, (b.col1 + 1) * px, b.row0 * py, (b.row1 + 1) * py);
}

std::string size_mm(const Box& b, const Settings& s) {
  return fmt::format("{:.0f} mm wide, {:.0f} mm high", b.width() * s.pitch_col_um / 1000.0,
                     b.height() * s.pitch_row_um / 1000.0);
}

std::string start_policy(const Account& a) {
  if (a.kind != DumpKind::from_power_up) return "Start policy: none, no start was replayed.";
  return fmt::format("Start policy: {}.", policy(a.settings.policy));
}

std::string state(InputState s) {
  switch (s) {
    case InputState::unpowered:
      return "not powered";
    case InputState::settling:
      return "settling after power-up";
    case InputState::looking:
      return "looking at the glass, input off";
    case InputState::running:
      return "input on";
    case InputState::waiting:
      return "input off, waiting for a bare glass";
    case InputState::off:
      return "input off until the next power-up";
    case InputState::service:
      return "input off, asking for a technician";
    case InputState::paused:
      return "input off until its cause is gone";
  }
  return "unknown";
}

namespace {

std::string at(const JournalEntry& e) {
  return e.row == kNoLine ? std::string() : fmt::format(" at row {}, column {}", e.row, e.col);
}

// "41 counts (1.2 % of a finger)"
std::string counts(std::int32_t value, const Settings& s) {
  return fmt::format("{} counts ({} of a finger)", value, percent(value, s));
}

// "departs by 3392 counts (97 % of a finger) at row 6, column 4; the limit is 280 counts (8.0 %)"
std::string measured(const JournalEntry& e, const Settings& s) {
  // The entry's limit is that of the glass; lines and electrics are judged by limits of their own.
  const auto kind = static_cast<FindingKind>(e.detail);
  if (kind == FindingKind::none && e.limit == 0) return "saturated from the start";
  if (is_line_kind(kind) || is_electrical_kind(kind))
    return fmt::format("{} counts ({} of a finger){}", e.value, percent(e.value, s), at(e));
  return fmt::format("{} counts ({} of a finger){}; the limit is {} counts ({})", e.value,
                     percent(e.value, s), at(e), e.limit, percent(e.limit, s));
}

std::string kind(const JournalEntry& e) {
  switch (static_cast<FindingKind>(e.detail)) {
    case FindingKind::none:
      if (e.row != kNoLine) return "unsteady readings";
      return e.limit == 0 ? "no usable reading" : "nodes too different to tell";
    case FindingKind::unknown:
      return "something unidentified";
    case FindingKind::held_touch:
      return "something like a touch";
    case FindingKind::raised_plateau:
      return "an area that reads high";
    case FindingKind::lowered_plateau:
      return "an area that reads low";
    case FindingKind::border_band:
      return "a border that reads low";
    case FindingKind::two_sign_conductor:
      return "high and low readings side by side";
    case FindingKind::lone_node:
      return "a single node by itself";
    case FindingKind::drops:
      return "small spots that read high";
    case FindingKind::faint_film:
      return "a faint film";
    case FindingKind::open_line:
      return "a line that reads nothing";
    case FindingKind::cut_line:
      return "a line that is cut";
    case FindingKind::bridged_lines:
      return "two lines that read as one";
    case FindingKind::raised_resistance:
      return "a line that reads low all along";
    case FindingKind::tail_group:
      return "neighbouring lines that read low together";
    case FindingKind::intermittent_line:
      return "a line that comes and goes";
    case FindingKind::interference:
      return "noise in touched columns";
    case FindingKind::common_mode:
      return "rows that swing from frame to frame";
    case FindingKind::weak_coupling:
      return "a contact that is too weak for its width";
    case FindingKind::supply_sag:
      return "all nodes lower than they were";
  }
  return fmt::format("finding {}, unknown to this version", static_cast<int>(e.detail));
}

std::string start_event(const JournalEntry& e, const Settings& s) {
  switch (e.code) {
    case JournalCode::power_up:
      return fmt::format("The panel was powered up. Policy for an object on the glass: {}.",
                         policy(static_cast<StartPolicy>(e.value)));
    case JournalCode::settled:
      return fmt::format("The front end has settled (frames dropped: {}, for at least {} ms).",
                         e.value, e.limit);
    case JournalCode::sampled:
      return fmt::format("A look at the glass ended; the least steady node moved by {}.",
                         measured(e, s));
    case JournalCode::glass_bare:
      return fmt::format("The glass is bare. Largest departure: {}.", measured(e, s));
    case JournalCode::glass_not_bare:
      return fmt::format("The glass is not bare ({}): {}.", kind(e), measured(e, s));
    case JournalCode::unsettled:
      return fmt::format(
          "The front end still drifts: {} from one comparison to the next; the limit "
          "is {}. Looking at the glass all the same.",
          counts(e.value, s), counts(e.limit, s));
    case JournalCode::start_saturated:
      return fmt::format(
          "No usable frame for {:.1f} s, all saturated (limit {:.1f} s): the glass can't be "
          "judged.",
          e.value / 1000.0, e.limit / 1000.0);
    case JournalCode::spread_hides:
      return fmt::format(
          "The glass can't be judged without a factory reference: the panel's nodes differ so much "
          "that only what exceeds {} would show; the limit for that is {}.",
          counts(e.value, s), counts(e.limit, s));
    case JournalCode::seen_from:
      return fmt::format(
          "Without a factory reference, whatever changes a node by {} or more is seen.",
          counts(e.value, s));
    case JournalCode::unsteady:
      return fmt::format("The glass was not steady during the look: {}.", measured(e, s));
    case JournalCode::input_on:
      return fmt::format("Input was switched on (looks taken: {}).", e.value);
    case JournalCode::waiting:
      return e.limit == 0 ? std::string("Input stays off; looking again until the glass is bare.")
                          : fmt::format("Input stays off; looking again for {} s at most.",
                                        e.limit / 1000.0);
    case JournalCode::wait_over:
      return fmt::format("Waited {} s in vain (looks taken: {}).", e.limit / 1000.0, e.value);
    case JournalCode::adopted:
      return fmt::format("The object was taken into the baseline: {}.", measured(e, s));
    case JournalCode::service_entered:
      return fmt::format("Set-up mode was entered, input stays off: {}.", measured(e, s));
    default:
      return {};
  }
}

std::string run_event(const JournalEntry& e, const Settings& s) {
  switch (e.code) {
    case JournalCode::input_off:
      return fmt::format("Input was switched off ({}): {}.", kind(e), measured(e, s));
    case JournalCode::finding_began:
      return fmt::format("Found: {}, {}.", kind(e), measured(e, s));
    case JournalCode::finding_ended:
      return fmt::format("Gone: {}, last seen with {}.", kind(e), measured(e, s));
    case JournalCode::contact_judged:
      if (static_cast<FindingKind>(e.detail) == FindingKind::lowered_plateau ||
          static_cast<FindingKind>(e.detail) == FindingKind::border_band)
        return fmt::format(
            "A hand, or something as large, lay on the glass for {:.1f} s (limit {:.1f} s).",
            e.value / 1000.0, e.limit / 1000.0);
      return fmt::format(
          "A contact stood still for {:.1f} s (limit {:.1f} s): taken for an object.",
          e.value / 1000.0, e.limit / 1000.0);
    case JournalCode::object_lifted:
      return fmt::format(
          "What was in the baseline has been taken away ({}); the baseline is taken anew.",
          measured(e, s));
    case JournalCode::baseline_disproved:
      return fmt::format(
          "The factory reference shows that the baseline is wrong ({}); it is taken anew.",
          measured(e, s));
    case JournalCode::phantom_held_back:
      return fmt::format("A touch that nobody made was held back: {}.", measured(e, s));
    case JournalCode::palm_held_back:
      return fmt::format("A palm lies on the glass; touches are held back until it is lifted: {}.",
                         measured(e, s));
    default:
      return {};
  }
}

std::string stream_event(const JournalEntry& e) {
  switch (e.code) {
    case JournalCode::frames_missing:
      return fmt::format("{} frames are missing.", e.value);
    case JournalCode::stamp_backward:
      return fmt::format("The time stamp went back by {} ms; frame left out.", e.value);
    case JournalCode::stamp_ahead:
      return fmt::format("The time stamp went ahead by {} ms ({} allowed); frame left out.",
                         e.value, e.limit);
    case JournalCode::clock_restarted:
      return fmt::format(
          "The clock goes on {} ms {}: contacts lift, and the panel looks at its glass anew.",
          std::abs(std::int64_t{e.value}), e.value < 0 ? "earlier" : "later");
    case JournalCode::frames_unwatched:
      return fmt::format(
          "No frame could be read for {} ms; {} allowed. What was touched or waited for before "
          "does not count.",
          e.value, e.limit);
    case JournalCode::frames_unread:
      return fmt::format(
          "{} frames in a row were of another shape or the same scan again: contacts lift, and the "
          "panel looks at its glass anew.",
          e.value);
    case JournalCode::sequence_back:
      return fmt::format("The frame count went back by {} while time went on.", e.value);
    case JournalCode::frame_saturated:
      return fmt::format("A frame is spoiled: {} nodes at the converter's limits, {} allowed.",
                         e.value, e.limit);
    case JournalCode::regions_overflow:
      return fmt::format("More separate areas than can be followed ({} left out; {} fit).", e.value,
                         e.limit);
    case JournalCode::findings_overflow:
      return fmt::format(
          "More findings than the list holds ({} left out; {} fit); the weightiest left out: {}{}.",
          e.value, e.limit, kind(e), at(e));
    case JournalCode::lines_overflow:
      return fmt::format("More faulty lines than the list holds ({} left out; {} fit).", e.value,
                         e.limit);
    case JournalCode::joined_midway:
      return "The dump begins on a running panel.";
    case JournalCode::line_held_back:
      if (static_cast<FindingKind>(e.detail) == FindingKind::bridged_lines)
        return fmt::format(
            "Contacts on two lines that read as one are held back: {:.1f} % of what told them "
            "apart is left; the limit is {:.1f} %.",
            e.value / 10.0, e.limit / 10.0);
      return fmt::format(
          "Contacts on a faulty line are held back: it lost {:.1f} % of its reading; the limit is "
          "{:.1f} %.",
          e.value / 10.0, e.limit / 10.0);
    case JournalCode::interference_held_back:
      return fmt::format(
          "Contacts in a noisy column are held back: noise of {} counts along it; the limit is {}.",
          e.value, e.limit);
    case JournalCode::supply_low:
      return fmt::format("The device reads a supply of {} mV; the limit is {} mV.", e.value,
                         e.limit);
    case JournalCode::wrong_shape:
      return fmt::format("A frame had {} nodes instead of {}.", e.value, e.limit);
    default:
      return fmt::format("Entry with code {}, value {}, limit {}.", static_cast<int>(e.code),
                         e.value, e.limit);
  }
}

}  // namespace

std::string event(const JournalEntry& e, const Settings& s) {
  std::string sentence = start_event(e, s);
  if (sentence.empty()) sentence = run_event(e, s);
  return sentence.empty() ? stream_event(e) : sentence;
}

std::string times_count_from(const Account& a) {
  if (a.kind != DumpKind::from_power_up)
    return a.runs.size() > 1 ? "Times count from the first frame of each run."
                             : "Times count from the first frame.";
  return a.runs.size() > 1 ? "Times count from the power-up of each run."
                           : "Times count from the power-up.";
}

std::string powered_up_often(const Account& a) {
  if (a.power_ups > 1)
    return fmt::format("The unit was powered up {} times within this dump.", a.power_ups);
  if (a.runs.size() < 2) return {};
  return fmt::format("The unit started again within this dump: it holds {} runs.", a.runs.size());
}

std::string picture_title(DecisiveMoment::Against against, const std::string& time) {
  switch (against) {
    case DecisiveMoment::Against::reference:
      return fmt::format("What the panel sensed at {}, against the factory reference", time);
    case DecisiveMoment::Against::smoothness:
      return fmt::format("What the panel sensed at {}, against the panel's own smoothness", time);
    case DecisiveMoment::Against::baseline:
      break;
  }
  return fmt::format("What the panel sensed at {}, against the baseline", time);
}

}  // namespace bareglass::host::text
