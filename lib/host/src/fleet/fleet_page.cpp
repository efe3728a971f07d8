#include <fmt/format.h>

#include "bareglass/host/plain_text.hpp"
#include "fleet_format.hpp"

namespace bareglass::host {

namespace {

std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : harmless(text)) {
    if (c == '&')
      out += "&amp;";
    else if (c == '<')
      out += "&lt;";
    else if (c == '>')
      out += "&gt;";
    else if (c == '"')
      out += "&quot;";
    else
      out += c;
  }
  return out;
}

std::string row(const char* tag, const std::vector<std::string>& cells) {
  std::string out = "<tr>";
  for (const std::string& cell : cells) out += fmt::format("<{0}>{1}</{0}>", tag, escaped(cell));
  return out + "</tr>\n";
}

std::string table(const std::string& heading, const std::vector<std::string>& names,
                  const std::string& rows) {
  return fmt::format("<h2>{}</h2>\n<table>\n<thead>\n{}</thead>\n<tbody>\n{}</tbody>\n</table>\n",
                     escaped(heading), row("th", names), rows);
}

std::string list(const std::string& heading, const std::vector<std::string>& lines) {
  if (lines.empty()) return {};
  std::string out = fmt::format("<h2>{}</h2>\n<ul>\n", escaped(heading));
  for (const std::string& line : lines) out += fmt::format("<li>{}</li>\n", escaped(line));
  return out + "</ul>\n";
}

std::string unit_rows(const Fleet& f) {
  std::string rows;
  for (const FleetUnit& u : f.units) {
    const bool known = u.row.has_value();
    rows += row("td", {u.unit, known ? u.row->ward : "?", known ? u.row->date : "?",
                       known ? name_of(u.row->taped) : "?", name_of(u.start_up), name_of(u.cause),
                       fmt::format("{:.0f} %", 100.0 * u.confidence)});
  }
  return rows;
}

std::string share_row(const std::string& name, const Share& s) {
  return row("td", {name, fmt::format("{} of {}", s.hits, s.of), share_words(s)});
}

std::string taping(const Fleet& f) {
  const auto counts = [](const char* name, std::uint32_t failed, std::uint32_t on) {
    return row("td", {name, fmt::format("{}", failed), fmt::format("{}", on)});
  };
  std::string rows = counts("taped", f.table.a, f.table.b);
  rows += counts("not taped", f.table.c, f.table.d);
  rows += counts("not known (not counted)", f.taped_unknown_failed, f.taped_unknown_on);
  std::string out =
      table("Taping and failing at power-up", {"one count a unit", "failed", "on"}, rows);
  for (const std::string& sentence : association_words(f))
    out += fmt::format("<p>{}</p>\n", escaped(sentence));
  return out;
}

}  // namespace

std::string fleet_page(const Fleet& f) {
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>Units in "
      "{}</title>\n<style>body{{font-family:sans-serif;max-width:60em;margin:2em "
      "auto;padding:0 1em;color:#1a1a1a}}table{{border-collapse:collapse}}td,th{{border-bottom:1px "
      "solid #c8c8c8;padding:.3em .8em;text-align:left}}</style>\n</head>\n<body>\n<h1>Units in "
      "{}</h1>\n",
      escaped(f.folder), escaped(f.folder));
  out +=
      table("Units", {"unit", "ward", "date", "taped", "start-up", "cause", "sure"}, unit_rows(f));
  std::string rows;
  for (const auto& [cause, share] : f.causes) rows += share_row(name_of(cause), share);
  out += table("How often each cause", {"cause", "units", "share"}, rows);
  rows.clear();
  for (const auto& [ward, share] : f.wards) rows += share_row(ward, share);
  out += table("Failed at power-up, by ward", {"ward", "units", "share"}, rows);
  out += taping(f);
  std::vector<std::string> lines;
  for (const FleetDump& d : f.unreadable) lines.push_back(d.file + ": " + d.error);
  out += list("Dumps that can't be read", lines);
  out += list("Dumps without a row in units.csv", f.without_row);
  lines.clear();
  for (const UnitRow& r : f.without_dump) lines.push_back(r.unit);
  out += list("Rows of units.csv without a readable dump", lines);
  out += list("Files left out: no dumps by their ending", f.left_out);
  return out + "</body>\n</html>\n";
}

}  // namespace bareglass::host
