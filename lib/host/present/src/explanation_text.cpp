#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/plain/plain_text.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/words/reconstruction_words.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

namespace {

class Writer {
 public:
  explicit Writer(bool colour) : colour_(colour) {}
  void heading(const std::string& text) {
    out_ += '\n';
    out_ += colour_ ? "\x1b[1m" + text + "\x1b[0m\n" : text + '\n';
  }
  void paragraph(const std::string& text) { out_ += plain::wrapped("  ", text); }
  void item(const std::string& lead, const std::string& text) {
    out_ += plain::wrapped("  " + lead, text);
  }
  void raw(const std::string& text) { out_ += text; }
  std::string take() { return std::move(out_); }

 private:
  bool colour_;
  std::string out_;
};

std::string plural(std::uint64_t n, const char* one, const char* many) {
  return fmt::format("{} {}", n, n == 1 ? one : many);
}

void what_it_is(Writer& w, const std::string& file, const Account& a) {
  const std::string unit = a.panel.unit_id.empty() ? "unit not named" : "unit " + a.panel.unit_id;
  w.raw(fmt::format("{} ({})\n", plain::harmless(file), unit));
  const double span = static_cast<double>(a.last_us - a.first_us) / 1e6;
  const double rate = span > 0 ? static_cast<double>(a.frames - 1) / span : 0;
  const char* frames = a.kind == DumpKind::differences_only ? "difference frames" : "raw frames";
  w.paragraph(fmt::format("{} {} in {:.1f} s ({:.1f} a second), {} rows x {} columns, {}.",
                          a.frames, frames, span, rate, a.settings.shape.rows,
                          a.settings.shape.cols,
                          a.has_reference ? "with a factory reference" : "no factory reference"));
  if (a.finger.source != FingerScale::Source::dump) w.paragraph(text::finger(a.finger));
  std::vector<std::string> trouble;
  if (a.stats.frames_missing)
    trouble.push_back(plural(a.stats.frames_missing, "frame is missing", "frames are missing"));
  if (a.stats.damaged_packets)
    trouble.push_back(fmt::format(
        "{} ({} bytes lost)", plural(a.stats.damaged_packets, "damaged packet", "damaged packets"),
        a.stats.lost_bytes));
  if (a.stats.repeated_frames)
    trouble.push_back(plural(a.stats.repeated_frames, "repeated frame", "repeated frames"));
  if (a.stats.malformed_lines)
    trouble.push_back(plural(a.stats.malformed_lines, "malformed line", "malformed lines"));
  if (a.stats.source_damaged_packets)
    trouble.push_back(plural(a.stats.source_damaged_packets, "damaged packet in the source",
                             "damaged packets in the source"));
  if (a.stats.source_malformed_lines)
    trouble.push_back(plural(a.stats.source_malformed_lines, "malformed line in the source",
                             "malformed lines in the source"));
  if (a.frames_saturated)
    trouble.push_back(plural(a.frames_saturated, "spoiled frame", "spoiled frames"));
  if (a.frames_backward)
    trouble.push_back(plural(a.frames_backward, "frame left out whose time goes back",
                             "frames left out whose time goes back"));
  if (a.frames_ahead)
    trouble.push_back(plural(a.frames_ahead, "frame left out whose time jumps ahead",
                             "frames left out whose time jumps ahead"));
  if (a.frames_ignored)
    trouble.push_back(plural(a.frames_ignored, "frame of another kind left out",
                             "frames of another kind left out"));
  if (a.longest_gap_us > 3ull * a.settings.frame_period_us)
    trouble.push_back(
        fmt::format("longest gap {:.3f} s", static_cast<double>(a.longest_gap_us) / 1e6));
  std::string line = trouble.empty() ? "Nothing missing, nothing damaged." : "Damage: ";
  for (std::size_t i = 0; i < trouble.size(); ++i) line += (i ? ", " : "") + trouble[i];
  w.paragraph(trouble.empty() ? line : line + ".");
  if (a.runs.size() > 1) w.paragraph(text::powered_up_often(a));
}

// The entries that carry the story; the rest is for --all-events.
bool is_telling(JournalCode code) {
  switch (code) {
    case JournalCode::sampled:
    case JournalCode::frames_missing:
    case JournalCode::finding_began:
      return false;
    default:
      return true;
  }
}

// One run's part of the chain; what is hidden is counted.
void chain_of_run(Writer& w, const Account& a, std::size_t run, bool all_events) {
  std::size_t told = 0;
  constexpr std::size_t kMost = 40;
  std::size_t hidden = 0;
  for (const JournalEntry& e : a.events) {
    if (run_of(a, e.t_us) != run) continue;
    if (!all_events && !is_telling(e.code)) continue;
    // On a dump that starts midway the replay's own power-up is not an event of the device.
    if (a.kind != DumpKind::from_power_up &&
        (e.code == JournalCode::power_up || e.code == JournalCode::settled))
      continue;
    if (!all_events && told >= kMost) {
      ++hidden;
      continue;
    }
    w.item(fmt::format("{:>10}  ", text::seconds(e.t_us, zero_time(a, e.t_us))),
           text::event(e, a.settings));
    ++told;
  }
  if (hidden) w.paragraph(fmt::format("({} more; --all-events lists them)", hidden));
}

// The last run first: it is what the unit does now.
void chain(Writer& w, const Account& a, bool all_events) {
  constexpr std::size_t kMostRuns = 4;
  w.heading("What happened");
  const std::size_t runs = std::max<std::size_t>(1, a.runs.size());
  for (std::size_t n = runs; n-- > 0;) {
    if (!all_events && runs - n > kMostRuns) {
      w.paragraph(
          fmt::format("({} earlier; --all-events lists them)", plural(n + 1, "run", "runs")));
      break;
    }
    if (runs > 1)
      w.paragraph(fmt::format("Run {} of {}{}:", n + 1, runs, n + 1 == runs ? ", the last" : ""));
    chain_of_run(w, a, n, all_events);
  }
  if (a.events_left_out)
    w.paragraph(fmt::format("({} further events were not kept)", a.events_left_out));
  w.paragraph(fmt::format("{} {} seen while input was on.", text::times_count_from(a),
                          plural(a.touches, "touch was", "touches were")));
}

void device_says(Writer& w, const Account& a) {
  if (a.device_journal.empty()) return;
  const auto decided = [](JournalCode c) {
    return c == JournalCode::input_on || c == JournalCode::input_off || c == JournalCode::waiting ||
           c == JournalCode::adopted || c == JournalCode::service_entered;
  };
  const auto mine = std::find_if(a.events.begin(), a.events.end(),
                                 [&](const JournalEntry& e) { return decided(e.code); });
  const auto theirs = std::find_if(a.device_journal.begin(), a.device_journal.end(),
                                   [&](const JournalRecord& r) { return decided(r.code); });
  if (mine == a.events.end() || theirs == a.device_journal.end()) return;
  const bool same = mine->code == theirs->code;
  w.paragraph(same ? "The device's own journal reports the same decision."
                   : "The device's own journal reports another decision: its settings differ from "
                     "the ones used here.");
}

void cause(Writer& w, const CauseFound& c, const Account& a, bool first) {
  w.heading(first ? fmt::format("What it was ({})", text::sureness(c))
                  : fmt::format("Also ({})", text::sureness(c)));
  w.paragraph(c.headline);
  if (c.has_place) {
    const std::string until =
        c.ended ? fmt::format("to {}", text::moment(c.ended_us, a)) : "to the end of the dump";
    w.item("where:    ",
           fmt::format("{}; {}", text::lines(c.box), text::place_mm(c.box, a.settings)));
    w.item("when:     ", fmt::format("from {} {}", text::moment(c.first_us, a), until));
  }
  if (c.reconstruction) {
    w.item("size:     ", text::size(*c.reconstruction));
    const std::string way = text::way_to_earth(*c.reconstruction);
    if (!way.empty()) w.item("to earth: ", way);
    w.item("left:     ", text::left_over(*c.reconstruction));
  }
  const auto evidence = [&](const char* label, const std::vector<std::string>& lines) {
    for (std::size_t i = 0; i < lines.size(); ++i)
      w.item(fmt::format("{:<10}- ", i == 0 ? label : ""), lines[i]);
  };
  evidence("for:", c.speaks_for);
  evidence("against:", c.speaks_against);
}

void list(Writer& w, const std::string& heading, const std::vector<std::string>& lines) {
  if (lines.empty()) return;
  w.heading(heading);
  for (const std::string& line : lines) w.item("- ", line);
}

void what_to_do(Writer& w, const std::vector<NextStep>& steps) {
  if (steps.empty()) return;
  w.heading("What to do next, cheapest first");
  int number = 0;
  for (const NextStep& step : steps) {
    w.item(fmt::format("{}. ", ++number), step.text);
    if (!step.tools.empty()) w.item("   needed: ", step.tools);
    if (!step.caution.empty()) w.item("   caution: ", step.caution);
    if (!step.stop.empty()) w.item("   stop: ", step.stop);
  }
}

void add_outlines(HeatMap& map, const Reconstruction& r) {
  for (const PieceFound& p : r.pieces)
    for (std::size_t k = 0; k < p.outlines.size(); ++k)
      map.outlines.push_back(
          {p.outlines[k], p.inner[k], p.outer[k], k == 0 ? text::area(p.area_mm2) : std::string()});
}

void picture(Writer& w, const Account& a, const Diagnosis& d, bool colour) {
  const HeatMap map = explanation_picture(a, d);
  if (map.counts.empty()) return;
  w.heading(map.title);
  w.raw(heat_map_terminal(map, colour));
  if (!map.caption.empty()) w.paragraph(map.caption);
}

}  // namespace

