// Line groups and electrical findings -> causes with what speaks for and against them.

#include <algorithm>

#include "bareglass/replay/input_course.hpp"
#include "electrical_survey.hpp"
#include "evidence.hpp"
#include "evidence_text.hpp"
#include "line_survey.hpp"

namespace bareglass::host {

namespace {

std::int32_t permille(double share) { return static_cast<std::int32_t>(1000 * share); }

std::uint8_t line(int n) { return static_cast<std::uint8_t>(std::max(0, n)); }

/// Nodes of the lines; of a crack those that it runs between.
Box box_of(const LinesFound& l, Shape shape) {
  Box box{0, line(shape.rows - 1), 0, line(shape.cols - 1)};
  (l.of_rows ? box.row0 : box.col0) = line(l.first);
  (l.of_rows ? box.row1 : box.col1) = line(l.last);
  if (l.at < 0) return box;
  const int at_last = l.at_last < 0 ? l.at : l.at_last;
  (l.of_rows ? box.col0 : box.row0) = line(std::min(l.at, at_last) - 1);
  (l.of_rows ? box.col1 : box.row1) = line(std::max(l.at, at_last));
  return box;
}

bool was_held_back(const Account& a, JournalCode code) {
  return std::any_of(a.events.begin(), a.events.end(),
                     [&](const JournalEntry& e) { return e.code == code; });
}

bool stayed_on(const Account& a) {
  const InputCourse input = input_course(a);
  return input.on && !input.refused;
}

void weigh_low(CauseFound& c, const LineGroup& g, const Account& a) {
  if (g.level < 0.25f)
    c.speaks_for.push_back(text::line_reads_nothing());
  else
    c.speaks_for.push_back(text::line_lost(1.0 - static_cast<double>(g.level)));
  c.speaks_for.push_back(text::line_even());
  c.speaks_for.push_back(text::line_neighbours_sound());
  if (!a.has_reference) c.speaks_against.push_back(text::no_reference_for_lines());
}

}  // namespace

bool is_blind(const CauseFound& cause, Shape shape) {
  return cause.cause == Cause::worn_tail && cause.lines && cause.lines->of_rows &&
         cause.lines->first == 0 && cause.lines->last == shape.rows - 1 && cause.measured == 1000;
}

CauseFound weigh_blind(const Blind& blind, const Account& a) {
  CauseFound c;
  c.cause = Cause::worn_tail;
  c.headline = text::blind_headline();
  c.lines = LinesFound{true, 0, a.settings.shape.rows - 1, -1, -1};
  c.has_place = true;
  c.box = box_of(*c.lines, a.settings.shape);
  c.first_us = blind.first_us;
  c.ended = blind.ended;
  c.ended_us = blind.last_us;
  c.measured = 1000;
  c.limit = permille(0.02);
  c.confidence = 1.0;
  c.speaks_for.push_back(blind.high ? text::blind_high() : text::blind_low());
  c.speaks_against.push_back(text::blind_or_badly_captured());
  return c;
}

CauseFound weigh_lines(const LineGroup& g, const Account& a) {
  CauseFound c;
  c.cause = g.cause;
  c.headline = text::line_headline(g.cause, g.lines);
  c.lines = g.lines;
  c.has_place = true;
  c.box = box_of(g.lines, a.settings.shape);
  c.first_us = g.first_us;
  c.ended = g.ended;
  c.ended_us = g.ended_us;
  c.measured = permille(1.0 - static_cast<double>(g.level));
  c.limit = permille(0.02);
  c.confidence = g.score;
  if (was_held_back(a, JournalCode::line_held_back))
    c.speaks_for.push_back(text::line_was_held_back(stayed_on(a)));
  switch (g.cause) {
    case Cause::crack:
      c.speaks_for.push_back(text::cut_keeps_near_part());
      if (g.lines.last > g.lines.first) c.speaks_for.push_back(text::crack_runs(g.lines));
      c.speaks_for.push_back(text::line_reads_nothing());
      break;
    case Cause::bridged_lines:
      c.speaks_for.push_back(g.level > 1.f ? text::bridge_doubled()
                                           : text::bridge_same(static_cast<double>(g.level)));
      break;
    case Cause::intermittent_line:
      c.speaks_for.push_back(text::line_steps(g.steps));
      c.speaks_for.push_back(text::no_object_does_that());
      break;
    default:
      weigh_low(c, g, a);
  }
  return c;
}

CauseFound weigh_electrical(const ElectricalFound& e, const Account& a) {
  CauseFound c;
  c.cause = e.cause;
  if (e.or_else) c.or_else = {*e.or_else};
  c.headline = text::headline(e.cause);
  c.first_us = e.first_us;
  c.ended = e.last_us != 0 && e.last_us + 600000 < a.last_us;
  c.ended_us = e.last_us;
  c.confidence = e.score;
  switch (e.cause) {
    case Cause::supply_sag:
      c.measured = permille(e.value);
      c.limit = permille(e.limit);
      if (e.value > 0)
        c.speaks_for.push_back(text::sag_lost(e.value));
      else
        c.speaks_against.push_back(text::sag_only_millivolts());
      if (a.lowest_millivolts) c.speaks_for.push_back(text::sag_millivolts(*a.lowest_millivolts));
      break;
    case Cause::temperature:
      c.measured = permille(e.value);
      c.limit = permille(e.limit);
      c.speaks_for.push_back(text::level_off(e.value, e.limit));
      c.speaks_against.push_back(text::level_either());
      break;
    case Cause::common_mode:
      c.measured = static_cast<std::int32_t>(e.value);
      c.limit = static_cast<std::int32_t>(e.limit);
      c.speaks_for.push_back(text::swing(e.value, e.limit));
      c.speaks_for.push_back(text::swing_share());
      break;
    case Cause::interference:
      c.speaks_for.push_back(text::column_noise(e.value));
      c.speaks_for.push_back(text::column_noise_only());
      if (was_held_back(a, JournalCode::interference_held_back))
        c.speaks_for.push_back(text::column_was_held_back());
      c.lines = e.columns;
      c.has_place = true;
      c.box = box_of(e.columns, a.settings.shape);
      break;
    default:
      c.speaks_for.push_back(text::weak_contact(e.value));
      c.speaks_for.push_back(text::weak_contact_wide());
      c.speaks_against.push_back(text::weak_contact_other());
      c.has_place = e.has_box;
      c.box = e.box;
      c.measured = permille(e.value);
      c.limit = permille(e.limit);
  }
  return c;
}

}  // namespace bareglass::host
