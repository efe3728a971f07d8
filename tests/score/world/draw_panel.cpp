// The panel of a case, its power cycles, and what every unit has, healthy or not.

#include <algorithm>
#include <cmath>

#include "drawing.hpp"
#include "forward.hpp"
#include "panels.hpp"

namespace bareglass::world {

namespace {

struct Size {
  int rows, columns, weight;
};
// Large panels cost most and are drawn least.
constexpr Size kSizes[] = {{9, 14, 8},  {16, 10, 12}, {14, 24, 8}, {24, 16, 8}, {16, 28, 6},
                           {30, 18, 4}, {24, 40, 2},  {40, 24, 2}, {72, 41, 1}};

Size draw_size(score::Draw& draw) {
  int total = 0;
  for (const Size& s : kSizes) total += s.weight;
  int n = draw.whole(0, total - 1);
  for (const Size& s : kSizes) {
    if (n < s.weight) return s;
    n -= s.weight;
  }
  return kSizes[0];
}

StartPolicy draw_policy(score::Draw& draw) {
  const int n = draw.whole(0, 9);
  return n < 5   ? StartPolicy::lock
         : n < 7 ? StartPolicy::wait
         : n < 9 ? StartPolicy::service
                 : StartPolicy::adopt;
}

void draw_lines(panel::LineSpec& lines, score::Draw& draw) {
  lines.driven_at = draw.chance(0.5) ? panel::RowEnd::left : panel::RowEnd::right;
  lines.sensed_at = draw.chance(0.5) ? panel::ColumnEnd::top : panel::ColumnEnd::bottom;
  if (draw.chance(0.2)) lines.idle = panel::IdleRows::floating;
  if (draw.chance(0.2)) lines.amplifiers = panel::Amplifiers::one_at_a_time;
}

/// A finger of 300 to 4000 counts, as long as the bare reading fits the converter.
void draw_gain(Drawing& d, Forward& forward) {
  constexpr double kMostBare = 26000;  // counts
  panel::FrontEndSpec& fe = d.c.scenario.setup.front_end;
  fe.counts_per_ff =
      std::min(d.draw.factor(300, 4000) / d.c.finger_ff, kMostBare / forward.node_ff());
  d.c.finger_counts = static_cast<int>(std::lround(d.c.finger_ff * fe.counts_per_ff));
}

panel::Event device_event(double at_s, panel::Action action, const char* word, double value) {
  panel::Event e;
  e.at_s = at_s;
  e.action = action;
  e.word = word;
  e.value = value;
  return e;
}

void draw_reference(Drawing& d) {
  Disturbance& x = d.c.disturbance;
  score::Draw& draw = d.draw;
  const double node = panel_kernels(d.c.panel).numbers.node;
  const double kind = draw.between(0, 1);
  d.c.scenario.factory_reference = kind > 0.22;
  if (kind < 0.37) return;  // none, or ideal
  x.reference_frames = static_cast<int>(std::lround(draw.factor(4, 64)));
  x.reference_gain = draw.between(-0.02, 0.02);
  x.reference_offset_ff = draw.between(-0.002, 0.002) * node;
  x.ageing_ff = node * draw.factor(0.0001, 0.001);
}

void draw_second_world(Drawing& d) {
  Disturbance& x = d.c.disturbance;
  score::Draw& draw = d.draw;
  const double noise = d.c.scenario.setup.front_end.noise_ff;
  x.flicker_ff = noise * draw.between(0.1, 0.6);
  if (draw.chance(0.25)) {
    x.popcorn_nodes = draw.whole(1, 3);
    x.popcorn_ff = noise * draw.between(0.5, 3);
  }
  x.row_gain = draw.chance(0.5) ? draw.factor(0.0001, 0.0005) : 0.0;
  x.twelve_bits = draw.chance(0.4);
  x.map_error = draw.between(0.03, 0.05);
  x.passed_error = draw.between(-0.05, 0.05);
}

void draw_tolerated(WorldCase& c) {
  const Disturbance& x = c.disturbance;
  const double noise = c.scenario.setup.front_end.noise_ff / c.finger_ff;
  if (noise > 0.04) c.tolerated.insert(c.tolerated.end(), {"noise", "interference"});
  // More than the nodes' own noise: it is there, and worth a word.
  if (x.row_swing_ff > c.scenario.setup.front_end.noise_ff) c.tolerated.push_back("common_mode");
  if (std::abs(x.reference_gain) + std::abs(x.drift) > 0.01)
    c.tolerated.insert(c.tolerated.end(), {"temperature", "aged_reference"});
  if (x.ageing_ff > 0.0) c.tolerated.push_back("aged_reference");
  if (x.settle_depth > 0.02) c.tolerated.push_back("unsettled_start");
  if (x.popcorn_nodes > 0) c.tolerated.push_back("lone_node");
}

}  // namespace

double Drawing::width_mm() const {
  return (c.scenario.setup.columns - 1) * c.scenario.panel.columns.pitch_mm;
}
double Drawing::height_mm() const {
  return (c.scenario.setup.rows - 1) * c.scenario.panel.rows.pitch_mm;
}
double Drawing::pitch_mm() const {
  return (c.scenario.panel.rows.pitch_mm + c.scenario.panel.columns.pitch_mm) / 2;
}

void draw_panel(Drawing& d, const DrawOptions& options) {
  WorldCase& c = d.c;
  score::Draw& draw = d.draw;
  const int all = options.shipped_panels ? shipped_panel_count() : panel_count();
  c.panel = draw.whole(0, all - 1);
  panel::Scenario& s = c.scenario;
  s.file = "generated";
  s.story = "generated";
  s.unit_id = "generated";
  s.panel = panel_spec(c.panel);
  const Size size = draw_size(draw);
  s.setup.rows = size.rows;
  s.setup.columns = size.columns;
  s.setup.seed = c.seed;
  draw_lines(s.setup.lines, draw);
  s.policy = draw_policy(draw);
  const double node = panel_kernels(c.panel).numbers.node;
  s.setup.front_end.spread_ff = node * draw.factor(0.003, 0.015);
  Forward forward(c);
  c.finger_ff = forward.finger_ff();
  draw_gain(d, forward);
  // Twelve thousandths of a finger is what the reference front end has; half of that to eight
  // times.
  const double factor = draw.chance(0.75) ? draw.factor(0.5, 2.5) : draw.factor(2.5, 8);
  s.setup.front_end.noise_ff = 0.012 * c.finger_ff * factor;
  const double scan_us = s.setup.front_end.row_time_us * size.rows;
  s.frame_period_us =
      static_cast<std::uint32_t>(std::lround(std::max(draw.factor(8000, 25000), scan_us + 1000)));
  s.device.temperature_c = draw.between(15, 38);
  s.device.supply_mv = draw.between(3300, 4200);
  if (draw.chance(0.3)) s.device.earth_pf = draw.between(100, 300);  // held in a hand
}

void draw_lives(Drawing& d, bool long_story) {
  WorldCase& c = d.c;
  score::Draw& draw = d.draw;
  if (long_story) {
    c.scenario.frame_period_us = 100000;
    c.lives = {{0.0, draw.between(66, 75)}};
  } else {
    const double kind = draw.between(0, 1);
    const int count = kind < 0.62 ? 1 : kind < 0.8 ? 2 : kind < 0.92 ? 3 : 4;
    double now = 0.0;
    for (int k = 0; k < count; ++k) {
      if (k > 0) now += draw.between(0.2, 1.0);
      const double lasts = count == 1 ? draw.factor(1.5, 10) : draw.factor(0.7, 4);
      c.lives.push_back({now, now + lasts});
      now += lasts;
    }
  }
  c.scenario.duration_s = c.lives.back().until_s;
  for (std::size_t k = 0; k + 1 < c.lives.size(); ++k) {
    d.add(device_event(c.lives[k].until_s, panel::Action::power_off, "power_off", 0));
    d.add(device_event(c.lives[k + 1].from_s, panel::Action::power_on, "power_on", 0));
  }
  c.disturbance.clock_restarts = c.lives.size() > 1 && draw.chance(0.5);
}

void draw_disturbance(Drawing& d) {
  WorldCase& c = d.c;
  Disturbance& x = c.disturbance;
  score::Draw& draw = d.draw;
  const double noise = c.scenario.setup.front_end.noise_ff;
  if (draw.chance(0.8)) {
    x.settle_depth = draw.factor(0.02, 0.25);
    x.settle_tau_s = draw.factor(0.002, 0.015);
  }
  x.row_swing_ff = noise * (draw.chance(0.5) ? draw.between(0, 0.5) : draw.between(0.5, 3));
  x.drift = draw.chance(0.5) ? draw.between(-0.001, 0.001) : draw.between(-0.006, 0.006);
  x.wave = draw.chance(0.3) ? draw.between(0, 0.0008) : 0.0;
  x.offset_counts = draw.chance(0.5) ? 0.0 : draw.between(0, 2000);
  x.counts_rise = draw.chance(0.15);
  draw_reference(d);
  if (c.world == 2) draw_second_world(d);
  draw_tolerated(c);
}

void draw_touches(Drawing& d, bool wanted) {
  constexpr double kAfterStart = 1.3;  // s: the start-up has looked by then
  WorldCase& c = d.c;
  score::Draw& draw = d.draw;
  for (const Life& life : c.lives) {
    if (life.long_s() < kAfterStart + 0.8) continue;
    const bool last = &life == &c.lives.back();
    const int count = wanted && last ? draw.whole(1, 2) : draw.chance(0.5) ? draw.whole(1, 3) : 0;
    for (int k = 0; k < count; ++k) {
      const double from = draw.between(life.from_s + kAfterStart, life.until_s - 0.5);
      const double until = std::min(life.until_s - 0.1, from + draw.between(0.2, 0.9));
      Drawn tip;
      tip.outline = panel::Outline::disc(draw.between(6.5, 11));
      const auto place = d.room_for(tip, 0.1);
      const auto to = d.room_for(tip, 0.1);
      if (!place || !to) continue;
      Item touch;
      touch.stays = {{from, until}};
      panel::ThingSpec spec = score::conductor(tip.outline, "disc", *place);
      spec.earth_pf = draw.between(80, 220);
      spec.tremor_mm = draw.between(0.05, 0.2);
      const std::size_t thing = d.put(touch, spec);
      if (last) c.fingers_in_use = std::max(c.fingers_in_use, 1);
      if (!draw.chance(0.5)) continue;
      // A swipe must not cross what lies on the glass.
      panel::Event swipe = device_event(from, panel::Action::move, "move", 0);
      swipe.over_s = until - from;
      swipe.thing = thing;
      const double part = d.taken.empty()
                              ? 1.0
                              : 8.0 / std::max(8.0, std::hypot(to->x - place->x, to->y - place->y));
      swipe.to =
          field::Point{place->x + part * (to->x - place->x), place->y + part * (to->y - place->y)};
      d.add(swipe);
    }
  }
}

}  // namespace bareglass::world