std::string explanation_text(const std::string& file, const Account& a, const Diagnosis& d,
                             const TextOptions& options) {
  Writer w(options.colour);
  what_it_is(w, file, a);
  const bool on = a.final_state == InputState::running;
  w.heading(a.kind != DumpKind::from_power_up ? "What can be said about input"
            : on                              ? "Why input is on"
                                              : "Why input is off");
  w.paragraph(d.answer);
  // Further causes in full only while they can be read; a restless glass can leave dozens.
  constexpr std::size_t kMostCauses = 4;
  for (std::size_t i = 0; i < d.causes.size() && i < kMostCauses; ++i)
    cause(w, d.causes[i], a, i == 0);
  if (d.causes.size() > kMostCauses)
    w.paragraph(fmt::format("({} more in --json)", d.causes.size() - kMostCauses));
  picture(w, a, d, options.colour);
  chain(w, a, options.all_events);
  device_says(w, a);
  what_to_do(w, d.next_steps);
  list(w, "Cautions", d.cautions);
  list(w, "What this dump can't tell", d.cannot_tell);
  return w.take();
}

HeatMap explanation_picture(const Account& a, const Diagnosis& d) {
  HeatMap map;
  map.shape = a.decisive.shape;
  map.counts = a.decisive.difference;
  map.finger_counts = a.settings.finger_counts;
  map.limit = a.decisive.limit;
  map.pitch_row_mm = a.settings.pitch_row_um / 1000.0;
  map.pitch_col_mm = a.settings.pitch_col_um / 1000.0;
  map.title = text::picture_title(a.decisive.against, text::moment(a.decisive.t_us, a));
  if (d.causes.empty()) return map;
  // What was over before the run that is drawn is not in the picture.
  const CauseFound& first = d.causes.front();
  if (first.ended && first.ended_us < zero_time(a, a.decisive.t_us)) return map;
  map.caption = first.headline;
  if (first.has_place) map.mark = first.box;
  for (const CauseFound& c : d.causes) {
    if (c.ended && c.ended_us < zero_time(a, a.decisive.t_us)) continue;
    if (c.reconstruction) add_outlines(map, *c.reconstruction);
  }
  return map;
}

