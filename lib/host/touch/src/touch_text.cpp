#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/plain/json_text.hpp"
#include "bareglass/plain/plain_text.hpp"
#include "bareglass/replay/account.hpp"
#include "bareglass/touch/touch_test.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

namespace {

using State = TouchStepResult::State;
using Kind = TouchStep::Kind;

const char* name_of(State state) {
  static constexpr const char* kNames[] = {"not seen", "not finished", "done"};
  return kNames[static_cast<int>(state)];
}

std::string value_text(const TouchCheck& c, double value) {
  if (std::isnan(value)) return "not measured";
  if (c.unit == "mm") return fmt::format("{:.2f} mm", value);
  return c.unit.empty() ? fmt::format("{:.0f}", value) : fmt::format("{:.0f} {}", value, c.unit);
}

std::string checks_text(const TouchResult& r) {
  std::string out = fmt::format("\n  {:<34}{:>14}{:>14}\n", "", "measured", "limit");
  for (const TouchCheck& c : r.checks)
    out +=
        fmt::format("  {:<34}{:>14}{:>5}{:>9}  {}\n", c.name, value_text(c, c.value),
                    c.at_least ? ">=" : "<=", value_text(c, c.limit), c.passed ? "ok" : "FAILED");
  return out;
}

std::string step_text(const TouchStep& asked, const TouchStepResult& s) {
  std::string words;
  if (s.state != State::done) words = name_of(s.state);
  if (s.samples > 0 && asked.kind == Kind::point)
    words += fmt::format("{}off by {:+.2f}, {:+.2f} mm; jitter {:.2f} mm",
                         words.empty() ? "" : "; ", s.offset.x, s.offset.y, s.jitter_rms_mm);
  if (s.samples > 2 && asked.kind == Kind::line)
    words += fmt::format("{}straight to {:.2f} mm (rms {:.2f}); from the asked line {:.2f} mm",
                         words.empty() ? "" : "; ", s.linearity_max_mm, s.linearity_rms_mm,
                         s.intended_max_mm);
  if (asked.kind == Kind::line && s.state == State::incomplete)
    words += fmt::format("; {:.0f} mm missing", s.short_mm);
  if (s.dropped > 0) words += fmt::format("; broke off {} x", s.dropped);
  return words;
}

std::string steps_text(const TouchPlan& plan, const TouchResult& r) {
  std::string out = "\nSteps (x to the right, y down)\n";
  for (std::size_t k = 0; k < r.steps.size(); ++k)
    out += plain::wrapped(fmt::format("  {:>3} {:<16}", k + 1, plain::harmless(plan.steps[k].name)),
                          step_text(plan.steps[k], r.steps[k]));
  return out;
}

std::string map_text(const TouchResult& r) {
  static constexpr char kSigns[] = {'.', '#', 'O', '+'};
  std::string out =
      "\nNodes: # touched, O asked for but never touched, + touched beside the plan\n";
  for (int row = 0; row < r.shape.rows; ++row) {
    out += fmt::format("{:>5} ", row);
    for (int col = 0; col < r.shape.cols; ++col) {
      const auto index = static_cast<std::size_t>(row * r.shape.cols + col);
      out += r.shape.cols <= 40 ? " " : "";
      out += kSigns[static_cast<int>(r.coverage[index])];
    }
    out += '\n';
  }
  return out;
}

bool failed(const TouchResult& r, const std::string& start) {
  return std::any_of(r.checks.begin(), r.checks.end(),
                     [&](const TouchCheck& c) { return !c.passed && c.name.rfind(start, 0) == 0; });
}

std::vector<std::string> advice(const TouchResult& r) {
  std::vector<std::string> a;
  const bool nothing = std::all_of(r.steps.begin(), r.steps.end(),
                                   [](const TouchStepResult& s) { return s.samples == 0; });
  if (nothing)
    return {
        "No contact of the plan was seen. `bareglass explain` on the same dump says whether "
        "input was on at all."};
  if (failed(r, "nodes touched"))
    a.emplace_back(
        "Draw over the nodes marked O again, slower than one node per frame. If they "
        "stay untouched, `bareglass explain` tells whether a line is cut or open there.");
  if (failed(r, "steps")) a.emplace_back("Repeat the steps that were not seen or not finished.");
  if (failed(r, "contacts that broke off"))
    a.emplace_back(
        "Look for a dead place where the contact broke off, and for weak fingers (gloves, "
        "a device without a way to earth).");
  if (failed(r, "contacts of no step"))
    a.emplace_back(
        "Clean and dry the glass, unplug the charger and repeat: contacts that nobody "
        "made come from fluid on the glass or from interference.");
  if (failed(r, "jitter"))
    a.emplace_back(
        "Unplug the charger and repeat: jitter at rest comes from interference or a weak "
        "signal.");
  if (failed(r, "accuracy") || failed(r, "linearity"))
    a.emplace_back(
        "Check the pitches of the panel description, then what lies on the glass: an "
        "object bends the positions near it.");
  return a;
}

nlohmann::ordered_json json_number(double value) {
  if (!std::isfinite(value)) return nullptr;
  return value;
}

nlohmann::ordered_json step_json(const TouchStep& asked, const TouchStepResult& s) {
  const auto place = [](PointMm p) { return nlohmann::ordered_json::array({p.x, p.y}); };
  nlohmann::ordered_json j;
  j["name"] = asked.name;
  j["kind"] = asked.kind == Kind::point ? "point" : "line";
  j["from_mm"] = place(asked.from);
  j["to_mm"] = place(asked.to);
  j["state"] = name_of(s.state);
  j["samples"] = s.samples;
  if (asked.kind == Kind::point) {
    j["offset_mm"] = s.samples ? place(s.offset) : nlohmann::ordered_json(nullptr);
    j["accuracy_mm"] = json_number(s.accuracy_mm);
    j["jitter_rms_mm"] = json_number(s.jitter_rms_mm);
  } else {
    j["linearity_max_mm"] = json_number(s.linearity_max_mm);
    j["linearity_rms_mm"] = json_number(s.linearity_rms_mm);
    j["intended_max_mm"] = json_number(s.intended_max_mm);
    j["intended_rms_mm"] = json_number(s.intended_rms_mm);
    j["short_mm"] = s.samples ? json_number(s.short_mm) : nlohmann::ordered_json(nullptr);
  }
  j["dropped"] = s.dropped;
  return j;
}

}  // namespace

