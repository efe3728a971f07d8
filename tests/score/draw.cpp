#include "draw.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::score {

namespace {

struct Size {
  int rows, columns;
  int weight;
};
// Large panels cost most and are drawn least.
constexpr Size kSizes[] = {{9, 14, 4},  {16, 10, 5}, {14, 24, 4}, {16, 28, 3},
                           {30, 18, 2}, {24, 40, 2}, {40, 24, 1}, {72, 41, 1}};

const char* draw_glass(Draw& draw) {
  const int n = draw.whole(0, 9);
  return n < 2 ? "0_7" : n < 6 ? "1_1" : n < 9 ? "2_0" : "3_0";
}

Size draw_size(Draw& draw) {
  int total = 0;
  for (const Size& s : kSizes) total += s.weight;
  int n = draw.whole(0, total - 1);
  for (const Size& s : kSizes) {
    if (n < s.weight) return s;
    n -= s.weight;
  }
  return kSizes[0];
}

StartPolicy draw_policy(Draw& draw) {
  const int n = draw.whole(0, 9);
  return n < 5   ? StartPolicy::lock
         : n < 7 ? StartPolicy::wait
         : n < 9 ? StartPolicy::service
                 : StartPolicy::adopt;
}

}  // namespace

double Draw::factor(double low, double high) {
  return std::exp(between(std::log(low), std::log(high)));
}

void draw_panel(Case& c, Draw& draw, const std::string& panel_folder, double duration_s) {
  panel::Scenario& s = c.scenario;
  s.file = "generated";
  s.story = "generated";
  s.unit_id = "generated";
  s.panel_path = panel_folder + "/bars_and_stripes_" + draw_glass(draw) + ".toml";
  s.panel = field::load_panel(s.panel_path);
  const Size size = draw_size(draw);
  s.setup.rows = size.rows;
  s.setup.columns = size.columns;
  s.setup.seed = static_cast<std::uint64_t>(draw.whole(1, 1000000000));
  s.setup.front_end.counts_per_ff = draw.factor(7, 24);
  s.setup.front_end.noise_ff = draw.between(0.8, 2.2);
  s.setup.front_end.spread_ff = draw.between(1.5, 8.0);
  s.setup.front_end.gain_ppm_k = draw.between(-200, 200);
  s.device.temperature_c = draw.between(15, 38);
  s.device.supply_mv = draw.between(3300, 4200);
  s.policy = draw_policy(draw);
  s.factory_reference = draw.chance(0.75);
  s.duration_s = duration_s;
}

void add_event(Case& c, panel::Event event) {
  std::vector<panel::Event>& events = c.scenario.events;
  const auto after = std::upper_bound(events.begin(), events.end(), event.at_s,
                                      [](double t, const panel::Event& e) { return t < e.at_s; });
  events.insert(after, std::move(event));
}

std::size_t add_thing(Case& c, panel::ThingSpec spec, double from_s, double until_s) {
  const std::size_t index = c.scenario.things.size();
  spec.name = "thing " + std::to_string(index);
  c.scenario.things.push_back(std::move(spec));
  panel::Event put;
  put.at_s = from_s;
  put.word = "put";
  put.thing = index;
  add_event(c, put);
  if (until_s >= 0) {
    panel::Event lift = put;
    lift.at_s = until_s;
    lift.action = panel::Action::lift;
    lift.word = "lift";
    add_event(c, lift);
  }
  return index;
}

panel::ThingSpec conductor(panel::OutlinePtr outline, const char* shape, field::Point place) {
  panel::ThingSpec t;
  t.outline = std::move(outline);
  t.shape = shape;
  t.place = place;
  return t;
}

panel::ThingSpec finger(Draw& draw, field::Point place) {
  panel::ThingSpec t = conductor(panel::Outline::disc(draw.between(6.5, 11)), "disc", place);
  t.earth_pf = draw.between(100, 200);
  t.tremor_mm = draw.between(0.05, 0.2);
  return t;
}

panel::ThingSpec film(panel::OutlinePtr outline, const char* shape, field::Point place,
                      double film_um, double permittivity) {
  panel::ThingSpec t = conductor(std::move(outline), shape, place);
  t.is_film = true;
  t.film_um = film_um;
  t.permittivity = permittivity;
  return t;
}

double width_mm(const Case& c) {
  return (c.scenario.setup.columns - 1) * c.scenario.panel.columns.pitch_mm;
}
double height_mm(const Case& c) {
  return (c.scenario.setup.rows - 1) * c.scenario.panel.rows.pitch_mm;
}

field::Point inside(const Case& c, Draw& draw, double margin_mm) {
  const auto coordinate = [&](double extent_mm) {
    const double margin = std::min(margin_mm, extent_mm / 2);
    return draw.between(margin, extent_mm - margin);
  };
  const double x = coordinate(width_mm(c));
  return {x, coordinate(height_mm(c))};
}

PlaceMm extent(const panel::ThingSpec& spec) {
  const field::Box b = spec.outline->footprint().bounds();
  return {spec.place.x + b.x_low, spec.place.x + b.x_high, spec.place.y + b.y_low,
          spec.place.y + b.y_high};
}

void add_touches(Case& c, Draw& draw, double from_s, double until_s) {
  const int count = draw.whole(1, 3);
  for (int k = 0; k < count; ++k) {
    const double begin = draw.between(from_s, until_s - 0.3);
    const double end = std::min(until_s, begin + draw.between(0.2, 0.9));
    const std::size_t thing = add_thing(c, finger(draw, inside(c, draw, 4)), begin, end);
    if (!draw.chance(0.4)) continue;
    panel::Event swipe;
    swipe.at_s = begin;
    swipe.over_s = end - begin;
    swipe.action = panel::Action::move;
    swipe.word = "move";
    swipe.thing = thing;
    swipe.to = inside(c, draw, 4);
    add_event(c, swipe);
  }
}

}  // namespace bareglass::score
