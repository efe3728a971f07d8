#include <fmt/format.h>

#include "bareglass/present/html.hpp"
#include "bareglass/present/page_style.hpp"
#include "bareglass/words/text.hpp"
#include "fleet_format.hpp"

namespace bareglass::host {

namespace {

using report::Html;
using Cells = std::vector<std::string>;

// Cells are text; what they hold may come from outside.
void row(Html& p, const char* tag, const Cells& cells) {
  p.open("tr");
  for (const std::string& cell : cells) p.element(tag, cell);
  p.close();
}

// The caller writes the rows and closes two elements.
void begin_table(Html& p, const std::string& heading, const Cells& names, const char* attributes) {
  p.element("h2", heading);
  p.open("table", attributes);
  p.open("thead");
  row(p, "th", names);
  p.close();
  p.open("tbody");
}

void end_table(Html& p) {
  p.close();
  p.close();
}

void list(Html& p, const std::string& heading, const std::vector<std::string>& lines) {
  if (lines.empty()) return;
  p.element("h2", heading);
  p.open("ul");
  for (const std::string& line : lines) p.element("li", line);
  p.close();
}

void unit_table(Html& p, const Fleet& f) {
  begin_table(p, "Units", {"Unit", "Ward", "Date", "Taped", "Start-up", "Cause", "Sure"},
              "class=\"units\"");
  for (const FleetUnit& u : f.units) {
    const bool known = u.row.has_value();
    row(p, "td",
        {u.unit, known ? u.row->ward : "?", known ? u.row->date : "?",
         known ? name_of(u.row->taped) : "?", name_of(u.start_up), title_of(u.cause),
         fmt::format("{:.0f} %", 100.0 * u.confidence)});
  }
  end_table(p);
}

// The share as a bar from 0 to 100 %, its 95 % interval as a line with ends: a long line over a
// short bar shows at a glance that few units were counted.
std::string share_picture(const Share& s) {
  if (s.of == 0) return {};
  constexpr double kWidth = 200.0;
  const double share = kWidth * s.hits / s.of;
  const double low = kWidth * s.interval.low, high = kWidth * s.interval.high;
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"-2 0 204 16\" role=\"img\" "
      "aria-label=\"{}\"><rect x=\"0\" y=\"1\" width=\"200\" height=\"14\" fill=\"#f2f2f2\" "
      "stroke=\"#8a8a8a\" stroke-width=\"0.8\"/><rect x=\"0\" y=\"1\" width=\"{:.1f}\" "
      "height=\"14\" fill=\"#8a8a8a\"/><path d=\"M{:.1f} 8H{:.1f}M{:.1f} 4v8M{:.1f} 4v8\" "
      "stroke=\"#111111\" stroke-width=\"1.6\" fill=\"none\"/></svg>",
      share_words(s), share, low, high, low, high);
}

void share_row(Html& p, const std::string& name, const Share& s) {
  p.open("tr");
  p.element("td", name);
  p.element("td", fmt::format("{} of {}", s.hits, s.of));
  p.open("td", "class=\"share\"");
  p.raw(share_picture(s));
  p.close();
  p.element("td", share_words(s));
  p.close();
}

void share_tables(Html& p, const Fleet& f) {
  begin_table(p, "How often each cause", {"Cause", "Units", "", "Share"}, "class=\"shares\"");
  for (const auto& [cause, share] : f.causes) share_row(p, title_of(cause), share);
  end_table(p);
  if (!f.off.empty()) {
    begin_table(p, "Why input was off, of the units that failed at power-up",
                {"Reason", "Units", "", "Share"}, "class=\"shares\"");
    for (const auto& [why, share] : f.off) share_row(p, off_words(why), share);
    end_table(p);
  }
  begin_table(p, "Failed at power-up, by ward", {"Ward", "Units", "", "Share"}, "class=\"shares\"");
  for (const auto& [ward, share] : f.wards) share_row(p, ward, share);
  end_table(p);
  p.element("p",
            "Grey: the share. Line: where the true share may lie, 95 % interval after Wilson; the "
            "fewer units, the longer.",
            "class=\"small\"");
}

void taping(Html& p, const Fleet& f) {
  begin_table(p, "Taping and failing at power-up",
              {"One count for each unit", "Failed", "Input came on"}, "class=\"counts\"");
  const auto counts = [&](const char* name, std::uint32_t failed, std::uint32_t on) {
    row(p, "td", {name, fmt::format("{}", failed), fmt::format("{}", on)});
  };
  counts("taped", f.table.a, f.table.b);
  counts("not taped", f.table.c, f.table.d);
  if (f.taped_unknown_failed + f.taped_unknown_on > 0)
    counts("not known (not counted below)", f.taped_unknown_failed, f.taped_unknown_on);
  end_table(p);
  if (f.outcome_unknown > 0)
    p.element(
        "p", fmt::format("Start-up not known from the dump: {} (not counted).", f.outcome_unknown));
  if (f.adopted > 0) p.element("p", adopted_words(f));
  if (f.finger_not_stated > 0) p.element("p", finger_words(f));
  for (const std::string& sentence : association_words(f)) p.element("p", sentence);
}

}  // namespace

std::string fleet_page(const Fleet& f) {
  Html p;
  const std::string title = fmt::format("Touch panels in {}", f.folder);
  report::begin_page(p, title, report::kFleetStyle);
  p.element("h1", title);
  p.element("p", fmt::format("Units: {}. Dumps that can't be read: {}.", f.units.size(),
                             f.unreadable.size()));
  unit_table(p, f);
  share_tables(p, f);
  taping(p, f);
  std::vector<std::string> lines;
  for (const FleetDump& d : f.unreadable) lines.push_back(d.file + ": " + d.error);
  list(p, "Dumps that can't be read", lines);
  list(p, "Dumps that name another unit than their row in units.csv", f.contradictions);
  list(p, "Dumps without a row in units.csv", f.without_row);
  lines.clear();
  for (const UnitRow& r : f.without_dump) lines.push_back(r.unit);
  list(p, "Rows of units.csv without a readable dump", lines);
  list(p, "Files left out: no dumps by their ending", f.left_out);
  p.close();
  p.close();
  return p.take();
}

}  // namespace bareglass::host
