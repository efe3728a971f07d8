#include <algorithm>
#include <cmath>
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

/// An infinite number is null: JSON has none.
Json number(double v) { return std::isfinite(v) ? Json(v) : Json(nullptr); }

double rounded(double v, double step) { return std::round(v / step) * step; }

Json estimate(const Estimate& e) {
  return {{"value", number(e.value)}, {"interval_95", {number(e.low), number(e.high)}}};
}

Json outlines(const std::vector<GlassOutline>& all) {
  Json out = Json::array();
  for (const GlassOutline& ring : all) {
    out.push_back(Json::array());
    for (const GlassPoint& p : ring) out.back().push_back({rounded(p.x, 0.01), rounded(p.y, 0.01)});
  }
  return out;
}

Json piece(const PieceFound& p) {
  Json j = {{"outline_mm", outlines(p.outlines)},      {"outline_inner_mm", outlines(p.inner)},
            {"outline_outer_mm", outlines(p.outer)},   {"outline_known_to_mm", p.outline_mm},
            {"centre_from_left_mm", estimate(p.x_mm)}, {"centre_from_top_mm", estimate(p.y_mm)},
            {"area_mm2", estimate(p.area_mm2)}};
  if (p.earth_pf) j["capacitance_to_earth_pf"] = estimate(*p.earth_pf);
  if (p.layer_percent) j["rise_percent_of_earthed_cover"] = estimate(*p.layer_percent);
  return j;
}

Json reconstruction(const Reconstruction& r, std::size_t scene) {
  Json pieces = Json::array();
  for (const PieceFound& p : r.pieces) pieces.push_back(piece(p));
  return {{"area_mm2", estimate(r.area_mm2)},
          {"pieces", std::move(pieces)},
          {"residual",
           {{"rms_of_noise", r.residual_rms},
            {"greatest_of_noise", r.residual_most},
            {"rms_of_noise_and_model", r.residual_of_expected}}},
          {"scene", scene}};
}

Json scene(const SceneMaps& m, const Account& a) {
  const auto values = [&](const std::vector<float>& of, double step) {
    Json out = Json::array();
    for (std::size_t k = 0; k < of.size(); ++k)
      out.push_back(m.left_out[k] ? Json(nullptr)
                                  : Json(rounded(static_cast<double>(of[k]), step)));
    return out;
  };
  return {{"first_us", unit_us(a, m.first_us)},
          {"last_us", unit_us(a, m.last_us)},
          {"run", run_of(a, m.first_us) + 1},
          {"measured_counts", values(m.measured, 0.1)},
          {"predicted_counts", values(m.predicted, 0.1)},
          {"residual_of_noise", values(m.residual, 0.01)}};
}

/// The maps of all causes, each once.
std::vector<const SceneMaps*> scenes_of(const Diagnosis& d) {
  std::vector<const SceneMaps*> out;
  for (const CauseFound& c : d.causes) {
    if (!c.reconstruction) continue;
    const SceneMaps* maps = c.reconstruction->maps.get();
    if (std::find(out.begin(), out.end(), maps) == out.end()) out.push_back(maps);
  }
  return out;
}

Json cause(const CauseFound& c, const Account& a, const std::vector<const SceneMaps*>& scenes) {
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
  if (c.reconstruction) {
    const auto at = std::find(scenes.begin(), scenes.end(), c.reconstruction->maps.get());
    j["reconstruction"] =
        reconstruction(*c.reconstruction, static_cast<std::size_t>(at - scenes.begin()));
  }
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
  const std::vector<const SceneMaps*> scenes = scenes_of(d);
  for (const CauseFound& c : d.causes) j["causes"].push_back(cause(c, a, scenes));
  j["scenes"] = Json::array();
  for (const SceneMaps* maps : scenes) j["scenes"].push_back(scene(*maps, a));
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
