#include "parts.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/present/page_words.hpp"
#include "bareglass/words/reconstruction_words.hpp"
#include "bareglass/words/text.hpp"
#include "maps.hpp"
#include "timeline.hpp"

namespace bareglass::host::report {

namespace {

constexpr std::size_t kMostCauses = 3;
constexpr std::size_t kMostReasons = 7;  // of the first cause
constexpr std::size_t kFewReasons = 1;   // of the others
constexpr std::size_t kChainHead = 5;
constexpr std::size_t kChainTail = 3;
constexpr std::size_t kLongChain = 60;  // power-ups without end would fill pages
constexpr std::size_t kMostNotes = 4;
constexpr std::size_t kNoteBytes = 160;

void fact(Html& p, const char* name, const std::string& value) {
  p.element("dt", name);
  p.element("dd", value);
}

bool tells(const JournalEntry& e, const Account& a) {
  switch (e.code) {
    case JournalCode::sampled:
    case JournalCode::frames_missing:
    case JournalCode::finding_began:
      return false;
    case JournalCode::power_up:
    case JournalCode::settled:
      // On a dump that starts midway the replay's own power-up is not an event of the device.
      return a.kind == DumpKind::from_power_up;
    default:
      return true;
  }
}

void chain_row(Html& p, const std::string& when, const std::string& what) {
  p.open("tr");
  p.element("td", when, "class=\"t\"");
  p.element("td", what);
  p.close();
}

// Entries of one code that follow each other: the first is told, the others are counted.
struct Told {
  const JournalEntry* first;
  const JournalEntry* last;
  std::size_t more = 0;
};

std::vector<Told> told_entries(const Account& a) {
  std::vector<Told> told;
  for (const JournalEntry& e : a.events) {
    if (!tells(e, a)) continue;
    if (!told.empty() && told.back().first->code == e.code) {
      told.back().last = &e;
      ++told.back().more;
    } else {
      told.push_back({&e, &e});
    }
  }
  return told;
}

// The first and the last entries; of those between them only power-ups, which begin a new story.
bool is_shown(const std::vector<Told>& told, std::size_t i) {
  if (told.size() <= kChainHead + kChainTail) return true;
  if (i < kChainHead || i >= told.size() - kChainTail) return true;
  return told[i].first->code == JournalCode::power_up && told.size() <= kLongChain;
}

void hidden_row(Html& p, std::size_t hidden) {
  if (hidden > 0)
    chain_row(p, "", fmt::format("({} more: bareglass explain --all-events)", hidden));
}

void chain(Html& p, const Account& a) {
  const std::vector<Told> told = told_entries(a);
  std::size_t hidden = 0;
  p.open("table");
  for (std::size_t i = 0; i < told.size(); ++i) {
    if (!is_shown(told, i)) {
      ++hidden;
      continue;
    }
    hidden_row(p, hidden);
    hidden = 0;
    std::string what = text::event(*told[i].first, a.settings);
    if (told[i].more > 0)
      what += fmt::format(" ({} more of this kind until {}.)", told[i].more,
                          text::moment(told[i].last->t_us, a));
    chain_row(p, text::moment(told[i].first->t_us, a), what);
  }
  p.close();
  p.element("p", text::times_count_from(a));
}

void reasons(Html& p, const char* name, const std::vector<std::string>& all, std::size_t most) {
  if (all.empty()) return;
  p.element("h3", name);
  p.open("ul");
  for (std::size_t i = 0; i < all.size() && i < most; ++i) p.element("li", all[i]);
  if (all.size() > most)
    p.element("li", fmt::format("({} more: bareglass explain)", all.size() - most));
  p.close();
}

// At most `bytes`, cut between code points.
std::string shortened(const std::string& text, std::size_t bytes) {
  if (text.size() <= bytes) return text;
  std::size_t end = bytes;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) --end;
  return text.substr(0, end) + " \xE2\x80\xA6";
}

// The simulator writes the truth into its dumps for those who score the answers.
bool is_for_readers(const NoteRecord& note) { return note.text.rfind("truth: ", 0) != 0; }

}  // namespace

void place_facts(Html& p, const CauseFound& c, const Account& a) {
  if (c.has_place)
    fact(p, "Where",
         fmt::format("{}; {}; {}", text::lines(c.box), text::place_mm(c.box, a.settings),
                     text::size_mm(c.box, a.settings)));
  if (c.reconstruction) {
    fact(p, "Size", text::size(*c.reconstruction));
    const std::string way = text::way_to_earth(*c.reconstruction);
    if (!way.empty()) fact(p, "To earth", way);
    fact(p, "Left over", text::left_over(*c.reconstruction));
  }
  if (c.lines) fact(p, "Lines", lines_found(*c.lines));
  if (c.cause == Cause::bare_glass || c.cause == Cause::not_enough) return;
  fact(p, "When",
       c.ended
           ? fmt::format("from {} to {}", text::moment(c.first_us, a), text::moment(c.ended_us, a))
           : fmt::format("from {} to the end of the dump", text::moment(c.first_us, a)));
}

void course(Html& p, const Account& a, const Diagnosis& d) {
  p.element("h2", "What happened when");
  p.raw(timeline(a, d));
}

