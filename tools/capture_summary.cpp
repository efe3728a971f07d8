#include "capture_summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include "bareglass/plain/harmless.hpp"
#include "bareglass/plain/json_text.hpp"
#include "counted_list.hpp"

namespace bareglass::tools {

namespace {

using nlohmann::ordered_json;

double seconds(std::uint64_t us) { return static_cast<double>(us) / 1e6; }

/// Lines of a name and what it is.
class Rows {
 public:
  explicit Rows(bool colour) : colour_(colour) {}
  void add(const char* name, const std::string& text) {
    const bool bold = colour_ && *name != '\0';
    text_ +=
        fmt::format("{}{:<11}{}{}\n", bold ? "\x1b[1m" : "", name, bold ? "\x1b[0m" : "", text);
  }
  const std::string& text() const { return text_; }

 private:
  bool colour_;
  std::string text_;
};

std::string panel_text(const host::PanelDescription& panel) {
  std::string text = fmt::format("{} rows x {} columns", panel.rows, panel.cols);
  if (panel.pitch_row_mm > 0 || panel.pitch_col_mm > 0)
    add_part(text, fmt::format("pitch {} x {} mm", panel.pitch_row_mm, panel.pitch_col_mm));
  if (panel.finger_counts > 0) add_part(text, fmt::format("finger {} counts", panel.finger_counts));
  if (panel.counts_rise) add_part(text, "counts rise at a touch");
  if (panel.frame_period_us > 0)
    add_part(text, fmt::format("{} ms a frame", panel.frame_period_us / 1e3));
  if (!panel.panel_name.empty()) add_part(text, "panel " + panel.panel_name);
  if (!panel.unit_id.empty()) add_part(text, "unit " + panel.unit_id);
  if (!panel.firmware.empty()) add_part(text, "firmware " + panel.firmware);
  return text;
}

std::string frames_text(const CaptureSummary& s) {
  std::string text;
  add_count(text, s.raw_frames, "raw");
  add_count(text, s.difference_frames, "difference");
  return text.empty() ? "none" : text;
}

std::string run_text(const CaptureSummary::Run& run) {
  return fmt::format("{:.3f} s to {:.3f} s", seconds(run.first_us), seconds(run.last_us));
}

std::string rate_text(const CaptureSummary& s) {
  if (s.steps_us == 0) return {};
  return fmt::format("{:.1f} frames/s, longest step {:.1f} ms",
                     static_cast<double>(s.steps) / seconds(s.steps_us),
                     static_cast<double>(s.longest_step_us) / 1e3);
}

std::string time_text(const CaptureSummary& s) {
  std::string text = s.run_count == 1 ? run_text(s.runs.front())
                                      : fmt::format("{} runs, each on its own clock", s.run_count);
  if (s.steps_us > 0) add_part(text, rate_text(s));
  return text;
}

// The first and the last ones.
void add_runs(Rows& rows, const CaptureSummary& s) {
  constexpr std::size_t kMost = 4;
  if (s.run_count < 2) return;
  for (std::size_t n = 0; n < s.runs.size(); ++n) {
    if (n >= kMost && n + kMost < s.runs.size()) continue;
    const bool last = n + 1 == s.runs.size();
    const CaptureSummary::Run& run = s.runs[n];
    std::string text = fmt::format("{} of {}: {}, {} frames", last ? s.run_count : n + 1,
                                   s.run_count, run_text(run), run.frames);
    add_part(text, run.power_up_us
                       ? fmt::format("powered up at {:.3f} s", seconds(*run.power_up_us))
                       : "power-up not in the dump, or not told");
    rows.add("run", text);
  }
}

std::string range_text(const char* what, const ValueRange& range) {
  return range.any ? fmt::format("{} {} to {}", what, range.least, range.most) : std::string();
}

std::string values_text(const CaptureSummary& s) {
  std::string text = range_text("raw", s.raw);
  if (s.difference.any) add_part(text, range_text("difference", s.difference));
  if (s.millivolts.any) add_part(text, range_text("supply", s.millivolts) + " mV");
  return text;
}

std::string other_text(const CaptureSummary& s) {
  std::string text;
  add_count(text, s.descriptions, "panel descriptions");
  add_count(text, s.references, "factory references");
  add_count(text, s.contact_reports, "contact reports");
  add_count(text, s.journal_entries, "journal entries");
  add_count(text, s.supply_states, "supply states");
  add_count(text, s.note_count, "notes");
  return text.empty() ? "none" : text;
}

std::string gaps_text(const host::CaptureStats& stats) {
  std::string text;
  add_count(text, stats.frames_missing, "frames missing");
  add_count(text, stats.sequence_gaps, "gaps in the sequence");
  add_count(text, stats.time_gaps, "gaps in time");
  add_count(text, stats.sequence_restarts, "steps back in the sequence");
  add_count(text, stats.stamps_backward, "steps back in time");
  add_count(text, stats.repeated_frames, "repeated frames");
  return text.empty() ? "none" : text;
}

std::string damage_text(const host::CaptureStats& stats) {
  const std::string list = damage_list(stats);
  return list.empty() ? "none" : list;
}

std::string place_text(const host::DamagePlace& place) {
  return fmt::format("{} {}: {}{}", place.is_line ? "line" : "byte", place.place,
                     place.is_line ? "" : "expected ", plain::harmless(place.expected));
}

ordered_json json_of(const ValueRange& range) {
  if (!range.any) return nullptr;
  return {{"least", range.least}, {"most", range.most}};
}

ordered_json json_of(const CaptureSummary::Run& run) {
  return {{"power_up_us", run.power_up_us ? ordered_json(*run.power_up_us) : ordered_json()},
          {"first_us", run.first_us},
          {"last_us", run.last_us},
          {"frames", run.frames}};
}

ordered_json json_of(const host::PanelDescription& panel) {
  ordered_json json = {{"rows", panel.rows}, {"columns", panel.cols}};
  if (panel.pitch_row_mm > 0) json["pitch_row_mm"] = panel.pitch_row_mm;
  if (panel.pitch_col_mm > 0) json["pitch_column_mm"] = panel.pitch_col_mm;
  if (panel.finger_counts > 0) json["finger_counts"] = panel.finger_counts;
  json["counts_rise"] = panel.counts_rise;
  if (panel.frame_period_us > 0) json["frame_period_us"] = panel.frame_period_us;
  if (!panel.unit_id.empty()) json["unit"] = panel.unit_id;
  if (!panel.panel_name.empty()) json["panel"] = panel.panel_name;
  if (!panel.firmware.empty()) json["firmware"] = panel.firmware;
  if (panel.raw_max) json["raw_max"] = *panel.raw_max;
  if (panel.power_up_us) json["power_up_us"] = *panel.power_up_us;
  return json;
}

ordered_json json_of(const host::CaptureStats& stats) {
  ordered_json places = ordered_json::array();
  for (const host::DamagePlace& place : stats.damage)
    places.push_back(
        {{place.is_line ? "line" : "byte", place.place}, {"expected", place.expected}});
  return {{"packets", stats.packets},
          {"damaged_packets", stats.damaged_packets},
          {"lost_bytes", stats.lost_bytes},
          {"malformed_lines", stats.malformed_lines},
          {"unknown_kinds", stats.unknown_kinds},
          {"unknown_keys", stats.unknown_keys},
          {"source_damaged_packets", stats.source_damaged_packets},
          {"source_malformed_lines", stats.source_malformed_lines},
          {"source_lost_bytes", stats.source_lost_bytes},
          {"frames_missing", stats.frames_missing},
          {"sequence_gaps", stats.sequence_gaps},
          {"sequence_restarts", stats.sequence_restarts},
          {"time_gaps", stats.time_gaps},
          {"stamps_backward", stats.stamps_backward},
          {"repeated_frames", stats.repeated_frames},
          {"damage", places}};
}

}  // namespace

void ValueRange::add(int value) {
  least = any ? std::min(least, value) : value;
  most = any ? std::max(most, value) : value;
  any = true;
}

void CaptureSummary::take(const host::Record& record) {
  std::visit([this](const auto& r) { put(r); }, record);
}

void CaptureSummary::put(const host::PanelDescription& told) {
  const bool before_frames = raw_frames + difference_frames == 0;
  begins_ = clock_.description(told) || begins_;
  const std::optional<std::uint64_t> known = panel ? panel->power_up_us : std::nullopt;
  if (told.power_up_us && before_frames) power_ups = 1;
  ++descriptions;
  panel = told;
  for (std::string* name : {&panel->unit_id, &panel->panel_name, &panel->firmware})
    *name = plain::harmless(*name);
  if (!panel->power_up_us) panel->power_up_us = known;
}

void CaptureSummary::begin_run() {
  ++run_count;
  if (run_count > 1 && clock_.power_up_us()) ++power_ups;
  if (runs.size() == kMaxRuns) runs.pop_back();
  runs.emplace_back();
}

void CaptureSummary::put(const host::FrameRecord& frame) {
  const bool first = !kind_;
  if (first) kind_ = frame.kind;
  if (frame.kind == *kind_) {
    const host::DumpClock::Reading now = clock_.frame(frame.sequence, frame.t_us);
    const bool begins = first || begins_ || now.step == host::DumpClock::Step::began_anew;
    begins_ = false;
    if (begins) begin_run();
    Run& run = runs.back();
    const std::uint64_t line_us = clock_.latest_us();
    run.last_us = line_us - clock_.shift_us();
    if (begins) run.first_us = run.last_us;
    run.power_up_us = clock_.power_up_us();
    if (run.power_up_us) *run.power_up_us -= clock_.shift_us();
    ++run.frames;
    if (!begins && line_us > last_line_us_) {
      ++steps;
      steps_us += line_us - last_line_us_;
      longest_step_us = std::max(longest_step_us, line_us - last_line_us_);
    }
    last_line_us_ = line_us;
  }
  if (!panel) {
    panel.emplace();
    panel->rows = frame.rows;
    panel->cols = frame.cols;
  }
  if (frame.kind == host::FrameKind::raw) {
    ++raw_frames;
    const auto [least, most] = std::minmax_element(frame.raw.begin(), frame.raw.end());
    raw.add(*least);
    raw.add(*most);
  } else {
    ++difference_frames;
    const auto [least, most] =
        std::minmax_element(frame.difference.begin(), frame.difference.end());
    difference.add(*least);
    difference.add(*most);
  }
}

void CaptureSummary::put(const host::SupplyRecord& supply) {
  ++supply_states;
  if (supply.millivolts) millivolts.add(*supply.millivolts);
}

void CaptureSummary::put(const host::NoteRecord& note) {
  ++note_count;
  if (notes.size() < kMaxNotes) notes.push_back({note.t_us, plain::harmless(note.text)});
}

std::string summary_text(const std::string& file, const CaptureSummary& s,
                         const host::CaptureReader& reader, bool colour) {
  const std::string_view format = host::format_explanation(reader.format());
  Rows rows(colour);
  rows.add("file", plain::harmless(file));
  rows.add("format", fmt::format("{}: {}", host::format_name(reader.format()), format));
  rows.add("panel", s.panel ? panel_text(*s.panel) : "not described");
  rows.add("frames", frames_text(s));
  if (s.raw_frames + s.difference_frames > 0) {
    rows.add("time", time_text(s));
    add_runs(rows, s);
    rows.add("values", values_text(s));
  }
  rows.add("power-up", s.power_ups > 0 ? fmt::format("{} in the dump", s.power_ups)
                                       : "not in the dump, or not told");
  rows.add("other", other_text(s));
  rows.add("gaps", gaps_text(reader.stats()));
  rows.add("damage", damage_text(reader.stats()));
  for (const host::DamagePlace& place : reader.stats().damage) rows.add("", place_text(place));
  for (const host::NoteRecord& note : s.notes)
    rows.add("note", fmt::format("{:.3f} s: {}", seconds(note.t_us), note.text));
  return rows.text();
}

std::string summary_json(const std::string& file, const CaptureSummary& s,
                         const host::CaptureReader& reader) {
  ordered_json json = {{"file", file}, {"format", host::format_name(reader.format())}};
  json["panel"] = s.panel ? json_of(*s.panel) : ordered_json();
  json["raw_frames"] = s.raw_frames;
  json["difference_frames"] = s.difference_frames;
  json["first_us"] = s.runs.empty() ? 0 : s.runs.front().first_us;
  json["last_us"] = s.runs.empty() ? 0 : s.runs.back().last_us;
  json["run_count"] = s.run_count;
  json["runs"] = ordered_json::array();
  for (const CaptureSummary::Run& run : s.runs) json["runs"].push_back(json_of(run));
  json["frames_per_second"] = s.steps_us > 0
                                  ? ordered_json(static_cast<double>(s.steps) / seconds(s.steps_us))
                                  : ordered_json();
  json["longest_step_us"] = s.longest_step_us;
  json["raw_counts"] = json_of(s.raw);
  json["difference_counts"] = json_of(s.difference);
  json["supply_millivolts"] = json_of(s.millivolts);
  json["power_ups"] = s.power_ups;
  json["panel_descriptions"] = s.descriptions;
  json["factory_references"] = s.references;
  json["contact_reports"] = s.contact_reports;
  json["journal_entries"] = s.journal_entries;
  json["supply_states"] = s.supply_states;
  json["notes"] = s.note_count;
  json["reading"] = json_of(reader.stats());
  return plain::json_text(std::move(json));
}

}  // namespace bareglass::tools
