#include "bareglass/core/settings.hpp"

#include "bareglass/core/arith.hpp"
#include "bareglass/core/conditioning.hpp"

namespace bareglass {

namespace {

constexpr bool within(std::uint64_t v, std::uint64_t low, std::uint64_t high) {
  return v >= low && v <= high;
}

SettingsField validate_panel(const Settings& s) {
  using F = SettingsField;
  if (s.shape.rows < 2 || s.shape.rows > kMaxLines || s.shape.cols < 2 || s.shape.cols > kMaxLines)
    return F::shape;
  if (!within(s.finger_counts, 16, 20000)) return F::finger_counts;
  if (!within(s.pitch_row_um, 1000, 20000)) return F::pitch_row_um;
  if (!within(s.pitch_col_um, 1000, 20000)) return F::pitch_col_um;
  if (!within(s.frame_period_us, 500, 1000000)) return F::frame_period_us;
  if (s.raw_high <= s.raw_low) return F::raw_high;
  if (!within(s.neighbour_permille, 50, 900)) return F::neighbour_permille;
  if (!within(s.saturated_permille, 1, 1000)) return F::saturated_permille;
  return F::none;
}

SettingsField validate_contacts(const Settings& s) {
  using F = SettingsField;
  if (!within(s.quiet_permille, 5, 300)) return F::quiet_permille;
  if (!within(s.touch_on_permille, 50, 1500)) return F::touch_on_permille;
  if (!within(s.touch_off_permille, 20, s.touch_on_permille)) return F::touch_off_permille;
  if (!within(s.debounce_down, 1, 20)) return F::debounce_down;
  if (!within(s.debounce_up, 1, 20)) return F::debounce_up;
  if (!within(s.saddle_permille, 300, 1000)) return F::saddle_permille;
  if (!within(s.palm_mm2, 50, 20000)) return F::palm_mm2;
  if (!within(s.match_um, 1000, 60000)) return F::match_um;
  if (s.track_ms != 0 && !within(s.track_ms, 100, 600000)) return F::track_ms;
  if (!within(s.slew_permille_s, 1, 2000)) return F::slew_permille_s;
  return F::none;
}

SettingsField validate_surface(const Settings& s) {
  using F = SettingsField;
  if (!within(s.surface_permille, s.quiet_permille, s.touch_on_permille))
    return F::surface_permille;
  if (!within(s.smooth_permille, s.surface_permille, 1500)) return F::smooth_permille;
  if (!within(s.smooth_most_permille, 50, 5000)) return F::smooth_most_permille;
  if (!within(s.unsteady_permille, 20, 3000)) return F::unsteady_permille;
  if (s.surface_ms > 60000) return F::surface_ms;
  if (s.palm_ms > 600000) return F::palm_ms;
  if (!within(s.held_ms, 1000, 600000)) return F::held_ms;
  if (!within(s.held_jitter_q8, 1, 512)) return F::held_jitter_q8;
  return F::none;
}

SettingsField validate_start(const Settings& s) {
  using F = SettingsField;
  if (static_cast<std::uint8_t>(s.policy) > 3) return F::policy;
  if (s.settle_ms > 10000) return F::settle_ms;
  if (!within(s.sample_frames, 4, 25)) return F::sample_frames;
  if (!within(s.retry_ms, 10, 60000)) return F::retry_ms;
  if (s.wait_ms != 0 && !within(s.wait_ms, 100, 3600000)) return F::wait_ms;
  if (s.clear_ms > 60000) return F::clear_ms;
  return F::none;
}

}  // namespace

SettingsField validate(const Settings& settings) {
  SettingsField wrong = validate_panel(settings);
  if (wrong == SettingsField::none) wrong = validate_contacts(settings);
  if (wrong == SettingsField::none) wrong = validate_surface(settings);
  if (wrong == SettingsField::none) wrong = validate_start(settings);
  return wrong;
}

const char* name_of(SettingsField field) {
  static constexpr const char* kNames[] = {"none",
                                           "shape",
                                           "finger_counts",
                                           "pitch_row_um",
                                           "pitch_col_um",
                                           "frame_period_us",
                                           "raw_high",
                                           "neighbour_permille",
                                           "saturated_permille",
                                           "quiet_permille",
                                           "touch_on_permille",
                                           "touch_off_permille",
                                           "debounce_down",
                                           "debounce_up",
                                           "saddle_permille",
                                           "palm_mm2",
                                           "match_um",
                                           "track_ms",
                                           "slew_permille_s",
                                           "surface_permille",
                                           "smooth_permille",
                                           "smooth_most_permille",
                                           "unsteady_permille",
                                           "surface_ms",
                                           "palm_ms",
                                           "held_ms",
                                           "held_jitter_q8",
                                           "policy",
                                           "settle_ms",
                                           "sample_frames",
                                           "retry_ms",
                                           "wait_ms",
                                           "clear_ms"};
  static_assert(
      sizeof(kNames) / sizeof(kNames[0]) == static_cast<std::size_t>(SettingsField::clear_ms) + 1,
      "one name per field");
  return kNames[static_cast<std::uint8_t>(field)];
}

namespace {

// A baseline in Q8 that moves by less than 1/256 of a difference does not move at all for small
// ones, and a slew limit of less than a few steps of Q8 is rounded out of recognition. So a node
// waits until a move is that large: the time constants hold however short the frames are.
void set_tracking(Limits& l, const Settings& s) {
  constexpr std::uint32_t kLeastLambda = 256;  // Q16
  constexpr std::uint64_t kLeastSlew = 4;      // Q8
  constexpr std::uint32_t kSecond = 1000000000;
  const std::uint64_t turn_us = static_cast<std::uint64_t>(s.frame_period_us) * kRowTurns;
  const std::uint32_t track_us = s.track_ms * 1000;
  // Counts Q8 per turn, times kSecond.
  const std::uint64_t slew = s.finger_counts * turn_us * s.slew_permille_s * 256;
  const auto turns_for = [](std::uint64_t wanted, std::uint64_t per_turn) {
    std::uint32_t turns = 1;
    while (turns * per_turn < wanted) ++turns;
    return turns;
  };
  const std::uint32_t by_lambda =
      turns_for(static_cast<std::uint64_t>(track_us) * kLeastLambda, turn_us * 65536);
  const std::uint32_t by_slew = turns_for(kLeastSlew * kSecond, slew);
  l.track_turns = by_lambda > by_slew ? by_lambda : by_slew;
  const std::uint64_t us = turn_us * l.track_turns;
  if (track_us != 0) {
    const std::uint64_t lambda =
        us >= track_us ? 65536 : divide_u64(us * 65536 + track_us / 2, track_us);
    l.track_lambda_q16 = static_cast<std::int32_t>(lambda);
  }
  l.slew_q8 = static_cast<std::int32_t>(divide_u64(slew * l.track_turns + kSecond / 2, kSecond));
}

}  // namespace

Limits limits_of(const Settings& s) {
  // A weak panel's smallest shares round to nothing, and a limit of nothing is met by every node.
  const auto at_least_one = [&s](std::int32_t permille) {
    const std::int32_t counts = permille_of(s.finger_counts, permille);
    return counts < 1 ? 1 : counts;
  };
  Limits l;
  l.quiet = at_least_one(s.quiet_permille);
  l.touch_on = at_least_one(s.touch_on_permille);
  l.touch_off = at_least_one(s.touch_off_permille);
  l.surface = at_least_one(s.surface_permille);
  l.smooth = at_least_one(s.smooth_permille);
  const std::int32_t most = at_least_one(s.smooth_most_permille);
  l.smooth_most = most > l.smooth ? most : l.smooth;
  l.unsteady = at_least_one(s.unsteady_permille);
  set_tracking(l, s);
  const std::uint32_t node_area =
      static_cast<std::uint32_t>(s.pitch_row_um) * s.pitch_col_um;  // µm²
  const std::uint64_t palm =
      divide_u64(static_cast<std::uint64_t>(s.palm_mm2) * 1000000, node_area);
  l.palm_nodes = palm < 2 ? 2 : static_cast<std::int32_t>(palm);
  return l;
}

}  // namespace bareglass
