#include "csv_panel.hpp"

#include <fmt/format.h>

#include <array>

#include "csv_text.hpp"

namespace bareglass::host {

namespace {

/// 1 m: no panel's lines lie further apart, and nanometres still fit 32 bits.
constexpr double kMostPitchMm = 1000;

struct PanelKey {
  std::string_view name;
  void (*take)(PanelDescription& panel, std::string_view value);
  /// Empty if not known.
  std::string (*show)(const PanelDescription& panel);
};

int lines_in(std::string_view value, const char* what) {
  return static_cast<int>(integer_in(value, 1, kMaxCaptureLines, what));
}

std::uint32_t number32_in(std::string_view value, const char* what) {
  return static_cast<std::uint32_t>(integer_in(value, 0, UINT32_MAX, what));
}

template <typename T>
std::string unless_zero(T value) {
  return value > T{0} ? fmt::format("{}", value) : std::string();
}

using Panel = PanelDescription;
using Text = std::string_view;

const std::array<PanelKey, 12> kKeys = {{
    {"rows", [](Panel& p, Text v) { p.rows = lines_in(v, "rows"); },
     [](const Panel& p) { return unless_zero(p.rows); }},
    {"cols", [](Panel& p, Text v) { p.cols = lines_in(v, "cols"); },
     [](const Panel& p) { return unless_zero(p.cols); }},
    {"pitch_row_mm",
     [](Panel& p, Text v) {
       p.pitch_row_mm = v.empty() ? 0 : decimal_in(v, kMostPitchMm, "pitch_row_mm");
     },
     [](const Panel& p) { return unless_zero(p.pitch_row_mm); }},
    {"pitch_col_mm",
     [](Panel& p, Text v) {
       p.pitch_col_mm = v.empty() ? 0 : decimal_in(v, kMostPitchMm, "pitch_col_mm");
     },
     [](const Panel& p) { return unless_zero(p.pitch_col_mm); }},
    {"finger_counts",
     [](Panel& p, Text v) {
       p.finger_counts =
           v.empty() ? 0 : static_cast<int>(integer_in(v, 0, INT32_MAX, "finger_counts"));
     },
     [](const Panel& p) { return unless_zero(p.finger_counts); }},
    {"counts_rise",
     [](Panel& p, Text v) { p.counts_rise = !v.empty() && flag_in(v, "counts_rise"); },
     [](const Panel& p) { return std::string(p.counts_rise ? "true" : ""); }},
    {"frame_period_us",
     [](Panel& p, Text v) {
       p.frame_period_us = v.empty() ? 0 : number32_in(v, "frame_period_us");
     },
     [](const Panel& p) { return unless_zero(p.frame_period_us); }},
    {"unit", [](Panel& p, Text v) { p.unit_id = unescaped(v); },
     [](const Panel& p) { return escaped(p.unit_id); }},
    {"panel", [](Panel& p, Text v) { p.panel_name = unescaped(v); },
     [](const Panel& p) { return escaped(p.panel_name); }},
    {"firmware", [](Panel& p, Text v) { p.firmware = unescaped(v); },
     [](const Panel& p) { return escaped(p.firmware); }},
    {"raw_max",
     [](Panel& p, Text v) {
       p.raw_max.reset();
       if (!v.empty()) p.raw_max = number32_in(v, "raw_max");
     },
     [](const Panel& p) { return p.raw_max ? fmt::format("{}", *p.raw_max) : std::string(); }},
    {"power_up_us",
     [](Panel& p, Text v) {
       p.power_up_us.reset();
       if (!v.empty()) p.power_up_us = time_in(v, "power_up_us");
     },
     [](const Panel& p) {
       return p.power_up_us ? fmt::format("{}", *p.power_up_us) : std::string();
     }},
}};

const PanelKey* key_of(std::string_view name) {
  for (const PanelKey& key : kKeys)
    if (key.name == name) return &key;
  return nullptr;
}

}  // namespace

bool is_panel_key(std::string_view key) { return key_of(key) != nullptr; }

bool take_panel_key(PanelDescription& panel, std::string_view key, std::string_view value) {
  const PanelKey* known = key_of(key);
  if (known == nullptr) return false;
  known->take(panel, trimmed(value));
  return true;
}

std::string panel_lines(const PanelDescription& panel, const PanelDescription& before) {
  std::string lines;
  for (const PanelKey& key : kKeys) {
    const std::string value = key.show(panel);
    const bool shape = key.name == "rows" || key.name == "cols";
    if (shape || value != key.show(before))
      lines += fmt::format("# {}:{}{}\n", key.name, value.empty() ? "" : " ", value);
  }
  return lines;
}

}  // namespace bareglass::host
