#include <fmt/format.h>

#include "bareglass/host/capture/crc32c_fast.hpp"
#include "bareglass/host/report.hpp"
#include "bareglass/host/text.hpp"

namespace bareglass::host {

std::uint32_t settings_mark(const Settings& s) {
  std::string all;
  const auto add = [&](const char* name, std::int64_t value) {
    all += fmt::format("{}={};", name, value);
  };
  add("rows", s.shape.rows);
  add("columns", s.shape.cols);
  add("finger_counts", s.finger_counts);
  add("counts_rise", s.counts_rise ? 1 : 0);
  add("pitch_row_um", s.pitch_row_um);
  add("pitch_col_um", s.pitch_col_um);
  add("frame_period_us", s.frame_period_us);
  add("raw_low", s.raw_low);
  add("raw_high", s.raw_high);
  add("neighbour_permille", s.neighbour_permille);
  add("saturated_permille", s.saturated_permille);
  add("quiet_permille", s.quiet_permille);
  add("touch_on_permille", s.touch_on_permille);
  add("touch_off_permille", s.touch_off_permille);
  add("debounce_down", s.debounce_down);
  add("debounce_up", s.debounce_up);
  add("saddle_permille", s.saddle_permille);
  add("palm_mm2", s.palm_mm2);
  add("match_um", s.match_um);
  add("track_ms", s.track_ms);
  add("slew_permille_s", s.slew_permille_s);
  add("surface_permille", s.surface_permille);
  add("smooth_permille", s.smooth_permille);
  add("unsteady_permille", s.unsteady_permille);
  add("surface_ms", s.surface_ms);
  add("held_ms", s.held_ms);
  add("held_jitter_q8", s.held_jitter_q8);
  add("policy", static_cast<int>(s.policy));
  add("settle_ms", s.settle_ms);
  add("sample_frames", s.sample_frames);
  add("retry_ms", s.retry_ms);
  add("wait_ms", s.wait_ms);
  add("clear_ms", s.clear_ms);
  return crc32c_fast(0, reinterpret_cast<const std::uint8_t*>(all.data()), all.size());
}

}  // namespace bareglass::host
