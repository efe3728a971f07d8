// A scenario as TOML. Numbers are written with as many digits as it takes to read the same number
// again, so that the story is the same to the last bit.
#include <fmt/format.h>

#include <cmath>

#include "bareglass/panel/scenario.hpp"

namespace bareglass::panel {

namespace {

constexpr const char* kFaultKinds[] = {"open_tail", "cut", "bridge", "raised_resistance"};

std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
      out += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
    else
      out += c;
  }
  return out + "\"";
}

std::string capacitance(double pf) {
  return std::isinf(pf) ? "\"earthed\"" : fmt::format("{}", pf);
}

std::string point(field::Point p) { return fmt::format("[{}, {}]", p.x, p.y); }

std::string points(const std::vector<field::Point>& list) {
  std::string out = "[";
  for (const field::Point& p : list) out += (out.size() > 1 ? ", " : "") + point(p);
  return out + "]";
}

/// Lines "key = value" of one table.
class Table {
 public:
  Table(std::string& out, const char* heading) : out_(out) {
    out_ += fmt::format("\n{}\n", heading);
  }
  void set(const char* key, const std::string& raw) { out_ += fmt::format("{} = {}\n", key, raw); }
  void set(const char* key, double value) { set(key, fmt::format("{}", value)); }
  void set(const char* key, int value) { set(key, fmt::format("{}", value)); }
  void set(const char* key, bool value) { set(key, std::string(value ? "true" : "false")); }
  void text(const char* key, const std::string& value) { set(key, quoted(value)); }

 private:
  std::string& out_;
};

void write_front_end(std::string& out, const FrontEndSpec& fe) {
  Table t(out, "[front_end]");
  t.set("counts_per_ff", fe.counts_per_ff);
  t.set("offset_counts", fe.offset_counts);
  t.set("spread_ff", fe.spread_ff);
  t.set("noise_ff", fe.noise_ff);
  t.set("raw_max", int{fe.raw_max});
  t.set("drive_v", fe.drive_v);
  t.set("half_periods", fe.half_periods);
  t.set("row_time_us", fe.row_time_us);
  t.set("supply_min_mv", fe.supply_min_mv);
  t.set("gain_ppm_k", fe.gain_ppm_k);
  t.set("offset_counts_k", fe.offset_counts_k);
}

void write_reference(std::string& out, const ReferenceSpec& r) {
  if (r.frames == 0 && r.gain_percent == 0.0 && r.ageing_ff == 0.0) return;
  Table t(out, "[reference]");
  t.set("frames", r.frames);
  t.set("gain_percent", r.gain_percent);
  t.set("ageing_ff", r.ageing_ff);
}

void write_lines(std::string& out, const LineSpec& lines) {
  Table t(out, "[lines]");
  t.set("sheet_ohm", lines.sheet_ohm);
  t.set("driver_ohm", lines.driver_ohm);
  t.set("trace_pf", lines.trace_pf);
  t.set("half_period_us", lines.half_period_us);
  t.text("driven_at", lines.driven_at == RowEnd::left ? "left" : "right");
  t.text("sensed_at", lines.sensed_at == ColumnEnd::top ? "top" : "bottom");
  t.text("idle_rows", lines.idle == IdleRows::low ? "low" : "floating");
  t.text("amplifiers", lines.amplifiers == Amplifiers::all ? "all" : "one_at_a_time");
}

void write_thresholds(std::string& out, const Settings& s) {
  Table t(out, "[thresholds]");
  t.set("touch_on_percent", s.touch_on_permille / 10.0);
  t.set("touch_off_percent", s.touch_off_permille / 10.0);
  t.set("surface_percent", s.surface_permille / 10.0);
  t.set("unsteady_percent", s.unsteady_permille / 10.0);
  t.set("retry_s", s.retry_ms / 1000.0);
  t.set("wait_s", s.wait_ms / 1000.0);
  t.set("palm_s", s.palm_ms / 1000.0);
  t.set("held_s", s.held_ms / 1000.0);
}

void write_device(std::string& out, const DeviceState& d) {
  Table t(out, "[device]");
  t.set("earth_pf", capacitance(d.earth_pf));
  t.set("supply_mv", d.supply_mv);
  t.set("temperature_c", d.temperature_c);
  t.set("charging", d.charging);
  t.set("docked", d.docked);
}

void write_shape(Table& t, const ThingSpec& thing) {
  t.text("shape", thing.shape);
  const field::Shape& shape = thing.outline->shapes().front();
  if (const auto* disc = std::get_if<field::Disc>(&shape)) {
    t.set("diameter_mm", 2.0 * disc->radius_mm);
  } else if (const auto* stroke = std::get_if<field::Stroke>(&shape)) {
    t.set("width_mm", stroke->width_mm);
    t.set("path_mm", points(stroke->path));
  } else if (thing.shape == "rectangle") {
    const field::Box b = thing.outline->footprint().bounds();
    t.set("width_mm", b.x_high - b.x_low);
    t.set("height_mm", b.y_high - b.y_low);
  } else {
    t.set("corners_mm", points(std::get<field::Polygon>(shape).corners));
  }
  t.set("at_mm", point(thing.place));
}

