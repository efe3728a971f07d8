// The ranges that the core's `validate` holds settings against, in words. A test holds the two
// against each other, end by end.

#include <fmt/format.h>

#include "bareglass/settings/settings_table.hpp"

namespace bareglass::host {

namespace {

SettingRange between(std::int64_t low, std::int64_t high) {
  SettingRange range;
  range.low = low;
  range.high = high;
  return range;
}

SettingRange zero_or(std::int64_t low, std::int64_t high) {
  SettingRange range = between(low, high);
  range.or_zero = true;
  return range;
}

SettingRange panel_range(SettingsField field, const Settings& s) {
  switch (field) {
    case SettingsField::finger_counts:
      return between(16, 20000);
    case SettingsField::pitch_row_um:
    case SettingsField::pitch_col_um:
      return between(1000, 20000);
    case SettingsField::frame_period_us:
      return between(500, 1000000);
    case SettingsField::raw_high:
      return {s.raw_low + std::int64_t{1}, 65535, "above raw_low", "", false};
    case SettingsField::neighbour_permille:
      return between(50, 900);
    case SettingsField::saturated_permille:
      return between(1, 1000);
    case SettingsField::quiet_permille:
      return between(5, 300);
    default:
      return between(2, kMaxLines);
  }
}

SettingRange contact_range(SettingsField field, const Settings& s) {
  switch (field) {
    case SettingsField::touch_on_permille:
      return between(50, 1500);
    case SettingsField::touch_off_permille:
      return {20, s.touch_on_permille, "", "touch_on_permille", false};
    case SettingsField::debounce_down:
    case SettingsField::debounce_up:
      return between(1, 20);
    case SettingsField::saddle_permille:
      return between(300, 1000);
    case SettingsField::palm_mm2:
      return between(50, 20000);
    case SettingsField::match_um:
      return between(1000, 60000);
    case SettingsField::track_ms:
      return zero_or(100, 600000);
    case SettingsField::slew_permille_s:
      return between(1, 2000);
    default:
      return panel_range(field, s);
  }
}

}  // namespace

SettingRange range_of(SettingsField field, const Settings& s) {
  switch (field) {
    case SettingsField::surface_permille:
      return {s.quiet_permille, s.touch_on_permille, "quiet_permille", "touch_on_permille", false};
    case SettingsField::smooth_permille:
      return {s.surface_permille, 1500, "surface_permille", "", false};
    case SettingsField::smooth_most_permille:
      return between(50, 5000);
    case SettingsField::unsteady_permille:
      return between(20, 3000);
    case SettingsField::palm_ms:
      return between(0, 600000);
    case SettingsField::held_ms:
      return between(1000, 600000);
    case SettingsField::held_jitter_q8:
      return between(1, 512);
    case SettingsField::policy:
      return between(0, 3);
    case SettingsField::settle_ms:
      return between(0, 10000);
    case SettingsField::sample_frames:
      return between(4, 25);
    case SettingsField::retry_ms:
      return between(10, 60000);
    case SettingsField::wait_ms:
      return zero_or(100, 3600000);
    case SettingsField::surface_ms:
    case SettingsField::clear_ms:
      return between(0, 60000);
    default:
      return contact_range(field, s);
  }
}

std::string range_text(const SettingRange& range) {
  const auto end = [](std::int64_t value, const std::string& name) {
    return name.empty() ? fmt::format("{}", value) : fmt::format("{} ({})", value, name);
  };
  const std::string low = end(range.low, range.low_name);
  const std::string high = end(range.high, range.high_name);
  if (range.low > range.high)
    return fmt::format("from {} to {}, which no value is: change the settings named first", low,
                       high);
  return fmt::format("{}from {} to {}", range.or_zero ? "0 or " : "", low, high);
}

}  // namespace bareglass::host
