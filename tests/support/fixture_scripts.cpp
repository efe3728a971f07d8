#include "support/fixture_scripts.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::support {

namespace {

PanelSpec panel(std::uint64_t seed, std::uint32_t period_us = 20000) {
  PanelSpec p;
  p.seed = seed;
  p.frame_period_us = period_us;
  return p;
}

// Two short touches of a nurse checking the unit; 0.1 mm of tremor is below what the frames
// resolve.
void two_touches(EffectScene& scene, double t) {
  if (t >= 2.0 && t < 2.4) scene.add_finger(4.2, 2.7);
  if (t >= 3.0 && t < 3.9) scene.add_finger(11.0 - 4.0 * (t - 3.0), 6.0);
}

FixtureScript bare_glass() {
  return {"bare-glass",
          "Nothing on the glass; two touches later. Input comes on.",
          "bay2-pump-04",
          panel(101),
          StartPolicy::lock,
          true,
          true,
          0.0,
          5.0,
          two_touches};
}

FixtureScript finger_at_power_up() {
  return {"finger-at-power-up",
          "A finger rests on the glass during power-up and is lifted after 3 s. Policy lock: input "
          "stays off.",
          "bay2-pump-07",
          panel(102),
          StartPolicy::lock,
          true,
          true,
          0.0,
          6.0,
          [](EffectScene& scene, double t) {
            if (t < 3.0)
              scene.add_finger(6.2 + 0.01 * std::sin(9.0 * t), 3.9 + 0.01 * std::cos(7.0 * t));
          }};
}

FixtureScript damp_note() {
  return {"damp-note-peeled",
          "A damp paper note without a path to ground lies on the glass during power-up, peeled "
          "off after 4 s. Policy lock.",
          "bay1-monitor-02",
          panel(103),
          StartPolicy::lock,
          true,
          true,
          0.0,
          7.0,
          [](EffectScene& scene, double t) {
            if (t < 4.0) scene.add_film(3, 8, 2, 6, 18.5);
          }};
}

// Evaporation from an even film: the isolated film couples almost fully until it breaks up, then
// fades.
FixtureScript drying_film() {
  return {"wet-film-drying",
          "The glass is wet from a wipe-down during power-up and dries over 40 s. Policy wait: "
          "input comes on.",
          "bay1-monitor-05",
          panel(104, 50000),
          StartPolicy::wait,
          true,
          true,
          0.0,
          50.0,
          [](EffectScene& scene, double t) {
            const double wet = std::clamp((40.0 - t) / 30.0, 0.0, 1.0);
            if (wet > 0) scene.add_film(2, 13, 1, 8, 18.7 * wet);
          }};
}

FixtureScript wet_bezel() {
  return {
      "wet-bezel",
      "Disinfectant stands in the gap of the upper bezel, with a path to ground. Policy service.",
      "bay3-pump-01",
      panel(105),
      StartPolicy::service,
      true,
      true,
      0.0,
      5.0,
      [](EffectScene& scene, double) { scene.add_wet_top_bezel(1, 8, -28.0); }};
}

FixtureScript diagonal_streak() {
  return {"isolated-streak",
          "A wet smear along a diagonal, isolated, is left after start: touches where nobody "
          "touches. Policy wait.",
          "bay3-monitor-03",
          panel(106),
          StartPolicy::wait,
          true,
          true,
          0.0,
          8.0,
          [](EffectScene& scene, double t) {
            if (t >= 2.0 && t < 6.0) scene.add_diagonal_streak(5, 2, 5);
          }};
}

FixtureScript late_start() {
  return {"starts-late",
          "Recording begins 12 s after power-up on a unit that takes no touch; no factory "
          "reference in the dump.",
          "bay2-pump-09",
          panel(107),
          StartPolicy::lock,
          false,
          false,
          12.0,
          17.0,
          [](EffectScene& scene, double) { scene.add_finger(9.1, 6.8, -150.0); }};
}

}  // namespace

std::vector<FixtureScript> fixture_scripts() {
  return {bare_glass(), finger_at_power_up(), damp_note(), drying_film(),
          wet_bezel(),  diagonal_streak(),    late_start()};
}

}  // namespace bareglass::support
