#include <fmt/format.h>

#include "bareglass/present/explanation.hpp"
#include "bareglass/present/html.hpp"
#include "bareglass/present/page_style.hpp"
#include "bareglass/present/page_words.hpp"
#include "bareglass/present/report.hpp"
#include "maps.hpp"

namespace bareglass::host {

namespace {

using report::Html;
using report::WardWords;

void sketch(Html& p, const HeatMap& map, const WardWords& words, bool marked) {
  p.open("figure");
  p.raw(report::glass_sketch(map, "The screen, seen from the front"));
  p.open("figcaption");
  if (marked) {
    p.element("b", fmt::format("Where: {}.", words.place));
    p.text("This is the screen, seen from the front. The ring marks what it noticed.");
  } else {
    p.text("The screen, seen from the front.");
  }
  p.close();
  p.close();
}

}  // namespace

std::string ward_page_html(const Account& a, const Diagnosis& d, const ReportExtras& extras) {
  const WardWords words = report::ward_words(a, d);
  Html p;
  report::begin_page(p, "The touch screen: what happened and what to do", report::kWardStyle);
  p.raw(report::map_patterns());
  p.element("h1", words.heading);
  const std::string unit = a.panel.unit_id.empty() ? std::string("Device: ____________________")
                                                   : "Device: " + a.panel.unit_id;
  p.element("p", extras.written_on.empty() ? unit : unit + ", " + extras.written_on,
            "class=\"unit\"");
  HeatMap map = explanation_picture(a, d);
  const bool marked = map.mark.has_value() && !words.place.empty();
  if (!marked) map.mark.reset();
  const bool broad = map.shape.cols * map.pitch_col_mm > 1.2 * map.shape.rows * map.pitch_row_mm;
  p.open("div", broad ? "class=\"both broad\"" : "class=\"both\"");
  if (!map.counts.empty() && marked) sketch(p, map, words, marked);
  p.open("div");
  p.element("h2", "What happened");
  for (const std::string& sentence : words.happened) p.element("p", sentence);
  p.element("p", words.sureness);
  p.close();
  p.close();
  p.element("h2", "What to do");
  p.open("ol");
  for (const std::string& step : words.to_do) p.element("li", step);
  p.close();
  p.element("p", "Never tape or lay anything over the screen. Hang notes beside the device.",
            "class=\"rule\"");
  p.element("p",
            "Your own rules and the technician's judgement come before this page. It explains a "
            "touch screen; it does not release a device.",
            "class=\"foot\"");
  p.close();
  p.close();
  return p.take();
}

}  // namespace bareglass::host
