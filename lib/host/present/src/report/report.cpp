#include "bareglass/present/report.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/present/html.hpp"
#include "bareglass/present/page_style.hpp"
#include "bareglass/present/page_words.hpp"
#include "bareglass/words/text.hpp"
#include "maps.hpp"
#include "parts.hpp"

namespace bareglass::host {

namespace {

using report::Html;

void fact(Html& p, const char* name, const std::string& value) {
  p.element("dt", name);
  p.element("dd", value);
}

void head(Html& p, const Account& a, const ReportExtras& extras) {
  p.open("div", "class=\"head\"");
  const auto item = [&](const char* name, const std::string& value) {
    if (value.empty()) return;
    p.open("span");
    p.text(fmt::format("{} ", name));
    p.element("b", value);
    p.close();
  };
  item("Unit", a.panel.unit_id.empty() ? "not named in the dump" : a.panel.unit_id);
  item("Panel", a.panel.panel_name);
  item("Firmware", a.panel.firmware);
  item("Dump", plain::harmless(extras.dump));
  item("Dump stored", extras.dump_date);
  item("Report written", extras.written_on);
  p.close();
}

void verdict(Html& p, const Account& a, const Diagnosis& d) {
  p.open("section", "class=\"verdict\"");
  p.element("div", report::badge(a), "class=\"badge\"");
  p.element("h1", d.causes.front().headline);
  p.element("p", d.answer);
  const CauseFound& c = d.causes.front();
  p.open("dl", "class=\"facts\"");
  report::place_facts(p, c, a);
  fact(p, "How sure", report::sureness(c));
  p.close();
  p.close();
}

// A level picture and its caption; both levels share one scale of grey.
void level(Html& p, const HeatMap& map, const std::vector<std::uint16_t>& counts, int low, int high,
           const std::string& name) {
  if (counts.size() != map.counts.size()) return;
  p.open("figure");
  p.open("figcaption");
  p.element("b", name);
  p.close();
  p.raw(report::level_map(map, counts, low, high, name));
  p.close();
}

void levels(Html& p, const HeatMap& map, const DecisiveMoment& m) {
  if (m.raw.empty() || map.counts.empty()) return;
  const auto [low, high] = std::minmax_element(m.raw.begin(), m.raw.end());
  int least = *low, most = *high;
  if (!m.bare.empty()) {
    const auto [bare_low, bare_high] = std::minmax_element(m.bare.begin(), m.bare.end());
    least = std::min<int>(least, *bare_low);
    most = std::max<int>(most, *bare_high);
  }
  p.open("div", "class=\"pair\"");
  level(p, map, m.raw, least, most, "Raw");
  const std::string against =
      m.against == DecisiveMoment::Against::reference ? "Reference" : "Baseline";
  level(p, map, m.bare, least, most, against);
  p.close();
  p.open("figcaption");
  p.text(fmt::format("Grey: counts, from {} (dark) to {} (light).", least, most));
  if (m.against == DecisiveMoment::Against::reference && !m.bare.empty())
    p.text(" Reference: the bare panel as measured in the factory.");
  p.close();
}

void pictures(Html& p, const HeatMap& map, const Account& a, bool tall) {
  p.open("div", "class=\"pictures\"");
  p.open("figure", "class=\"main\"");
  p.open("figcaption");
  p.element("b", map.title);
  p.text("In percent of a finger; rows and columns are numbered.");
  p.close();
  p.raw(report::difference_map(map));
  p.close();
  p.open("div", "class=\"side\"");
  p.open("figure");
  p.raw(report::difference_scale(map));
  p.open("figcaption");
  p.text(
      fmt::format("Plain orange, +: as under a touch. Striped blue, \xE2\x88\x92: the opposite. "
                  "Numbers from {} on; the limit is {}.",
                  text::percent(map.limit / 2, a.settings), text::percent(map.limit, a.settings)));
  if (!map.outlines.empty())
    p.text(" The line is the outline as reconstructed, dashed how far it is known.");
  else if (map.mark)
    p.text(" The ring is the place named above.");
  p.close();
  p.close();
  if (!tall) levels(p, map, a.decisive);
  p.close();
  p.close();
}

void step(Html& p, const NextStep& s) {
  p.open("li");
  p.text(s.text);
  const auto small = [&](const char* name, const std::string& words) {
    if (words.empty()) return;
    p.open("div", "class=\"small\"");
    p.element("b", name);
    p.text(" " + words);
    p.close();
  };
  small("Needed:", s.tools);
  small("Caution:", s.caution);
  small("Stop:", s.stop);
  p.close();
}

void to_do(Html& p, const Diagnosis& d) {
  p.element("h2", "What to do next, cheapest first");
  p.open("ol", "class=\"steps\"");
  for (const NextStep& s : d.next_steps) step(p, s);
  p.close();
  p.open("section", "class=\"cautions\"");
  p.element("h2", "Cautions");
  p.open("ul");
  for (const std::string& caution : d.cautions) p.element("li", caution);
  p.close();
  p.close();
}

void signature(Html& p) {
  p.open("div", "class=\"sign\"");
  p.element("span", "Work done by (name)");
  p.element("span", "Signature");
  p.element("span", "Date and time");
  p.element("span", "Work order");
  p.close();
}

// Pictures and steps stand side by side unless the panel is too broad for that. Many steps are set
// in smaller letters, so that the sheet still holds them.
void pictures_and_steps(Html& p, const Account& a, const Diagnosis& d) {
  const HeatMap map = explanation_picture(a, d);
  constexpr std::size_t kMuchText = 1400;
  std::size_t letters = 0;
  for (const std::string& line : d.cautions) letters += line.size();
  for (const NextStep& s : d.next_steps)
    letters += s.text.size() + s.tools.size() + s.caution.size() + s.stop.size();
  const bool tall = map.shape.rows * map.pitch_row_mm >= 0.9 * map.shape.cols * map.pitch_col_mm;
  p.open("div", fmt::format("class=\"first {}{}\"", tall ? "tall" : "wide",
                            letters > kMuchText ? " long" : ""));
  if (map.counts.empty())
    p.element("p", "This dump holds no picture of the decision.");
  else
    pictures(p, map, a, tall);
  p.open("div", "class=\"todo\"");
  to_do(p, d);
  if (tall) levels(p, map, a.decisive);
  p.close();
  p.close();
  signature(p);
}

}  // namespace

std::string report_html(const Account& a, const Diagnosis& diagnosis, const ReportExtras& extras) {
  Diagnosis d = diagnosis;
  if (d.causes.empty()) d.causes.emplace_back();
  Html p;
  const std::string unit = a.panel.unit_id.empty() ? "unit not named" : a.panel.unit_id;
  report::begin_page(p, fmt::format("Touch panel report: {}", unit), report::kReportStyle);
  p.raw(report::map_patterns());
  head(p, a, extras);
  verdict(p, a, d);
  pictures_and_steps(p, a, d);
  p.open("div", "class=\"page2\"");
  report::course(p, a, d);
  report::evidence(p, a, d);
  report::scene_maps(p, a, d);
  if (extras.before_after) report::before_after(p, *extras.before_after);
  report::unknowns(p, a, d);
  report::basis(p, a, extras);
  p.close();
  p.close();  // body
  p.close();  // html
  return p.take();
}

}  // namespace bareglass::host