namespace {

HeatMap like(const Account& a, const SceneMaps& maps) {
  HeatMap map;
  map.shape = maps.shape;
  map.finger_counts = a.settings.finger_counts;
  map.limit = a.decisive.limit;
  map.pitch_row_mm = a.settings.pitch_row_um / 1000.0;
  map.pitch_col_mm = a.settings.pitch_col_um / 1000.0;
  return map;
}

std::vector<std::int16_t> whole(const std::vector<float>& values, float by) {
  std::vector<std::int16_t> out;
  for (const float v : values)
    out.push_back(static_cast<std::int16_t>(
        std::lround(std::clamp(static_cast<double>(v * by), -32767.0, 32767.0))));
  return out;
}

}  // namespace

std::vector<HeatMap> scene_pictures(const Account& a, const Diagnosis& d) {
  const auto first = std::find_if(d.causes.begin(), d.causes.end(),
                                  [](const CauseFound& c) { return c.reconstruction.has_value(); });
  if (first == d.causes.end()) return {};
  const SceneMaps& maps = *first->reconstruction->maps;
  std::vector<HeatMap> out(3, like(a, maps));
  out[0].title = fmt::format("Measured, {} to {}", text::moment(maps.first_us, a),
                             text::moment(maps.last_us, a));
  out[0].counts = whole(maps.measured, 1.0F);
  out[1].title = "Predicted by the panel's model";
  out[1].counts = whole(maps.predicted, 1.0F);
  for (const CauseFound& c : d.causes) {
    if (!c.reconstruction || c.reconstruction->maps.get() != &maps) continue;
    for (HeatMap& map : out) add_outlines(map, *c.reconstruction);
  }
  // One scale for both, so that equal colours are equal readings.
  out[0].full_percent = out[1].full_percent =
      std::max(full_scale_percent(out[0]), full_scale_percent(out[1]));
  HeatMap& left = out[2];
  left.title = "Measured less predicted";
  left.unit = HeatMap::Unit::noise;
  // Tenths of the noise, and numbers from three times the noise on.
  constexpr int kTenths = 10;
  left.counts = whole(maps.residual, kTenths);
  left.finger_counts = 100 * kTenths;
  left.limit = 6 * kTenths;
  return out;
}

}  // namespace bareglass::host
