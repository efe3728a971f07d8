#include <nlohmann/json.hpp>

#include "bareglass/plain/json_text.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

namespace {

using Json = nlohmann::ordered_json;

const char* kind_name(DumpKind kind) {
  switch (kind) {
    case DumpKind::from_power_up:
      return "from_power_up";
    case DumpKind::raw_midway:
      return "raw_midway";
    case DumpKind::differences_only:
      return "differences_only";
  }
  return "unknown";
}

double percent_of(std::int32_t counts, const Settings& s) {
  return 100.0 * counts / s.finger_counts;
}

Json place(const Box& b, const Settings& s) {
  const double px = s.pitch_col_um / 1000.0;
  const double py = s.pitch_row_um / 1000.0;
  return {{"rows", {b.row0, b.row1}},
          {"columns", {b.col0, b.col1}},
          {"mm_from_left", {b.col0 * px, (b.col1 + 1) * px}},
          {"mm_from_top", {b.row0 * py, (b.row1 + 1) * py}}};
}

// On the clock of the unit itself, which may show the same in several runs.
std::uint64_t unit_us(const Account& a, std::uint64_t t_us) {
  return a.runs.empty() ? t_us : t_us - a.runs[run_of(a, t_us)].shift_us;
}

Json cause(const CauseFound& c, const Account& a) {
  const Settings& s = a.settings;
  Json j = {{"cause", name_of(c.cause)},     {"sureness", name_of(c.sureness)},
            {"confidence", c.confidence},    {"headline", c.headline},
            {"measured_counts", c.measured}, {"measured_percent", percent_of(c.measured, s)},
            {"limit_counts", c.limit},       {"limit_percent", percent_of(c.limit, s)}};
  if (c.has_place) {
    j["place"] = place(c.box, s);
    j["first_us"] = unit_us(a, c.first_us);
    j["first_run"] = run_of(a, c.first_us) + 1;
    j["ended_us"] = c.ended ? Json(unit_us(a, c.ended_us)) : Json(nullptr);
    j["ended_run"] = c.ended ? Json(run_of(a, c.ended_us) + 1) : Json(nullptr);
  }
  if (c.lines) {
    j["lines"] = {{"of", c.lines->of_rows ? "rows" : "columns"},
                  {"first", c.lines->first},
                  {"last", c.lines->last},
                  {"at", c.lines->at < 0 ? Json(nullptr) : Json(c.lines->at)},
                  {"at_last", c.lines->at_last < 0 ? Json(nullptr) : Json(c.lines->at_last)}};
  }
  j["or_else"] = Json::array();
  for (const Cause other : c.or_else) j["or_else"].push_back(name_of(other));
  j["speaks_for"] = c.speaks_for;
  j["speaks_against"] = c.speaks_against;
  return j;
}

Json event(const JournalEntry& e, const Account& a) {
  Json j = {{"t_us", unit_us(a, e.t_us)},
            {"run", run_of(a, e.t_us) + 1},
            {"code", static_cast<int>(e.code)},
            {"value", e.value},
            {"limit", e.limit}};
  if (e.row != kNoLine) {
    j["row"] = e.row;
    j["column"] = e.col;
  }
  j["text"] = text::event(e, a.settings);
  return j;
}

// Where finger_counts comes from; the rest is null unless it follows from the bare reading.
Json finger(const FingerScale& f) {
  const bool follows = f.source == FingerScale::Source::bare_reading;
  return {{"source", name_of(f.source)},
          {"bare_counts", follows ? Json(f.bare_counts) : Json(nullptr)},
          {"percent_of_bare", follows ? Json(100.0 * f.share) : Json(nullptr)},
          {"panel_file", follows ? Json(f.of_panel) : Json(nullptr)}};
}

Json dump_facts(const Account& a) {
  const auto optional_us = a.panel.power_up_us ? Json(*a.panel.power_up_us) : Json(nullptr);
  Json runs = Json::array();
  for (const Run& run : a.runs)
    runs.push_back({{"power_up_us", run.power_up_known ? Json(run.zero_us - run.shift_us) : Json()},
                    {"first_us", run.first_us - run.shift_us},
                    {"last_us", run.last_us - run.shift_us},
                    {"frames", run.frames}});
  return {{"kind", kind_name(a.kind)},
          {"unit", a.panel.unit_id},
          {"panel", a.panel.panel_name},
          {"rows", a.settings.shape.rows},
          {"columns", a.settings.shape.cols},
          {"finger_counts", a.settings.finger_counts},
          {"finger", finger(a.finger)},
          {"factory_reference", a.has_reference},
          {"policy", text::policy(a.settings.policy)},
          {"power_up_us", optional_us},
          {"power_ups", a.power_ups},
          {"frames", a.frames},
          {"frames_missing", a.stats.frames_missing},
          {"frames_repeated", a.stats.repeated_frames},
          {"frames_spoiled", a.frames_saturated},
          {"frames_backward", a.frames_backward},
          {"frames_ahead", a.frames_ahead},
          {"clock_jumps", a.clock_jumps},
          {"runs", std::move(runs)},
          {"frames_ignored", a.frames_ignored},
          {"damaged_packets", a.stats.damaged_packets},
          {"lost_bytes", a.stats.lost_bytes},
          {"malformed_lines", a.stats.malformed_lines},
          {"first_us", a.first_us},
          {"last_us", unit_us(a, a.last_us)},
          {"longest_gap_us", a.longest_gap_us},
          {"noise_counts", static_cast<double>(a.sigma_q4) / 16.0},
          {"touches", a.touches},
          {"lowest_millivolts", a.lowest_millivolts ? Json(*a.lowest_millivolts) : Json(nullptr)}};
}

Json next_step(const NextStep& step) {
  Json j = {{"name", step.name}, {"text", step.text}};
  if (!step.tools.empty()) j["tools"] = step.tools;
  if (!step.caution.empty()) j["caution"] = step.caution;
  if (!step.stop.empty()) j["stop"] = step.stop;
  return j;
}

}  // namespace

std::string explanation_json(const std::string& file, const Account& a, const Diagnosis& d) {
  Json j;
  j["file"] = file;
  j["dump"] = dump_facts(a);
  j["input_on"] = a.final_state == InputState::running;
  j["state"] = bareglass::name_of(a.final_state);
  j["answer"] = d.answer;
  j["causes"] = Json::array();
  for (const CauseFound& c : d.causes) j["causes"].push_back(cause(c, a));
  j["events"] = Json::array();
  for (const JournalEntry& e : a.events) j["events"].push_back(event(e, a));
  j["events_left_out"] = a.events_left_out;
  j["next_steps"] = Json::array();
  for (const NextStep& step : d.next_steps) j["next_steps"].push_back(next_step(step));
  j["cautions"] = d.cautions;
  j["cannot_tell"] = d.cannot_tell;
  // Unit ids come from the dump; a stray byte there must not cost the whole answer.
  return plain::json_text(std::move(j));
}

}  // namespace bareglass::host
