#include "bareglass/view/plain_words.hpp"

#include <fmt/format.h>

#include <cstdlib>

#include "bareglass/words/text.hpp"

namespace bareglass::view {

namespace {

// By number: the table of kinds grows, and a dump may hold a kind of a later version.
struct KindWords {
  int kind;
  const char* label;
  const char* meaning;  ///< behind a colon
};
constexpr KindWords kKinds[] = {
    {1, "finger, or grounded and as small",
     "a finger rests on it, or something grounded of that size"},
    {2, "damp note or wet patch", "something damp that has no way to ground, as a wet note"},
    {3, "wet film, hand or foil",
     "something wide that has a way to ground, as a wet film or a resting hand"},
    {4, "fluid at the bezel", "fluid stands along the edge of the glass"},
    {5, "wet streak or metal",
     "something that conducts from line to line, as a wet streak or a metal label"},
    {6, "something unknown", "something lies there that fits no kind"},
    {7, "single node: a fault", "one node reads wrong all by itself; that is a fault, no object"},
    {8, "thin dry film or residue", "a thin dry film or a residue"},
    {9, "drops", "drops"},
    {64, "dead line", "a line reads nothing at all"},
    {65, "cut line", "a line is cut"},
    {66, "joined lines", "two lines are joined"},
    {67, "weak line", "a line reads too little from end to end"},
    {68, "weak lines at the tail",
     "neighbouring lines read too little together: think of the tail"},
    {69, "line that comes and goes", "a line comes and goes"},
    {128, "noise in touched columns", "noise in the columns that are touched, as from a charger"},
    {129, "noise over whole rows", "noise over whole rows"},
    {130, "touches too weak", "touches come through too weakly: think of the way to earth"},
    {131, "supply sags", "every node reads low: the supply sags"},
};

const KindWords* find(int kind) {
  for (const KindWords& words : kKinds)
    if (words.kind == kind) return &words;
  return nullptr;
}

std::string cause(const JournalEntry& e) {
  if (e.detail == 0 && e.row == kNoLine)
    return e.limit == 0 ? "there was no usable reading"
                        : "the nodes differ too much to tell what lies there";
  if (e.detail == 0) return "the readings do not stand still";
  const KindWords* words = find(e.detail);
  return words != nullptr ? words->meaning : "something that this program has no word for";
}

std::string share(std::int32_t counts, const Settings& s) {
  return host::text::percent(std::abs(counts), s);
}

// "Row 6, column 3 reads 13 % of a finger, the other way; 8.0 % is allowed."
std::string reads(const JournalEntry& e, const Settings& s) {
  if (e.detail == 0 && e.limit == 0) return "All readings stand at the end of their range.";
  const std::string place =
      e.row == kNoLine ? "A node" : fmt::format("Row {}, column {}", e.row, e.col);
  return fmt::format("{} reads {} of a finger{}; {} is allowed.", place, share(e.value, s),
                     e.value < 0 ? ", the other way" : "", share(e.limit, s));
}

const char* policy_words(std::int32_t policy) {
  switch (static_cast<StartPolicy>(policy)) {
    case StartPolicy::lock:
      return "If its glass is not bare, input stays off until the next power-up.";
    case StartPolicy::wait:
      return "If its glass is not bare, it waits and looks again.";
    case StartPolicy::adopt:
      return "If its glass is not bare, it takes what lies there for part of the glass.";
    case StartPolicy::service:
      return "If its glass is not bare, it asks for a technician.";
  }
  return "What it does if its glass is not bare is not known.";
}

std::string start_event(const JournalEntry& e, const Settings& s) {
  switch (e.code) {
    case JournalCode::power_up:
      return fmt::format("The unit was switched on. {}", policy_words(e.value));
    case JournalCode::settled:
      return "The electronics have settled.";
    case JournalCode::sampled:
      return fmt::format("A look at the glass ended. The least steady: {}", reads(e, s));
    case JournalCode::glass_bare:
      return fmt::format(
          "The glass is bare: nothing reads more than {} of a finger; {} is allowed.",
          share(e.value, s), share(e.limit, s));
    case JournalCode::glass_not_bare:
      return fmt::format("The glass is not bare: {}. {}", cause(e), reads(e, s));
    case JournalCode::unsettled:
      return "The electronics have not settled yet; it looks at the glass all the same.";
    case JournalCode::start_saturated:
      return fmt::format(
          "For {:.1f} s no reading could be used: all stand at the end of their range.",
          e.value / 1000.0);
    case JournalCode::spread_hides:
      return fmt::format(
          "Whether the glass is bare can't be said: its nodes differ so much that only what "
          "exceeds "
          "{} of a finger would show; {} is allowed. Store a factory reference.",
          share(e.value, s), share(e.limit, s));
    case JournalCode::seen_from:
      return fmt::format("There is no factory reference: things are seen from {} of a finger on.",
                         share(e.value, s));
    case JournalCode::unsteady:
      return fmt::format(
          "Nothing stood still while it looked, as if something moved. At row {}, column {} the "
          "reading moved by {} of a finger; {} is allowed.",
          e.row, e.col, share(e.value, s), share(e.limit, s));
    case JournalCode::input_on:
      return e.value == 1 ? std::string("Input was switched on.")
                          : fmt::format("Input was switched on, after {} looks.", e.value);
    case JournalCode::waiting:
      return e.limit == 0 ? std::string("Input stays off. It looks again until the glass is bare.")
                          : fmt::format("Input stays off. It looks again, for {} s at most.",
                                        e.limit / 1000.0);
    case JournalCode::wait_over:
      return fmt::format("It waited {} s for a bare glass, in vain.", e.limit / 1000.0);
    case JournalCode::adopted:
      return fmt::format("What lies there was taken for part of the glass. {}", reads(e, s));
    case JournalCode::service_entered:
      return fmt::format("Input stays off: the unit asks for a technician. {}", reads(e, s));
    default:
      return {};
  }
}

std::string run_event(const JournalEntry& e, const Settings& s) {
  switch (e.code) {
    case JournalCode::input_off:
      return fmt::format("Input was switched off: {}. {}", cause(e), reads(e, s));
    case JournalCode::finding_began:
      return fmt::format("Seen: {}. {}", cause(e), reads(e, s));
    case JournalCode::finding_ended:
      return fmt::format("No longer seen: {}.", cause(e));
    case JournalCode::object_lifted:
      return fmt::format(
          "Something that was taken for part of the glass has been taken away. The panel learns "
          "its bare glass anew. {}",
          reads(e, s));
    case JournalCode::baseline_disproved:
      return "The panel had learned a wrong picture of its bare glass; the factory's picture shows "
             "it. It learns it anew.";
    case JournalCode::phantom_held_back:
      return fmt::format("A touch that nobody made was not passed on. {}", reads(e, s));
    case JournalCode::palm_held_back:
      return "A palm lies on the glass. Touches are not passed on until it is lifted.";
    case JournalCode::interference_held_back:
      return fmt::format(
          "Column {} is noisy: new touches in it are not passed on. The noise is {} of a finger; "
          "{} is allowed.",
          e.col, share(e.value, s), share(e.limit, s));
    case JournalCode::line_held_back:
      return fmt::format("A line is at fault: {}. Touches on it are not passed on.", cause(e));
    default:
      return {};
  }
}

std::string lines_words(const LinePlace& lines) {
  const char* one = lines.of_rows ? "row" : "column";
  if (lines.first == lines.last) return fmt::format("{} {}", one, lines.first);
  return fmt::format("{}s {} {} {}", one, lines.first, lines.last == lines.first + 1 ? "and" : "to",
                     lines.last);
}

std::string line_label(const Finding& f) {
  const std::string which = lines_words(f.lines);
  const bool several = f.lines.first != f.lines.last;
  switch (f.kind) {
    case FindingKind::open_line:
      return which + (several ? " read nothing" : " reads nothing");
    case FindingKind::cut_line:
      return which + (several ? " are cut: a crack" : " is cut");
    case FindingKind::bridged_lines:
      return which + " are joined";
    case FindingKind::raised_resistance:
      return which + (several ? " are weak" : " is weak from end to end");
    case FindingKind::tail_group:
      return which + " are weak: tail";
    case FindingKind::intermittent_line:
      return which + (several ? " come and go" : " comes and goes");
    default:
      return which;
  }
}

}  // namespace

const char* words_of(FindingKind kind) {
  const KindWords* words = find(static_cast<int>(kind));
  return words != nullptr ? words->label : "something unknown";
}

std::string label_of(const Finding& f, const Settings& s) {
  if (is_line_kind(f.kind) && f.lines.first != kNoLine) return line_label(f);
  if (is_in_permille(f.kind)) return words_of(f.kind);
  // The sign says which way: minus is the other way than a touch.
  return fmt::format("{}: {}", words_of(f.kind), host::text::percent(f.peak, s));
}

std::string plain_event(const JournalEntry& e, const Settings& s) {
  std::string sentence = start_event(e, s);
  if (sentence.empty()) sentence = run_event(e, s);
  return sentence.empty() ? host::text::event(e, s) : sentence;
}

const char* plain_state(InputState state, StartPolicy policy) {
  const bool comes_back = policy == StartPolicy::wait || policy == StartPolicy::adopt;
  switch (state) {
    case InputState::unpowered:
      return "switched off";
    case InputState::settling:
      return "input off, electronics settle";
    case InputState::looking:
      return "input off, looking at the glass";
    case InputState::running:
      return "input on";
    case InputState::waiting:
      return "input off until the glass is bare";
    case InputState::off:
      return "input off until the next power-up";
    case InputState::service:
      return "input off, asks for a technician";
    case InputState::paused:
      return comes_back ? "input off while the cause lasts" : "input off until the next power-up";
  }
  return "";
}

}  // namespace bareglass::view