std::vector<std::string> touch_remarks(const Account& account) {
  std::vector<std::string> remarks;
  if (account.finger.source != FingerScale::Source::dump)
    remarks.push_back(text::finger(account.finger));
  if (account.final_state != InputState::running)
    remarks.push_back(fmt::format("At the end of the dump input was not on ({}).",
                                  text::state(account.final_state)));
  if (account.frames_saturated > 0)
    remarks.push_back(fmt::format(
        "{} of {} frames were spoiled: too many nodes read the least or greatest value.",
        account.frames_saturated, account.frames));
  if (account.stats.frames_missing > 0)
    remarks.push_back(fmt::format("{} frames are missing.", account.stats.frames_missing));
  return remarks;
}

std::string touch_text(const TouchReport& about, const TouchPlan& plan, const TouchResult& r) {
  const std::string unit =
      about.unit.empty() ? "unit not named" : "unit " + plain::harmless(about.unit);
  std::string out = fmt::format("{} ({})\n", plain::harmless(about.file), unit);
  out += plain::wrapped(
      "  ", fmt::format("Touch test: {}{}.", plain::harmless(plan.name),
                        about.plan_file.empty() ? " (the plan for a panel of this shape)"
                                                : " (" + plain::harmless(about.plan_file) + ")"));
  const auto bad = std::count_if(r.checks.begin(), r.checks.end(),
                                 [](const TouchCheck& c) { return !c.passed; });
  out += r.passed ? "  PASSED: every limit is kept.\n"
                  : fmt::format("  FAILED: {} of {} limits.\n", bad, r.checks.size());
  for (const std::string& remark : about.remarks) out += plain::wrapped("  ", remark);
  out += checks_text(r) + steps_text(plan, r);
  for (const PointMm& p : r.extra_at)
    out += fmt::format("    contact of no step at {:.1f}, {:.1f} mm\n", p.x, p.y);
  out += map_text(r);
  const std::vector<std::string> next = advice(r);
  if (!next.empty()) out += "\nWhat to do next\n";
  for (std::size_t i = 0; i < next.size(); ++i)
    out += plain::wrapped(fmt::format("  {}. ", i + 1), next[i]);
  return out;
}

std::string touch_json(const TouchReport& about, const TouchPlan& plan, const TouchResult& r) {
  nlohmann::ordered_json j;
  j["file"] = about.file;
  j["unit"] = about.unit;
  j["plan"] = {{"name", plan.name},
               {"file", about.plan_file},
               {"line_against", plan.against_intended ? "intended" : "fitted"}};
  j["remarks"] = about.remarks;
  j["passed"] = r.passed;
  j["frames"] = r.frames;
  j["checks"] = nlohmann::ordered_json::array();
  for (const TouchCheck& c : r.checks)
    j["checks"].push_back({{"name", c.name},
                           {"value", json_number(c.value)},
                           {"limit", c.limit},
                           {"unit", c.unit},
                           {"at_least", c.at_least},
                           {"passed", c.passed}});
  j["steps"] = nlohmann::ordered_json::array();
  for (std::size_t k = 0; k < r.steps.size(); ++k)
    j["steps"].push_back(step_json(plan.steps[k], r.steps[k]));
  j["extra_at_mm"] = nlohmann::ordered_json::array();
  for (const PointMm& p : r.extra_at) j["extra_at_mm"].push_back({p.x, p.y});
  static constexpr const char* kWords[] = {"not asked", "touched", "untouched", "touched beside"};
  j["rows"] = r.shape.rows;
  j["columns"] = r.shape.cols;
  j["coverage"] = nlohmann::ordered_json::array();
  for (const Coverage c : r.coverage) j["coverage"].push_back(kWords[static_cast<int>(c)]);
  return plain::json_text(std::move(j));
}

}  // namespace bareglass::host
