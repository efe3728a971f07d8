// Damage of the panel's lines.

#include <algorithm>
#include <cmath>

#include "draw.hpp"

namespace bareglass::score {

namespace {

using host::Cause;
using panel::LineFault;

int line_count(const Case& c, bool of_rows) {
  return of_rows ? c.scenario.setup.rows : c.scenario.setup.columns;
}

void add_fault(Case& c, const LineFault& fault, double at_s) {
  panel::Event e;
  e.at_s = at_s;
  e.action = panel::Action::fault;
  e.word = "fault";
  e.name = "fault " + std::to_string(c.scenario.events.size());
  e.fault = fault;
  add_event(c, e);
}

// Broken before the power came on, or a moment into the dump.
double draw_when(const Case& c, Draw& draw) {
  return draw.chance(0.5) ? 0.0 : draw.between(0.8, c.scenario.duration_s - 1.2);
}

LineFault one_line(const Case& c, Draw& draw) {
  LineFault f;
  f.of_rows = draw.chance(0.5);
  f.first = f.last = draw.whole(0, line_count(c, f.of_rows) - 1);
  return f;
}

void tell(Case& c, const LineFault& f, int at = -1) {
  c.lines = host::LinesFound{f.of_rows, f.first, f.last, at};
}

void open_line(Case& c, Draw& draw) {
  const LineFault f = one_line(c, draw);
  tell(c, f);
  add_fault(c, f, draw_when(c, draw));
}

// A straight crack: each of its lines is cut a little further on than the one before.
void crack(Case& c, Draw& draw) {
  const bool of_rows = draw.chance(0.5);
  const int own = line_count(c, of_rows);
  const int crossed = line_count(c, !of_rows);
  const int count = draw.whole(1, std::min(6, own / 2));
  const int first = draw.whole(0, own - count);
  const double slope = draw.between(-1.6, 1.6);
  const double start = draw.between(2, crossed - 2);
  const double when = draw_when(c, draw);
  LineFault f;
  f.kind = LineFault::Kind::cut;
  f.of_rows = of_rows;
  for (int k = 0; k < count; ++k) {
    f.first = f.last = first + k;
    f.at = std::clamp(static_cast<int>(std::lround(start + slope * k)), 1, crossed - 1);
    if (k == 0) tell(c, f, f.at);
    add_fault(c, f, when);
  }
  c.lines->last = first + count - 1;
}

// Neighbours joined, touched later on both sides of the glass, so that it can be seen.
void bridged_lines(Case& c, Draw& draw) {
  LineFault f;
  f.kind = LineFault::Kind::bridged;
  f.of_rows = draw.chance(0.5);
  f.first = draw.whole(0, line_count(c, f.of_rows) - 2);
  f.last = f.first + 1;
  f.ohm = draw.chance(0.5) ? 0.0 : draw.between(1, 60);
  tell(c, f);
  add_fault(c, f, draw_when(c, draw));
  const double pitch =
      f.of_rows ? c.scenario.panel.rows.pitch_mm : c.scenario.panel.columns.pitch_mm;
  const double along = pitch * (f.first + (draw.chance(0.5) ? 0 : 1));
  field::Point at = inside(c, draw, 8);
  (f.of_rows ? at.y : at.x) = along;
  const double from = c.scenario.duration_s - 1.1;
  add_thing(c, finger(draw, at), from, from + 0.8);
}

void raised_resistance(Case& c, Draw& draw) {
  LineFault f = one_line(c, draw);
  f.kind = LineFault::Kind::raised_resistance;
  f.ohm = f.of_rows ? draw.factor(9000, 60000) : draw.factor(22000, 90000);
  tell(c, f);
  add_fault(c, f, draw_when(c, draw));
}

// Contacts side by side: all worn alike, or some open already.
void worn_tail(Case& c, Draw& draw) {
  LineFault f;
  f.of_rows = draw.chance(0.5);
  const int count = draw.whole(2, 5);
  f.first = draw.whole(0, line_count(c, f.of_rows) - count);
  f.last = f.first + count - 1;
  tell(c, f);
  const double when = draw_when(c, draw);
  if (draw.chance(0.25)) {
    f.kind = LineFault::Kind::open_tail;
    return add_fault(c, f, when);
  }
  f.kind = LineFault::Kind::raised_resistance;
  for (int line = c.lines->first; line <= c.lines->last; ++line) {
    f.first = f.last = line;
    f.ohm = f.of_rows ? draw.factor(10000, 50000) : draw.factor(24000, 80000);
    add_fault(c, f, when);
  }
}

void intermittent_line(Case& c, Draw& draw) {
  LineFault f = one_line(c, draw);
  if (draw.chance(0.3)) {
    f.kind = LineFault::Kind::raised_resistance;
    f.ohm = f.of_rows ? draw.factor(20000, 60000) : draw.factor(40000, 90000);
  }
  f.mean_there_s = draw.between(0.06, 0.4);
  f.mean_away_s = draw.between(0.06, 0.4);
  tell(c, f);
  add_fault(c, f, draw.chance(0.5) ? 0.0 : draw.between(0.5, 1.2));
}

}  // namespace

void put_line(Case& c, Draw& draw, Cause cause) {
  switch (cause) {
    case Cause::open_line:
      return open_line(c, draw);
    case Cause::crack:
      return crack(c, draw);
    case Cause::bridged_lines:
      return bridged_lines(c, draw);
    case Cause::raised_resistance:
      return raised_resistance(c, draw);
    case Cause::worn_tail:
      return worn_tail(c, draw);
    default:
      return intermittent_line(c, draw);
  }
}

void make_line(Case& c, Draw& draw, const std::string& folder) {
  draw_panel(c, draw, folder, draw.between(3.0, 4.5));
  panel::LineSpec& lines = c.scenario.setup.lines;
  lines.driven_at = draw.chance(0.5) ? panel::RowEnd::left : panel::RowEnd::right;
  lines.sensed_at = draw.chance(0.5) ? panel::ColumnEnd::top : panel::ColumnEnd::bottom;
  if (draw.chance(0.2)) lines.idle = panel::IdleRows::floating;
  if (draw.chance(0.2)) lines.amplifiers = panel::Amplifiers::one_at_a_time;
  put_line(c, draw, c.drawn);
  if (draw.chance(0.3)) add_touches(c, draw, 1.2, c.scenario.duration_s - 1.3);
}

}  // namespace bareglass::score
