#pragma once
// Every number that steers the core, in physical or relative units. Limits on signals are written
// in permille of the panel's nominal finger signal, so that one set serves panels of any gain.

#include <cstdint>

#include "bareglass/core/types.hpp"

namespace bareglass {

/// What the start-up supervisor does about something on the glass. All four are met in the field
/// (common practice, no source).
enum class StartPolicy : std::uint8_t {
  lock = 0,     ///< input stays off until the next power-up
  wait = 1,     ///< look again at intervals, start when the glass is bare, give up after a limit
  adopt = 2,    ///< take the baseline with the object in it and go on (kept for comparison: it
                ///< is what leaves dead areas and phantom touches behind)
  service = 3,  ///< enter a set-up mode for the technician; input stays off
};

/// Plain data; a default-constructed Settings is valid once `shape` is set.
struct Settings {
  // --- the panel -----------------------------------------------------------------------------
  Shape shape;  ///< nodes, 2..128 lines each way
  std::uint16_t finger_counts =
      3500;                  ///< nominal signal of an 8 mm grounded contact, counts, 16..20000
  bool counts_rise = false;  ///< true if a finger raises the counts of this front end
  std::uint16_t pitch_row_um = 5000;  ///< distance between neighbouring rows, µm, 1000..20000
  std::uint16_t pitch_col_um = 5000;  ///< distance between neighbouring columns, µm, 1000..20000
  std::uint32_t frame_period_us = 8000;  ///< nominal time between frames, 500..1000000 µs
  std::uint16_t raw_low = 16;            ///< counts at or below are taken as saturated, 0..65534
  std::uint16_t raw_high = 65519;  ///< counts at or above are taken as saturated, above raw_low
  std::uint16_t neighbour_permille =
      355;  ///< signal of the next line under a centred finger, 50..900;
            ///< default from a field solution of an 8 mm disc on 1.1 mm glass

  // --- frame checks --------------------------------------------------------------------------
  std::uint16_t saturated_permille = 20;  ///< share of saturated nodes that spoils a frame, 1..1000

  // --- common mode ---------------------------------------------------------------------------
  std::uint16_t quiet_permille = 60;  ///< |difference| up to here counts as untouched: feeds the
                                      ///< common-mode estimate, the noise and the tracking, 5..300

  // --- contacts ------------------------------------------------------------------------------
  std::uint16_t touch_on_permille = 300;   ///< a contact begins here, 50..1500 (common practice)
  std::uint16_t touch_off_permille = 200;  ///< and ends below here, 20..touch_on
  std::uint8_t debounce_down = 2;  ///< frames a contact must be seen before it is reported, 1..20
  std::uint8_t debounce_up = 2;    ///< frames it must be missing before it is lifted, 1..20
  std::uint16_t saddle_permille = 950;  ///< two peaks are two contacts if the valley between them
                                        ///< is below this share of the lower peak, 300..1000
  std::uint16_t palm_mm2 = 800;  ///< a palm's area above half of its peak is at least this, and not
                                 ///< as narrow as fingers in a row, mm², 50..20000
  std::uint16_t match_um = 20000;  ///< farthest a contact moves between two frames, µm, 1000..60000

  // --- tracking ------------------------------------------------------------------------------
  std::uint32_t track_ms = 4000;  ///< time constant of the baseline, ms, 0 (off) or 100..600000
  std::uint16_t slew_permille_s =
      50;  ///< fastest baseline movement, permille of finger per second, 1..2000

  // --- things on the glass -------------------------------------------------------------------
  std::uint16_t surface_permille = 80;  ///< regions are looked for from here on, quiet..touch_on
  std::uint16_t smooth_permille = 200;  ///< the same without a factory reference, against the
                                        ///< panel's own smoothness: the least limit, which
                                        ///< follows the panel's spread, surface..1500
  std::uint16_t smooth_most_permille = 550;  ///< farthest that this limit follows the spread;
                                             ///< beyond it a glass is not called bare without a
                                             ///< reference, 50..5000. From 550 on 8 mm may hide
  std::uint16_t unsteady_permille = 200;  ///< range of one node over the start-up sample that means
                                          ///< something moved, 20..3000
  std::uint32_t surface_ms = 2000;  ///< how long what no hand can be must stay to be a finding, ms,
                                    ///< 0..60000
  std::uint32_t palm_ms = 30000;    ///< how long a palm, or what a hand could be, may lie before
                                  ///< input pauses, ms, 0..600000; contacts are held back meanwhile
  std::uint32_t held_ms = 60000;     ///< a contact that stands still this long is judged, ms,
                                     ///< 1000..600000; people wander by more within seconds
  std::uint16_t held_jitter_q8 = 5;  ///< largest movement of a contact's averaged place, beyond its
                                     ///< noise, that counts as still, 1/256 pitch, 1..512

  // --- start-up ------------------------------------------------------------------------------
  StartPolicy policy = StartPolicy::lock;
  std::uint32_t settle_ms = 40;     ///< frames of this time from the first one on are dropped, and
                                    ///< more while the front end drifts, 0..10000
  std::uint8_t sample_frames = 16;  ///< frames of one look at the glass, 4..25
  std::uint32_t retry_ms = 1000;    ///< time between two looks while input is off, 10..60000
  std::uint32_t wait_ms =
      120000;  ///< policy wait gives up after this, ms, 0 (never) or 100..3600000
  std::uint32_t clear_ms =
      1000;  ///< how long the glass must be bare before input returns, 0..60000
};

/// Which field `validate` objects to. One name per field, in the order of Settings.
enum class SettingsField : std::uint8_t {
  none,
  shape,
  finger_counts,
  pitch_row_um,
  pitch_col_um,
  frame_period_us,
  raw_high,
  neighbour_permille,
  saturated_permille,
  quiet_permille,
  touch_on_permille,
  touch_off_permille,
  debounce_down,
  debounce_up,
  saddle_permille,
  palm_mm2,
  match_um,
  track_ms,
  slew_permille_s,
  surface_permille,
  smooth_permille,
  smooth_most_permille,
  unsteady_permille,
  surface_ms,
  palm_ms,
  held_ms,
  held_jitter_q8,
  policy,
  settle_ms,
  sample_frames,
  retry_ms,
  wait_ms,
  clear_ms,
};

/// The first field outside its range, or SettingsField::none. Never changes anything.
SettingsField validate(const Settings& settings);

/// The field's name as written in Settings; "none" for none. Static storage, ASCII.
const char* name_of(SettingsField field);

/// Settings turned into counts and frames once, so that no stage divides per node.
struct Limits {
  std::int32_t quiet = 0;        ///< counts
  std::int32_t touch_on = 0;     ///< counts
  std::int32_t touch_off = 0;    ///< counts
  std::int32_t surface = 0;      ///< counts
  std::int32_t smooth = 0;       ///< counts
  std::int32_t smooth_most = 0;  ///< counts, at least `smooth`
  std::int32_t unsteady = 0;     ///< counts
  /// A node's baseline moves every track_turns * kRowTurns frames (conditioning.hpp), by the two
  /// that follow: per move, not per frame.
  std::uint32_t track_turns = 1;
  std::int32_t track_lambda_q16 = 0;  ///< 0: not at all
  std::int32_t slew_q8 = 0;           ///< counts Q8, at least 1
  std::int32_t palm_nodes = 0;        ///< nodes above half of the peak
};

/// Precondition: validate(settings) is none.
Limits limits_of(const Settings& settings);

}  // namespace bareglass