void write_thing(std::string& out, const ThingSpec& thing) {
  Table t(out, "[[thing]]");
  t.text("name", thing.name);
  if (thing.look != Look::unsaid) t.text("look", word_of(thing.look));
  t.text("kind", thing.is_film ? "film" : "conductor");
  write_shape(t, thing);
  if (thing.tremor_mm > 0.0) t.set("tremor_mm", thing.tremor_mm);
  if (thing.is_film) {
    t.set("film_um", thing.film_um);
    t.set("permittivity", thing.permittivity);
    return;
  }
  t.set("earth_pf", capacitance(thing.earth_pf));
  t.set("device_pf", capacitance(thing.device_pf));
  if (thing.spacer.thickness_um <= 0.0) return;
  t.set("spacer_um", thing.spacer.thickness_um);
  t.set("spacer_permittivity", thing.spacer.permittivity);
}

void write_thing_event(Table& t, const Event& e, const Scenario& scenario) {
  t.text("thing", scenario.things[e.thing].name);
  if (e.to) t.set(e.action == Action::put ? "at_mm" : "to_mm", point(*e.to));
  if (e.film_um >= 0.0) t.set("film_um", e.film_um);
  if (e.action == Action::grow) t.set("to_scale", e.value);
  if (e.action == Action::turn) t.set("to_deg", e.value);
  if (e.earth_pf) t.set("earth_pf", capacitance(*e.earth_pf));
  if (e.device_pf) t.set("device_pf", capacitance(*e.device_pf));
}

void write_fault(Table& t, const LineFault& f) {
  t.text("kind", kFaultKinds[static_cast<int>(f.kind)]);
  t.text("lines", f.of_rows ? "rows" : "columns");
  t.set("first", f.first);
  t.set("last", f.last);
  if (f.kind == LineFault::Kind::cut) t.set("at", f.at);
  if (f.kind == LineFault::Kind::bridged || f.kind == LineFault::Kind::raised_resistance)
    t.set("ohm", f.ohm);
  if (f.mean_there_s <= 0.0 || f.mean_away_s <= 0.0) return;
  t.set("there_s", f.mean_there_s);
  t.set("away_s", f.mean_away_s);
}

void write_event(std::string& out, const Event& e, const Scenario& scenario) {
  Table t(out, "[[event]]");
  t.set("at_s", e.at_s);
  t.text("do", e.word);
  if (e.action <= Action::ground) write_thing_event(t, e, scenario);
  if (e.action == Action::fault || e.action == Action::repair) t.text("name", e.name);
  if (e.action == Action::fault) write_fault(t, e.fault);
  if (e.action == Action::dock || e.action == Action::undock || e.action == Action::earth)
    t.set("earth_pf", capacitance(e.value));
  if (e.action == Action::supply) t.set("to_mv", e.value);
  if (e.action == Action::temperature) t.set("to_c", e.value);
  if (e.action == Action::charger_noise || e.action == Action::ripple) {
    t.set("amplitude_v", e.value);
    t.set("frequency_khz", e.frequency_hz / 1e3);
  }
  if (e.over_s > 0.0) t.set("over_s", e.over_s);
}

}  // namespace

std::string scenario_text(const Scenario& s, const std::string& panel_file) {
  constexpr const char* kPolicies[] = {"lock", "wait", "adopt", "service"};
  std::string out = fmt::format("story = {}\nunit = {}\nseed = {}\nduration_s = {}\n",
                                quoted(s.story), quoted(s.unit_id), s.setup.seed, s.duration_s);
  if (s.record_from_s > 0.0) out += fmt::format("record_from_s = {}\n", s.record_from_s);
  out += fmt::format("policy = \"{}\"\nfactory_reference = {}\n",
                     kPolicies[static_cast<int>(s.policy)], s.factory_reference);
  Table t(out, "[panel]");
  if (!panel_file.empty()) t.text("file", panel_file);
  t.set("glass_mm", s.panel.layers.front().thickness_mm);
  t.set("rows", s.setup.rows);
  t.set("columns", s.setup.columns);
  t.set("frame_period_ms", s.frame_period_us / 1000.0);
  write_thresholds(out, s.thresholds);
  write_front_end(out, s.setup.front_end);
  write_reference(out, s.setup.reference);
  write_lines(out, s.setup.lines);
  write_device(out, s.device);
  for (const ThingSpec& thing : s.things) write_thing(out, thing);
  for (const Event& e : s.events) write_event(out, e, s);
  return out;
}

}  // namespace bareglass::panel
