#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "bareglass/compare/comparison.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/plain/json_text.hpp"
#include "bareglass/plain/plain_text.hpp"
#include "bareglass/present/page_words.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

namespace {

std::string place_of(const CauseFound& c) {
  if (c.lines) return report::lines_found(*c.lines);
  return c.has_place ? text::lines(c.box) : "not known";
}

std::string change_text(const FindingChange& f) {
  const CauseFound& c = f.after ? *f.after : *f.before;
  std::string out = fmt::format("{} Place: {}. ", c.headline, place_of(c));
  switch (f.change) {
    case Change::gone:
      return out + fmt::format("It was {:+.1f} % of a finger.", f.before_percent);
    case Change::fresh:
      return out + fmt::format("It is {:+.1f} % of a finger.", f.after_percent);
    default:
      break;
  }
  out += fmt::format("It was {:+.1f} % of a finger and is {:+.1f} % now.", f.before_percent,
                     f.after_percent);
  if (f.before->cause != f.after->cause)
    out +=
        fmt::format(" The dump from before was explained otherwise: {}.", text::title(*f.before));
  return out;
}

std::string changes_text(const Comparison& c) {
  std::string out = "\nWhat changed\n";
  if (c.changes.empty()) return out + "  Nothing was found before, nothing is found now.\n";
  for (const FindingChange& f : c.changes)
    out += plain::wrapped(fmt::format("  {:<12}", name_of(f.change)), change_text(f));
  return out;
}

std::string checks_text(const Comparison& c) {
  std::string out = c.accepted ? "\nACCEPTED: every limit is kept\n" : "\nREJECTED\n";
  for (const AcceptCheck& k : c.checks)
    out += fmt::format("  {:<37} {:>8}  {:<18} {}\n", k.name, k.value, k.limit,
                       k.passed ? "ok" : "FAILED");
  if (c.accepted) return out;
  out += "\nWhat failed, and what to do\n";
  for (const AcceptCheck& k : c.checks)
    if (!k.passed) out += plain::wrapped("  - ", fmt::format("{}: {}. {}", k.name, k.by, k.todo));
  return out;
}

nlohmann::ordered_json finding_json(const std::optional<CauseFound>& c, double percent) {
  if (!c) return nullptr;
  nlohmann::ordered_json j;
  j["cause"] = name_of(c->cause);
  j["confidence"] = c->confidence;
  j["headline"] = c->headline;
  j["percent_of_finger"] = percent;
  if (c->has_place)
    j["box"] = {
        {"row0", c->box.row0}, {"row1", c->box.row1}, {"col0", c->box.col0}, {"col1", c->box.col1}};
  if (c->lines)
    j["lines"] = {{"of", c->lines->of_rows ? "rows" : "columns"},
                  {"first", c->lines->first},
                  {"last", c->lines->last},
                  {"at", c->lines->at}};
  return j;
}

nlohmann::ordered_json map_json(const Comparison& c) {
  if (c.map.counts.empty()) return nullptr;
  return {{"rows", c.map.shape.rows},
          {"columns", c.map.shape.cols},
          {"finger_counts", c.map.finger_counts},
          {"shift_percent", c.shift_percent},
          {"counts", c.map.counts}};
}

}  // namespace

std::string comparison_text(const Comparison& c, bool colour) {
  std::string files;
  for (const std::string& file : c.after_files)
    files += (files.empty() ? "" : ", ") + plain::harmless(file);
  std::string out = fmt::format("{}\n", c.unit.empty() ? "unit not named" : "unit " + c.unit);
  out += plain::wrapped("  before: ", plain::harmless(c.before_file));
  out += plain::wrapped("  after:  ", files);
  for (const std::string& remark : c.remarks) out += plain::wrapped("  ", remark);
  out += changes_text(c);
  if (!c.map.counts.empty()) {
    out += fmt::format("\n{}\n", c.map.title) + heat_map_terminal(c.map, colour);
    out += plain::wrapped("  ", c.map.caption);
    out += plain::wrapped(
        "  ", fmt::format(
                  "The whole panel shifted by {:+.1f} % of a finger, which is taken off the "
                  "map.{}",
                  c.shift_percent,
                  c.whole_panel_off ? " A cover over all of the glass would not show on it." : ""));
  }
  out += checks_text(c);
  out += plain::wrapped(
      "  ",
      "This judges the panel alone. If the case was opened, an electrical safety test "
      "must be passed before the device goes back into use; local rules and the "
      "judgement of licensed staff come first.");
  return out;
}

std::string comparison_json(const Comparison& c) {
  nlohmann::ordered_json j;
  j["unit"] = c.unit;
  j["before"] = c.before_file;
  j["after"] = c.after_files;
  j["remarks"] = c.remarks;
  j["accepted"] = c.accepted;
  j["changes"] = nlohmann::ordered_json::array();
  for (const FindingChange& f : c.changes)
    j["changes"].push_back({{"change", name_of(f.change)},
                            {"before", finding_json(f.before, f.before_percent)},
                            {"after", finding_json(f.after, f.after_percent)}});
  j["checks"] = nlohmann::ordered_json::array();
  for (const AcceptCheck& k : c.checks)
    j["checks"].push_back({{"name", k.name},
                           {"value", k.value},
                           {"limit", k.limit},
                           {"passed", k.passed},
                           {"by", k.by},
                           {"todo", k.todo}});
  j["map"] = map_json(c);
  return plain::json_text(std::move(j));
}

}  // namespace bareglass::host
