#pragma once
// Every setting once: the table and key that a settings file has for it, and its field. What reads,
// writes or compares settings goes through here, so that none can be forgotten.

#include <cstdint>
#include <string>

#include "bareglass/core/settings.hpp"

namespace bareglass::host {

static_assert(sizeof(Settings) == 96, "a field that is new in Settings belongs into this table");

/// Calls `visit(table, key, field)` for every setting. The order stays as it is: the mark of
/// settings in a report depends on it. `S`: Settings or const Settings.
template <typename S, typename Visit>
void for_each_setting(S& s, Visit visit) {
  visit("panel", "rows", s.shape.rows);
  visit("panel", "columns", s.shape.cols);
  visit("panel", "finger_counts", s.finger_counts);
  visit("panel", "counts_rise", s.counts_rise);
  visit("panel", "pitch_row_um", s.pitch_row_um);
  visit("panel", "pitch_col_um", s.pitch_col_um);
  visit("panel", "frame_period_us", s.frame_period_us);
  visit("panel", "raw_low", s.raw_low);
  visit("panel", "raw_high", s.raw_high);
  visit("panel", "neighbour_permille", s.neighbour_permille);
  visit("checks", "saturated_permille", s.saturated_permille);
  visit("checks", "quiet_permille", s.quiet_permille);
  visit("contacts", "touch_on_permille", s.touch_on_permille);
  visit("contacts", "touch_off_permille", s.touch_off_permille);
  visit("contacts", "debounce_down", s.debounce_down);
  visit("contacts", "debounce_up", s.debounce_up);
  visit("contacts", "saddle_permille", s.saddle_permille);
  visit("contacts", "palm_mm2", s.palm_mm2);
  visit("contacts", "match_um", s.match_um);
  visit("tracking", "track_ms", s.track_ms);
  visit("tracking", "slew_permille_s", s.slew_permille_s);
  visit("surface", "surface_permille", s.surface_permille);
  visit("surface", "smooth_permille", s.smooth_permille);
  visit("surface", "smooth_most_permille", s.smooth_most_permille);
  visit("surface", "unsteady_permille", s.unsteady_permille);
  visit("surface", "surface_ms", s.surface_ms);
  visit("surface", "palm_ms", s.palm_ms);
  visit("surface", "held_ms", s.held_ms);
  visit("surface", "held_jitter_q8", s.held_jitter_q8);
  visit("start", "policy", s.policy);
  visit("start", "settle_ms", s.settle_ms);
  visit("start", "sample_frames", s.sample_frames);
  visit("start", "retry_ms", s.retry_ms);
  visit("start", "wait_ms", s.wait_ms);
  visit("start", "clear_ms", s.clear_ms);
}

/// What `validate` allows one field. An end that another setting gives is named.
struct SettingRange {
  std::int64_t low = 0;
  std::int64_t high = 0;
  std::string low_name, high_name;
  bool or_zero = false;
};

/// For every field but `none`; `settings` give the ends that depend on others.
SettingRange range_of(SettingsField field, const Settings& settings);

/// "from 20 to 300 (touch_on_permille)", "0 or from 100 to 600000". Where other settings leave no
/// room it says so.
std::string range_text(const SettingRange& range);

}  // namespace bareglass::host
