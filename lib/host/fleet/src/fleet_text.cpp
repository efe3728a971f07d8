#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/plain/json_text.hpp"
#include "bareglass/plain/plain_text.hpp"
#include "bareglass/words/text.hpp"
#include "fleet_format.hpp"

namespace bareglass::host {

namespace {

using nlohmann::ordered_json;

std::string listed(const std::string& heading, const std::vector<std::string>& lines) {
  if (lines.empty()) return {};
  std::string out = fmt::format("\n{}\n", heading);
  for (const std::string& line : lines) out += plain::wrapped("  - ", line);
  return out;
}

// Rows of cells in columns as wide as their widest cell, each row starting with `lead`.
std::string columns(const char* lead, const std::vector<std::vector<std::string>>& rows) {
  std::vector<std::size_t> widths;
  for (const auto& row : rows) {
    widths.resize(std::max(widths.size(), row.size()));
    for (std::size_t c = 0; c < row.size(); ++c) widths[c] = std::max(widths[c], row[c].size());
  }
  std::string out;
  for (const auto& row : rows) {
    std::string line = lead;
    for (std::size_t c = 0; c < row.size(); ++c)
      line += fmt::format("{}{:<{}}", c == 0 ? "" : "  ", row[c], widths[c]);
    line.erase(line.find_last_not_of(' ') + 1);
    out += line + "\n";
  }
  return out;
}

std::string units_text(const Fleet& f) {
  std::vector<std::vector<std::string>> rows = {
      {"unit", "ward", "date", "taped", "start-up", "cause", "sure"}};
  for (const FleetUnit& u : f.units) {
    const bool known = u.row.has_value();
    rows.push_back({plain::harmless(u.unit), known ? plain::harmless(u.row->ward) : "?",
                    known ? u.row->date : "?", known ? name_of(u.row->taped) : "?",
                    name_of(u.start_up), title_of(u.cause),
                    fmt::format("{:.0f} %", 100.0 * u.confidence)});
  }
  return "\n" + columns("", rows);
}

std::vector<std::string> share_cells(const std::string& name, const Share& s) {
  return {name, fmt::format("{} of {}", s.hits, s.of), share_words(s)};
}

std::string off_text(const Fleet& f) {
  if (f.off.empty()) return {};
  std::vector<std::vector<std::string>> rows;
  for (const auto& [why, share] : f.off) rows.push_back(share_cells(off_words(why), share));
  return "\nWhy input was off, of the units that failed at power-up\n" + columns("  ", rows);
}

std::string shares_text(const Fleet& f) {
  std::vector<std::vector<std::string>> causes, wards;
  for (const auto& [cause, share] : f.causes) causes.push_back(share_cells(title_of(cause), share));
  for (const auto& [ward, share] : f.wards)
    wards.push_back(share_cells(plain::harmless(ward), share));
  return "\nHow often each cause, over all units\n" + columns("  ", causes) + off_text(f) +
         "\nFailed at power-up, by ward\n" + columns("  ", wards);
}

std::string taping_text(const Fleet& f) {
  std::string out = fmt::format(
      "\nTaping and failing at power-up (one count for each unit)\n"
      "  {:<16}{:>8}{:>8}\n  {:<16}{:>8}{:>8}\n  {:<16}{:>8}{:>8}\n",
      "", "failed", "on", "taped", f.table.a, f.table.b, "not taped", f.table.c, f.table.d);
  if (f.taped_unknown_failed + f.taped_unknown_on > 0)
    out += fmt::format("  {:<16}{:>8}{:>8}  (not counted below)\n", "not known",
                       f.taped_unknown_failed, f.taped_unknown_on);
  if (f.outcome_unknown > 0)
    out += plain::wrapped("  ", fmt::format("Start-up not known from the dump: {} (not counted).",
                                            f.outcome_unknown));
  if (f.adopted > 0) out += plain::wrapped("  ", adopted_words(f));
  for (const std::string& sentence : association_words(f)) out += plain::wrapped("  ", sentence);
  return out;
}

std::vector<std::string> unreadable_lines(const Fleet& f) {
  std::vector<std::string> lines;
  for (const FleetDump& d : f.unreadable)
    lines.push_back(fmt::format("{}: {}", plain::harmless(d.file), plain::harmless(d.error)));
  return lines;
}

std::vector<std::string> missing_lines(const Fleet& f) {
  std::vector<std::string> lines;
  for (const UnitRow& r : f.without_dump)
    lines.push_back(fmt::format("{} (line {})", plain::harmless(r.unit), r.line));
  return lines;
}

std::vector<std::string> harmless_all(std::vector<std::string> names) {
  for (std::string& name : names) name = plain::harmless(name);
  return names;
}

ordered_json number(double value) {
  if (!std::isfinite(value)) return nullptr;
  return value;
}

ordered_json interval_json(const Interval& i) {
  return ordered_json::array({number(i.low), number(i.high)});
}

ordered_json share_json(const std::string& key, const std::string& name, const Share& s) {
  return {{key, name}, {"units", s.hits}, {"of", s.of}, {"interval_95", interval_json(s.interval)}};
}

ordered_json unit_json(const FleetUnit& u) {
  ordered_json j;
  j["unit"] = u.unit;
  j["ward"] = u.row ? ordered_json(u.row->ward) : ordered_json(nullptr);
  j["date"] = u.row ? ordered_json(u.row->date) : ordered_json(nullptr);
  j["taped"] = u.row ? ordered_json(name_of(u.row->taped)) : ordered_json(nullptr);
  j["start_up"] = name_of(u.start_up);
  j["cause"] = name_of(u.cause);
  j["confidence"] = u.confidence;
  j["dumps"] = ordered_json::array();
  for (const FleetDump& d : u.dumps) j["dumps"].push_back(d.file);
  return j;
}

ordered_json taping_json(const Fleet& f) {
  return {{"taped_failed", f.table.a},
          {"taped_on", f.table.b},
          {"untaped_failed", f.table.c},
          {"untaped_on", f.table.d},
          {"taping_unknown_failed", f.taped_unknown_failed},
          {"taping_unknown_on", f.taped_unknown_on},
          {"start_up_unknown", f.outcome_unknown},
          {"adopted_counted_as_on", f.adopted},
          {"fisher_two_sided_p", f.fisher.two_sided},
          {"least_possible_p", f.fisher.least_two_sided},
          {"odds_ratio", f.odds.defined ? number(f.odds.estimate) : ordered_json(nullptr)},
          {"odds_ratio_interval_95",
           f.odds.defined ? interval_json(f.odds.interval) : ordered_json(nullptr)},
          {"words", association_words(f)}};
}

}  // namespace

std::string share_words(const Share& s) {
  if (s.of == 0) return "none known";
  return fmt::format("{:.0f} %, 95 % interval {:.0f} to {:.0f} %", 100.0 * s.hits / s.of,
                     100.0 * s.interval.low, 100.0 * s.interval.high);
}

std::string number_words(double value) {
  if (std::isinf(value)) return "infinite";
  return value >= 100.0 ? fmt::format("{:.0f}", value) : fmt::format("{:.3g}", value);
}

std::string p_words(double p) { return p < 0.0001 ? "below 0.0001" : fmt::format("{:.4f}", p); }

std::string fleet_text(const Fleet& f) {
  std::string out = fmt::format("{}: {} units, {} unreadable dumps\n", plain::harmless(f.folder),
                                f.units.size(), f.unreadable.size());
  if (f.finger_not_stated > 0) out += plain::wrapped("  ", finger_words(f));
  out += units_text(f) + shares_text(f) + taping_text(f);
  out += listed("Dumps that can't be read", unreadable_lines(f));
  out += listed("Dumps that name another unit than their row in units.csv",
                harmless_all(f.contradictions));
  out += listed("Dumps without a row in units.csv (their ward and taping are not known)",
                harmless_all(f.without_row));
  out += listed("Rows of units.csv without a readable dump", missing_lines(f));
  out += listed("Files left out: no dumps by their ending", harmless_all(f.left_out));
  return out;
}

std::string fleet_json(const Fleet& f) {
  ordered_json j;
  j["folder"] = f.folder;
  j["units"] = ordered_json::array();
  for (const FleetUnit& u : f.units) j["units"].push_back(unit_json(u));
  j["causes"] = ordered_json::array();
  for (const auto& [cause, share] : f.causes)
    j["causes"].push_back(share_json("cause", name_of(cause), share));
  j["off_because"] = ordered_json::array();
  for (const auto& [why, share] : f.off)
    j["off_because"].push_back(share_json("reason", name_of(why), share));
  j["wards"] = ordered_json::array();
  for (const auto& [ward, share] : f.wards) j["wards"].push_back(share_json("ward", ward, share));
  j["taping"] = taping_json(f);
  j["finger_not_stated"] = f.finger_not_stated;
  j["unreadable"] = ordered_json::array();
  for (const FleetDump& d : f.unreadable)
    j["unreadable"].push_back({{"dump", d.file}, {"error", d.error}});
  j["dumps_of_another_unit"] = f.contradictions;
  j["dumps_without_row"] = f.without_row;
  j["rows_without_dump"] = ordered_json::array();
  for (const UnitRow& r : f.without_dump) j["rows_without_dump"].push_back(r.unit);
  j["left_out"] = f.left_out;
  return plain::json_text(std::move(j));
}

}  // namespace bareglass::host