namespace {

void cause_evidence(Html& p, const CauseFound& c, const Account& a, std::size_t number) {
  p.element("h3", fmt::format("{}. {} ({})", number, text::title(c), sureness(c)));
  if (number > 1) {
    p.element("p", c.headline);
    p.open("dl", "class=\"facts\"");
    place_facts(p, c, a);
    p.close();
  }
  const std::size_t most = number == 1 ? kMostReasons : kFewReasons;
  reasons(p, "Speaks for it", c.speaks_for, most);
  reasons(p, "Speaks against it", c.speaks_against, most);
}

void further_causes(Html& p, const Account& a, const Diagnosis& d) {
  if (d.causes.size() < 2) return;
  p.element("h2", "Also found");
  for (std::size_t i = 1; i < d.causes.size() && i < kMostCauses; ++i)
    cause_evidence(p, d.causes[i], a, i + 1);
  if (d.causes.size() > kMostCauses)
    p.element("p",
              fmt::format("({} more: bareglass explain --json)", d.causes.size() - kMostCauses));
}

}  // namespace

void evidence(Html& p, const Account& a, const Diagnosis& d) {
  p.open("div", "class=\"columns\"");
  p.open("section");
  p.element("h2", "Chain of decisions");
  chain(p, a);
  p.close();
  p.open("section");
  p.element("h2", "Evidence");
  cause_evidence(p, d.causes.front(), a, 1);
  further_causes(p, a, d);
  p.close();
  p.close();
}

void scene_maps(Html& p, const Account& a, const Diagnosis& d) {
  const std::vector<HeatMap> maps = scene_pictures(a, d);
  if (maps.empty()) return;
  p.element("h2", "Measured, predicted, left over");
  p.open("div", "class=\"maps\"");
  for (const HeatMap& map : maps) {
    p.open("figure");
    p.open("figcaption");
    p.element("b", map.title);
    p.text(map.unit == HeatMap::Unit::noise ? "In units of noise." : "In percent of a finger.");
    p.close();
    p.raw(difference_map(map));
    p.close();
  }
  p.close();
}

void before_after(Html& p, const BeforeAfter& comparison) {
  p.element("h2", "Before and after the work");
  p.open("p");
  p.element("b", comparison.accepted ? "ACCEPTED." : "NOT ACCEPTED.");
  p.text(" " + comparison.verdict);
  p.close();
  if (!comparison.dump.empty())
    p.element("p", fmt::format("Dump from after the work: {}", plain::harmless(comparison.dump)));
  p.open("table");
  p.open("tr");
  for (const char* name : {"What", "Before", "After", "Limit", "Kept"}) p.element("th", name);
  p.close();
  for (const BeforeAfter::Line& line : comparison.lines) {
    p.open("tr");
    for (const std::string* cell : {&line.what, &line.before, &line.after, &line.limit})
      p.element("td", *cell);
    p.element("td", line.met ? "yes" : "NO");
    p.close();
  }
  p.close();
}

void unknowns(Html& p, const Account& a, const Diagnosis& d) {
  if (!d.cannot_tell.empty()) {
    p.element("h2", "What this dump can't tell");
    p.open("ul");
    for (const std::string& line : d.cannot_tell) p.element("li", line);
    p.close();
  }
  std::size_t told = 0;
  for (const NoteRecord& note : a.notes) {
    if (!is_for_readers(note) || told == kMostNotes) continue;
    if (told++ == 0) {
      p.element("h2", "Notes in the dump");
      p.open("ul");
    }
    p.element("li", shortened(note.text, kNoteBytes));
  }
  if (told > 0) p.close();
}

void basis(Html& p, const Account& a, const ReportExtras& extras) {
  const Settings& s = a.settings;
  p.open("p", "class=\"foot\"");
  p.text(fmt::format(
      "Rests on {} frames in {:.1f} s, {} rows x {} columns, pitch {:.1f} x {:.1f} mm, a finger "
      "{} counts. Frames missing: {}; damaged packets: {}; spoiled frames: {}. ",
      a.frames, static_cast<double>(a.last_us - a.first_us) / 1e6, s.shape.rows, s.shape.cols,
      s.pitch_row_um / 1000.0, s.pitch_col_um / 1000.0, s.finger_counts, a.stats.frames_missing,
      a.stats.damaged_packets, a.frames_saturated));
  p.text(fmt::format(
      "Limits in percent of a finger: object on the glass {:.1f} with and {:.1f} without a factory "
      "reference, unsteady {:.1f}, touch on {:.1f}, off {:.1f}; a touch counts as held after "
      "{:.1f} s. {} Settings mark {:08x}. ",
      s.surface_permille / 10.0, s.smooth_permille / 10.0, s.unsteady_permille / 10.0,
      s.touch_on_permille / 10.0, s.touch_off_permille / 10.0, s.held_ms / 1000.0,
      text::start_policy(a), settings_mark(s)));
  if (!extras.program.empty()) p.text(fmt::format("Written by {}. ", extras.program));
  p.text("This page explains a touch panel; it does not release a device.");
  p.close();
}

}  // namespace bareglass::host::report
