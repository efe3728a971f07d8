#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "bareglass/panel/scenario_tables.hpp"
#include "bareglass/settings/toml_text.hpp"
#include "scenario_limits.hpp"

namespace bareglass::panel {

namespace {

constexpr double kLargest = 500.0;  // mm
// Enough for an afternoon at the live panel, where every stroke of the mouse is an event.
constexpr std::size_t kMostThings = 1000;
constexpr std::size_t kMostEvents = 200'000;
// That many events of the live panel, 100 bytes each, and some.
constexpr std::size_t kMostBytes = 32 * plain::kMostTomlBytes;
constexpr char kWhat[] = "a TOML scenario";

void read_front_end(FrontEndSpec& fe, const Section& s, const LineSpec& lines) {
  s.allow_only({"counts_per_ff", "offset_counts", "spread_ff", "noise_ff", "raw_max", "drive_v",
                "half_periods", "row_time_us", "supply_min_mv", "gain_ppm_k", "offset_counts_k"});
  fe.counts_per_ff = s.number("counts_per_ff", fe.counts_per_ff, 0.01, 10000, " counts/fF");
  fe.offset_counts = s.number("offset_counts", fe.offset_counts, -65535, 65535, " counts");
  fe.spread_ff = s.number("spread_ff", fe.spread_ff, 0, 1000, " fF");
  fe.noise_ff = s.number("noise_ff", fe.noise_ff, 0, 1000, " fF");
  fe.raw_max = static_cast<std::uint16_t>(s.whole("raw_max", fe.raw_max, 255, 65535));
  fe.drive_v = s.number("drive_v", fe.drive_v, 0.5, 100, " V");
  fe.half_periods = static_cast<int>(s.whole("half_periods", fe.half_periods, 2, 10000));
  const double least = fe.half_periods * lines.half_period_us;
  fe.row_time_us = s.number("row_time_us", std::max(fe.row_time_us, least), least, 1e6,
                            " us (from half_periods times lines.half_period_us on)");
  fe.supply_min_mv = s.number("supply_min_mv", fe.supply_min_mv, 500, 65535, " mV");
  fe.gain_ppm_k = s.number("gain_ppm_k", fe.gain_ppm_k, -10000, 10000, " ppm/K");
  fe.offset_counts_k = s.number("offset_counts_k", fe.offset_counts_k, -1000, 1000, " counts/K");
}

void read_factory_reference(ReferenceSpec& r, const Section& s) {
  s.allow_only({"frames", "gain_percent", "ageing_ff"});
  r.frames = static_cast<int>(s.whole("frames", r.frames, 0, 100000));
  r.gain_percent = s.number("gain_percent", r.gain_percent, -50, 50, " %");
  r.ageing_ff = s.number("ageing_ff", r.ageing_ff, 0, 1000, " fF");
}

void read_lines(LineSpec& lines, const Section& s) {
  s.allow_only({"sheet_ohm", "driver_ohm", "trace_pf", "half_period_us", "driven_at", "sensed_at",
                "idle_rows", "amplifiers"});
  lines.sheet_ohm = s.number("sheet_ohm", lines.sheet_ohm, 0, 10000, " ohm per square");
  lines.driver_ohm = s.number("driver_ohm", lines.driver_ohm, 1, 1e6, " ohm");
  lines.trace_pf = s.number("trace_pf", lines.trace_pf, 0, 1000, " pF");
  lines.half_period_us = s.number("half_period_us", lines.half_period_us, 0.05, 1000, " us");
  lines.driven_at = static_cast<RowEnd>(s.word("driven_at", 0, {"left", "right"}));
  lines.sensed_at = static_cast<ColumnEnd>(s.word("sensed_at", 1, {"top", "bottom"}));
  lines.idle = static_cast<IdleRows>(s.word("idle_rows", 0, {"low", "floating"}));
  lines.amplifiers = static_cast<Amplifiers>(s.word("amplifiers", 0, {"all", "one_at_a_time"}));
}

void read_device(DeviceState& d, const Section& s) {
  s.allow_only({"earth_pf", "supply_mv", "temperature_c", "charging", "docked"});
  d.earth_pf = s.capacitance("earth_pf", d.earth_pf);
  if (d.earth_pf <= 0.0) s.fail("earth_pf", "expected more than 0 pF or \"earthed\"");
  d.supply_mv = s.number("supply_mv", d.supply_mv, 0, 65535, " mV");
  d.temperature_c = s.number("temperature_c", d.temperature_c, -40, 85, " C");
  d.charging = s.flag("charging", false);
  d.docked = s.flag("docked", false);
}

// Outlines given by coordinates are brought to their own middle, so that they grow about it.
void read_coordinates(ThingSpec& thing, field::Shape shape, const Section& s) {
  const Outline raw({shape});
  const field::Box b = raw.footprint().bounds();
  const field::Point middle{0.5 * (b.x_low + b.x_high), 0.5 * (b.y_low + b.y_high)};
  thing.outline = std::make_shared<const Outline>(
      std::vector<field::Shape>{panel::moved(std::move(shape), {-middle.x, -middle.y})});
  const field::Point at = s.has("at_mm") ? s.point("at_mm") : field::Point{};
  thing.place = {at.x + middle.x, at.y + middle.y};
}

void read_shape(ThingSpec& thing, const Section& s, std::vector<std::string_view>& keys) {
  const std::vector<std::string_view> words = {"disc", "rectangle", "stroke", "polygon"};
  const std::size_t shape = s.word("shape", words);
  thing.shape = words[shape];
  const auto length = [&](std::string_view key) {
    keys.push_back(key);
    return s.number(key, 0.2, kLargest, " mm");
  };
  if (shape == 0) {
    thing.outline = Outline::disc(length("diameter_mm"));
    thing.place = s.point("at_mm");
  } else if (shape == 1) {
    const double width = length("width_mm");
    thing.outline = Outline::rectangle(width, length("height_mm"));
    thing.place = s.point("at_mm");
  } else if (shape == 2) {
    const double width = length("width_mm");
    keys.push_back("path_mm");
    read_coordinates(thing, field::Stroke{s.points("path_mm", 1), width}, s);
  } else {
    keys.push_back("corners_mm");
    read_coordinates(thing, field::Polygon{s.points("corners_mm", 3)}, s);
  }
}

ThingSpec read_thing(const Section& s) {
  ThingSpec t;
  t.name = s.text("name");
  t.is_film = s.word("kind", {"conductor", "film"}) == 1;
  std::vector<std::string_view> keys = {"name",  "look",   "kind",    "shape",
                                        "at_mm", "from_s", "until_s", "tremor_mm"};
  if (s.has("look"))
    t.look = static_cast<Look>(1 + s.word("look", {"finger", "hand", "tape", "paper", "drop",
                                                   "wet_film", "residue", "metal", "bezel_fluid"}));
  read_shape(t, s, keys);
  t.tremor_mm = s.number("tremor_mm", 0.0, 0, 10, " mm");
  if (t.is_film) {
    keys.insert(keys.end(), {"film_um", "permittivity"});
    t.film_um = s.number("film_um", 0, 5000, " um");
    t.permittivity = s.number("permittivity", 1, 200, "");
  } else {
    keys.insert(keys.end(),
                {"earth_pf", "device_pf", "touches_bezel", "spacer_um", "spacer_permittivity"});
    t.earth_pf = s.capacitance("earth_pf", 0.0);
    t.device_pf = s.flag("touches_bezel", false) ? kConnected : s.capacitance("device_pf", 0.0);
    t.spacer.thickness_um = s.number("spacer_um", 0.0, 0, 5000, " um");
    if (t.spacer.thickness_um > 0.0)
      t.spacer.permittivity = s.number("spacer_permittivity", 1, 200, "");
  }
  s.allow_only(keys);
  return t;
}

void read_panel(Scenario& out, const Section& s) {
  s.allow_only({"file", "glass_mm", "rows", "columns", "frame_period_ms"});
  out.setup.rows = static_cast<int>(s.whole("rows", 16, 2, 128));
  out.setup.columns = static_cast<int>(s.whole("columns", 10, 2, 128));
  out.frame_period_us = static_cast<std::uint32_t>(
      s.number("frame_period_ms", 20.0, 0.5, 1000, " ms") * 1000.0 + 0.5);
  const double glass_mm = s.number("glass_mm", 1.1, 0.3, 10, " mm");
  if (!s.has("file") && s.has("glass_mm")) {
    out.panel_path.clear();
    out.panel = field::reference_panel(glass_mm);
    return;
  }
  const std::filesystem::path named = s.path("file");
  const std::filesystem::path path =
      named.is_absolute() ? named : std::filesystem::path(out.file).parent_path() / named;
  try {
    out.panel_path = path.lexically_normal().string();
    out.panel = field::load_panel(out.panel_path);
    if (s.has("glass_mm")) out.panel.layers.front().thickness_mm = glass_mm;
  } catch (const field::PanelError& e) {
    s.fail("file", fmt::format("expected a panel file; {}", e.what()));
  }
}

void read_thresholds(Settings& t, const Section& s) {
  s.allow_only({"touch_on_percent", "touch_off_percent", "surface_percent", "unsteady_percent",
                "retry_s", "wait_s", "palm_s", "held_s"});
  const auto permille = [&](std::uint16_t& value, std::string_view key, double low, double high) {
    const double percent = s.number(key, value / 10.0, low, high, " percent of a finger");
    value = static_cast<std::uint16_t>(percent * 10.0 + 0.5);
  };
  // Below the quiet limit no surface_percent would be left.
  permille(t.touch_on_permille, "touch_on_percent", std::max(5.0, t.quiet_permille / 10.0), 150);
  permille(t.touch_off_permille, "touch_off_percent", 2, t.touch_on_permille / 10.0);
  permille(t.surface_permille, "surface_percent", t.quiet_permille / 10.0,
           t.touch_on_permille / 10.0);
  permille(t.unsteady_permille, "unsteady_percent", 2, 300);
  const auto milliseconds = [&](std::uint32_t& value, std::string_view key, double low,
                                double high) {
    value = static_cast<std::uint32_t>(s.number(key, value / 1000.0, low, high, " s") * 1000 + 0.5);
  };
  milliseconds(t.retry_ms, "retry_s", 0.01, 60);
  milliseconds(t.wait_ms, "wait_s", 0, kLongest);
  milliseconds(t.palm_ms, "palm_s", 0, 600);
  milliseconds(t.held_ms, "held_s", 1, 600);
}

void read_things(Scenario& out, const Section& root) {
  for (const Section& s : root.tables("thing")) {
    if (out.things.size() == kMostThings)
      root.fail("thing", fmt::format("expected at most {} things", kMostThings));
    ThingSpec thing = read_thing(s);
    for (const ThingSpec& t : out.things)
      if (t.name == thing.name) s.fail("name", "expected a name that no other thing has");
    out.things.push_back(std::move(thing));
    read_presence(out.events, s, out.things.size() - 1);
  }
  const std::vector<Section> tables = root.tables("event");
  if (tables.size() > kMostEvents)
    root.fail("event", fmt::format("expected at most {} events", kMostEvents));
  for (const Section& s : tables) out.events.push_back(read_event(s, out));
  std::stable_sort(out.events.begin(), out.events.end(),
                   [](const Event& a, const Event& b) { return a.at_s < b.at_s; });
}

void read_head(Scenario& out, const Section& root) {
  out.story = root.text("story");
  out.unit_id = root.text("unit");
  out.setup.seed = static_cast<std::uint64_t>(root.whole("seed", 0, 1'000'000'000));
  out.duration_s = root.number("duration_s", 0.1, kLongest, " s");
}

void read_body(Scenario& out, const Section& root) {
  root.allow_only({"story", "unit", "seed", "duration_s", "record_from_s", "policy",
                   "factory_reference", "thresholds", "panel", "front_end", "reference", "lines",
                   "device", "thing", "event"});
  out.record_from_s = root.number("record_from_s", 0.0, 0, out.duration_s, " s");
  out.policy =
      static_cast<StartPolicy>(root.word("policy", 0, {"lock", "wait", "adopt", "service"}));
  out.factory_reference = root.flag("factory_reference", true);
  read_thresholds(out.thresholds, root.table("thresholds"));
  if (!root.has("panel"))
    root.fail("panel", "missing; expected a table [panel] with file or glass_mm");
  read_panel(out, root.table("panel"));
  read_lines(out.setup.lines, root.table("lines"));
  read_front_end(out.setup.front_end, root.table("front_end"), out.setup.lines);
  const double scan_us = out.setup.front_end.row_time_us * out.setup.rows;
  if (scan_us > out.frame_period_us)
    root.table("panel").fail(
        "frame_period_ms",
        fmt::format("expected at least {} ms: {} rows of {} us each", scan_us / 1000.0,
                    out.setup.rows, out.setup.front_end.row_time_us));
  read_factory_reference(out.setup.reference, root.table("reference"));
  read_device(out.device, root.table("device"));
  read_things(out, root);
}

Scenario read(const toml::table& table, const std::string& file) {
  const Section root(table, file, "");
  Scenario out;
  out.file = file;
  read_head(out, root);
  read_body(out, root);
  return out;
}

}  // namespace

const char* word_of(Look look) {
  constexpr const char* kWords[] = {"",     "finger",   "hand",    "tape",  "paper",
                                    "drop", "wet_film", "residue", "metal", "bezel_fluid"};
  return kWords[static_cast<int>(look)];
}

Scenario read_scene(const Section& table, const Scenario& defaults, const std::string& file) {
  Scenario out = defaults;
  out.file = file;
  if (table.has("story")) out.story = table.text("story");
  if (table.has("unit")) out.unit_id = table.text("unit");
  out.setup.seed = static_cast<std::uint64_t>(
      table.whole("seed", static_cast<std::int64_t>(defaults.setup.seed), 0, 1'000'000'000));
  out.duration_s = table.number("duration_s", defaults.duration_s, 0.1, kLongest, " s");
  read_body(out, table);
  return out;
}

Scenario parse_scenario(const std::string& text, const std::string& file) {
  return read(host::parse_toml(text, file, kWhat, kMostBytes), file);
}

Scenario load_scenario(const std::string& path) {
  return parse_scenario(host::read_toml_text(path, kWhat, kMostBytes), path);
}

}  // namespace bareglass::panel
