// Things that lie on the glass.

#include <algorithm>
#include <cmath>

#include "draw.hpp"

namespace bareglass::score {

namespace {

using host::Cause;

/// When a surface thing comes and goes: at power-up or later, taken away within the dump or not.
struct Times {
  double from = 0, until = -1;
};
Times draw_times(const Case& c, Draw& draw, double at_power_up) {
  Times t;
  const double end = c.scenario.duration_s;
  if (!draw.chance(at_power_up)) t.from = draw.between(0.7, end - 3.2);
  if (draw.chance(0.5)) t.until = draw.between(std::max(t.from + 2.8, 1.2), end - 0.2);
  return t;
}

void touch_at_power_up(Case& c, Draw& draw) {
  panel::ThingSpec t = finger(draw, inside(c, draw, 2));
  const double until = draw.chance(0.6) ? draw.between(0.8, 3.0) : -1;
  c.place = extent(t);
  add_thing(c, t, 0, until);
}

// A grounded lump: a coin under a cable, a fallen clamp. It lies perfectly still.
void touch_held(Case& c, Draw& draw) {
  c.scenario.frame_period_us = 100000;
  c.scenario.duration_s = 36;
  panel::ThingSpec t = finger(draw, inside(c, draw, 2));
  t.tremor_mm = draw.between(0, 0.04);
  c.place = extent(t);
  add_thing(c, t, draw.between(2.5, 3.5), -1);  // after the look, which takes 1.7 s
}

// A damp note or a closed wet patch, at least two lines either way.
void isolated_film(Case& c, Draw& draw) {
  const double w = draw.between(13, std::min(45.0, 0.6 * width_mm(c)));
  const double h = draw.between(13, std::min(45.0, 0.6 * height_mm(c)));
  panel::ThingSpec t = conductor(
      draw.chance(0.3) ? panel::Outline::disc(std::min(w, h)) : panel::Outline::rectangle(w, h),
      "patch", inside(c, draw, std::max(w, h) / 2));
  c.place = extent(t);
  const Times times = draw_times(c, draw, 0.7);
  add_thing(c, t, times.from, times.until);
  if (draw.chance(0.5))
    add_thing(c, film(panel::Outline::rectangle(w + 12, 19), "rectangle", t.place, 100, 3.0),
              times.from, times.until);
}

void drying_film(Case& c, Draw& draw) {
  c.scenario.frame_period_us = 50000;
  c.scenario.policy = draw.chance(0.6) ? StartPolicy::wait : StartPolicy::lock;
  const double over = draw.between(6, 14);
  c.scenario.duration_s = over + draw.between(2, 4);
  const double w = draw.between(15, std::min(40.0, 0.6 * width_mm(c)));
  const double h = draw.between(15, std::min(40.0, 0.6 * height_mm(c)));
  panel::ThingSpec t =
      conductor(panel::Outline::rectangle(w, h), "patch", inside(c, draw, std::max(w, h) / 2));
  c.place = extent(t);
  const std::size_t thing = add_thing(c, t, 0);
  panel::Event dry;
  dry.at_s = draw.between(0.5, 2);
  dry.over_s = over;
  dry.action = panel::Action::dry;
  dry.word = "dry";
  dry.thing = thing;
  add_event(c, dry);
}

// A wet film to the bezel, or a hand laid flat.
void grounded_film(Case& c, Draw& draw) {
  const double w = draw.between(22, std::max(23.0, 0.7 * width_mm(c)));
  const double h = draw.between(22, std::max(23.0, 0.6 * height_mm(c)));
  panel::ThingSpec t =
      conductor(panel::Outline::rectangle(w, h), "patch", inside(c, draw, std::min(w, h) / 2));
  if (draw.chance(0.5))
    t.device_pf = panel::kConnected;
  else
    t.earth_pf = draw.between(120, 200);
  c.place = extent(t);
  const Times times = draw_times(c, draw, 0.8);
  add_thing(c, t, times.from, times.until);
}

// Fluid in the gap of one bezel, reaching the outermost line's middle or a little further.
void wet_bezel(Case& c, Draw& draw) {
  const bool along_x = draw.chance(0.5);
  const double run = along_x ? width_mm(c) : height_mm(c);
  const double across = along_x ? height_mm(c) : width_mm(c);
  const double length = draw.between(0.35, 1.1) * run;
  const double reach = draw.between(0.5, 4.0);  // beyond the outermost line's centre
  const double middle = draw.between(length / 2, std::max(length / 2 + 1, run - length / 2));
  const double half = 6 + reach / 2;
  const double depth = draw.chance(0.5) ? reach - half : across - reach + half;
  panel::ThingSpec t =
      conductor(along_x ? panel::Outline::rectangle(length, 2 * half)
                        : panel::Outline::rectangle(2 * half, length),
                "band", along_x ? field::Point{middle, depth} : field::Point{depth, middle});
  t.device_pf = panel::kConnected;
  c.place = extent(t);
  const Times times = draw_times(c, draw, 0.8);
  add_thing(c, t, times.from, times.until);
}

// A thin conductor across lines: diagonal, or an L.
void isolated_streak(Case& c, Draw& draw) {
  const double reach = std::min({width_mm(c), height_mm(c), 60.0});
  const double a = draw.between(18, std::max(19.0, 0.8 * reach));
  const double b = a * draw.between(0.7, 1.3);
  const double sign = draw.chance(0.5) ? 1 : -1;
  const field::Point middle = inside(c, draw, a / 2 + 2);
  std::vector<field::Point> path;
  if (draw.chance(0.6))
    path = {{-a / 2, -sign * b / 2}, {a / 2, sign * b / 2}};
  else
    path = {{a / 2, -sign * b / 2}, {-a / 2, -sign * b / 2}, {-a / 2, sign * b / 2}};
  panel::ThingSpec t =
      conductor(panel::Outline::stroke(path, draw.between(3.5, 6)), "stroke", middle);
  c.place = extent(t);
  const Times times = draw_times(c, draw, 0.7);
  add_thing(c, t, times.from, times.until);
}

// Somebody wipes over the glass while the panel sets itself up.
void moving_thing(Case& c, Draw& draw) {
  panel::ThingSpec t = finger(draw, inside(c, draw, 5));
  t.tremor_mm = 0;
  const double until = draw.between(1.2, c.scenario.duration_s - 1);
  const double speed_mm_s = draw.between(60, 250);
  field::Point at = t.place;
  const std::size_t thing = add_thing(c, t, 0, until);
  for (double now = 0; now < until;) {
    panel::Event go;
    const field::Point to = inside(c, draw, 5);
    go.at_s = now;
    go.over_s = std::max(0.05, std::hypot(to.x - at.x, to.y - at.y) / speed_mm_s);
    go.action = panel::Action::move;
    go.word = "move";
    go.thing = thing;
    go.to = to;
    add_event(c, go);
    now += go.over_s;
    at = to;
  }
}

void dry_film(Case& c, Draw& draw) {
  const int what = draw.whole(0, 2);  // tape, paper, laminated label
  const double um = what == 2 ? draw.between(300, 500) : draw.between(50, 150);
  const double w = draw.between(15, 60);
  const double h = what == 0 ? 19.0 : draw.between(15, 60);
  panel::ThingSpec t =
      film(draw.chance(0.5) ? panel::Outline::rectangle(w, h) : panel::Outline::rectangle(h, w),
           "rectangle", inside(c, draw, 8), um, draw.between(2.5, 3.5));
  c.place = extent(t);
  const Times times = draw_times(c, draw, 0.7);
  add_thing(c, t, times.from, times.until);
}

void residue(Case& c, Draw& draw) {
  const double a = draw.between(10, 24);
  std::vector<field::Point> corners;
  const int count = draw.whole(5, 9);
  for (int k = 0; k < count; ++k) {
    const double angle = 6.283185307179586 * k / count;
    const double r = a * draw.between(0.55, 1.1);
    corners.push_back({r * std::cos(angle), r * std::sin(angle)});
  }
  panel::ThingSpec t = film(panel::Outline::polygon(corners), "polygon", inside(c, draw, a),
                            draw.factor(40, 300), draw.factor(5, 40));
  c.place = extent(t);
  const Times times = draw_times(c, draw, 0.8);
  add_thing(c, t, times.from, times.until);
}

void drops(Case& c, Draw& draw) {
  const int count = draw.whole(3, 6);
  const Times times = draw_times(c, draw, 0.6);
  std::vector<field::Point> places;
  PlaceMm all{1e9, -1e9, 1e9, -1e9};
  for (int tries = 0; tries < 400 && static_cast<int>(places.size()) < count; ++tries) {
    const field::Point p = inside(c, draw, 4);
    const bool apart = std::all_of(places.begin(), places.end(), [&](const field::Point& q) {
      return std::hypot(p.x - q.x, p.y - q.y) > 19;
    });
    if (!apart) continue;
    places.push_back(p);
    panel::ThingSpec t = conductor(panel::Outline::disc(draw.between(6, 11)), "disc", p);
    const PlaceMm e = extent(t);
    all = {std::min(all.x_low, e.x_low), std::max(all.x_high, e.x_high),
           std::min(all.y_low, e.y_low), std::max(all.y_high, e.y_high)};
    add_thing(c, t, times.from, times.until);
  }
  c.place = all;
}

}  // namespace

void put_surface(Case& c, Draw& draw, Cause cause) {
  switch (cause) {
    case Cause::touch_at_power_up:
      return touch_at_power_up(c, draw);
    case Cause::touch_held:
      return touch_held(c, draw);
    case Cause::isolated_film:
      return isolated_film(c, draw);
    case Cause::drying_film:
      return drying_film(c, draw);
    case Cause::grounded_film:
      return grounded_film(c, draw);
    case Cause::wet_bezel:
      return wet_bezel(c, draw);
    case Cause::isolated_streak:
      return isolated_streak(c, draw);
    case Cause::moving_thing:
      return moving_thing(c, draw);
    case Cause::dry_film:
      return dry_film(c, draw);
    case Cause::residue:
      return residue(c, draw);
    default:
      return drops(c, draw);
  }
}

void make_surface(Case& c, Draw& draw, const std::string& folder) {
  draw_panel(c, draw, folder, draw.between(4.5, 6));
  put_surface(c, draw, c.drawn);
}

}  // namespace bareglass::score
