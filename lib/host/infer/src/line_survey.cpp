#include "line_survey.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "line_axis.hpp"
#include "line_looks.hpp"
#include "line_mending.hpp"

namespace bareglass::host {

namespace {

// Against a reference a line's level is known to 0.05 %: what turns out to be a fault later is one
// from here on.
constexpr float kFaintlyLow = 0.9988f;

/// A fault that grows was there before it was sure: it begins where it is first visible.
void reach_back(std::vector<Looks>& looks) {
  const std::size_t lines = looks.empty() ? 0 : looks.front().size();
  for (std::size_t l = 0; l < lines; ++l)
    for (std::size_t k = looks.size() - 1; k > 0; --k) {
      const LineState now = looks[k][l].state;
      LineLook& before = looks[k - 1][l];
      const bool faulty = now == LineState::low || now == LineState::open;
      if (faulty && before.state == LineState::sound && before.level < kFaintlyLow)
        before.state = LineState::low;
    }
}

/// One line over the whole dump.
struct LineStory {
  LineState state = LineState::sound;
  int at = -1;
  float level = 1.f;
  int windows = 0;
  std::uint64_t first_us = 0, last_us = 0;
};

LineStory story_of(const std::vector<Looks>& looks, const Reading& reading, int line) {
  LineStory story;
  int count[5] = {};
  for (const Looks& l : looks) ++count[static_cast<int>(l[static_cast<std::size_t>(line)].state)];
  // The gravest state that lasts: a line that opens was low before.
  for (const LineState state :
       {LineState::open, LineState::cut, LineState::doubled, LineState::low}) {
    const int n = count[static_cast<int>(state)];
    if (n < 2 && static_cast<std::size_t>(n) < std::min<std::size_t>(2, looks.size())) continue;
    if (n == 0) continue;
    story.state = state;
    story.windows = n;
    break;
  }
  if (story.state == LineState::sound) return story;
  std::vector<float> at;
  for (std::size_t k = 0; k < looks.size(); ++k) {
    const LineLook& look = looks[k][static_cast<std::size_t>(line)];
    const bool faulty = look.state != LineState::sound && look.state != LineState::doubled;
    if (story.first_us == 0 && faulty) story.first_us = reading.window(k).first_us;
    if (look.state != story.state) continue;
    story.last_us = reading.window(k).last_us;
    story.level = std::min(story.level, look.level);
    at.push_back(static_cast<float>(look.at));
  }
  story.at = static_cast<int>(quantile(std::move(at), 0.5));
  return story;
}

// What is laid along one line and taken off again makes one faint step either way.
bool is_intermittent(const LineSteps& s) {
  return (s.down >= 1 && s.up >= 1) || (s.faintly_down >= 2 && s.faintly_up >= 2);
}

}  // namespace

// Defined in line_bridges.cpp.
std::vector<LineGroup> bridges_of(const Reading& reading, bool of_rows, float finger);

namespace {

Cause cause_of(LineState state, int count) {
  if (state == LineState::cut) return Cause::crack;
  if (count > 1) return Cause::worn_tail;
  return state == LineState::open ? Cause::open_line : Cause::raised_resistance;
}

bool joins(const LineStory& a, const LineStory& b, int lines_on) {
  const auto is_tail = [](const LineStory& s) {
    return s.state == LineState::open || s.state == LineState::low;
  };
  // The line between an open row and the next is lifted, not bad: only slow ones are joined over
  // it.
  if (lines_on > 1) return a.state == LineState::low && b.state == LineState::low;
  if (a.state == LineState::cut && b.state == LineState::cut) return true;
  return is_tail(a) && is_tail(b);
}

/// How far the next line of a group may be. Contacts that wear lie side by side; one between two
/// bad ones is bad too, if not enough to be seen.
int reach_of(const LineStory& head) { return head.state == LineState::cut ? 1 : 2; }

double score_of(const LineStory& s, const Reading& reading) {
  if (s.state == LineState::open || s.state == LineState::cut) return s.windows > 2 ? 1.0 : 0.8;
  const double margin = (1.0 - static_cast<double>(s.level)) / 0.02;
  const double sure = std::clamp(0.5 + margin / 20.0, 0.0, 0.95);
  return reading.has_reference() ? sure : sure - 0.15;
}

LineGroup group_of(const std::vector<LineStory>& stories, int first, int last, bool of_rows,
                   const Reading& reading) {
  LineGroup g;
  const LineStory& head = stories[static_cast<std::size_t>(first)];
  g.cause = cause_of(head.state, last - first + 1);
  g.lines = {of_rows, first, last, head.state == LineState::cut ? head.at : -1};
  if (head.state == LineState::cut) g.lines.at_last = stories[static_cast<std::size_t>(last)].at;
  g.first_us = head.first_us;
  std::uint64_t seen_us = 0;
  for (int l = first; l <= last; ++l) {
    const LineStory& s = stories[static_cast<std::size_t>(l)];
    g.level = std::min(g.level, s.level);
    g.first_us = std::min(g.first_us, s.first_us);
    seen_us = std::max(seen_us, s.last_us);
    g.score = std::max(g.score, score_of(s, reading));
  }
  const std::uint64_t end_us = reading.window(reading.windows() - 1).last_us;
  g.ended = seen_us + 600000 < end_us;
  g.ended_us = seen_us;
  return g;
}

// An open line floats and moves the two lines on either side: the next row is lifted by 7.8 %
// (field solution), the one after it was seen 4 % low in drawn cases. What has lost a tenth is bad
// itself (chosen).
constexpr float kBesideOpen = 0.9f;
constexpr float kNearlyOpen = 0.5f;  ///< acts on its neighbours as an open one (chosen)
constexpr int kOpenReaches = 2;

void leave_out_beside_open(std::vector<LineStory>& stories) {
  const int n = static_cast<int>(stories.size());
  for (int l = 0; l < n; ++l) {
    const LineStory& line = stories[static_cast<std::size_t>(l)];
    if (line.state == LineState::sound || line.level > kNearlyOpen) continue;
    for (int b = std::max(0, l - kOpenReaches); b <= std::min(n - 1, l + kOpenReaches); ++b) {
      LineStory& beside = stories[static_cast<std::size_t>(b)];
      if (beside.state == LineState::low && beside.level > kBesideOpen) beside = {};
    }
  }
}

void add_axis_groups(std::vector<LineGroup>& out, const std::vector<Looks>& looks,
                     const Reading& reading, const std::vector<LineSteps>& steps, bool of_rows) {
  const LineAxis axis{reading, of_rows};
  std::vector<LineStory> stories;
  for (int l = 0; l < axis.count(); ++l) {
    LineStory story = story_of(looks, reading, l);
    if (is_intermittent(steps[static_cast<std::size_t>(l)])) {
      const LineSteps& s = steps[static_cast<std::size_t>(l)];
      LineGroup g;
      g.cause = Cause::intermittent_line;
      g.lines = {of_rows, l, l, -1};
      g.steps = static_cast<int>(std::max(s.down + s.up, s.faintly_down + s.faintly_up));
      g.first_us = s.first_us;
      g.level = story.level;
      g.score = g.steps > 2 ? 1.0 : 0.8;
      out.push_back(g);
      story = {};
    }
    stories.push_back(story);
  }
  leave_out_beside_open(stories);
  for (int first = 0; first < axis.count(); ++first) {
    const LineStory& head = stories[static_cast<std::size_t>(first)];
    if (head.state == LineState::sound || head.state == LineState::doubled) continue;
    int last = first;
    for (int l = first + 1; l < axis.count() && l <= last + reach_of(head); ++l)
      if (joins(stories[static_cast<std::size_t>(last)], stories[static_cast<std::size_t>(l)],
                l - last))
        last = l;
    out.push_back(group_of(stories, first, last, of_rows, reading));
    first = last;
  }
  for (int l = 0; l + 1 < axis.count(); ++l) {
    const LineStory& a = stories[static_cast<std::size_t>(l)];
    if (a.state != LineState::doubled ||
        stories[static_cast<std::size_t>(l + 1)].state != LineState::doubled)
      continue;
    LineGroup g;
    g.cause = Cause::bridged_lines;
    g.lines = {of_rows, l, l + 1, -1};
    g.level = a.level;
    g.first_us = a.first_us;
    g.score = 1.0;
    out.push_back(g);
  }
}

}  // namespace

std::vector<LineGroup> find_line_groups(Reading& reading, const Account& account) {
  std::vector<LineGroup> out;
  if (reading.empty()) return out;
  LineFilm film;
  std::vector<Looks>& rows = film.rows;
  std::vector<Looks>& columns = film.columns;
  rows.assign(reading.windows(), Looks(static_cast<std::size_t>(reading.shape().rows)));
  columns.assign(reading.windows(), Looks(static_cast<std::size_t>(reading.shape().cols)));
  std::vector<LineYardstick> yardsticks = {LineYardstick::bare(reading)};
  if (!reading.has_reference()) yardsticks.push_back(LineYardstick::beginning(reading));
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    const std::vector<char> explained = find_dead_lines(rows[k], columns[k], reading, k);
    for (const LineYardstick& yardstick : yardsticks) {
      find_low_lines(rows[k], {reading, true}, yardstick, k, explained);
      find_low_lines(columns[k], {reading, false}, yardstick, k, explained);
    }
  }
  if (reading.has_reference()) {
    reach_back(rows);
    reach_back(columns);
  }
  // All lines step when the panel goes blind; that is no single line's doing.
  const bool blind = reading.blind().windows != 0;
  const std::vector<LineSteps> none(
      static_cast<std::size_t>(std::max(reading.shape().rows, reading.shape().cols)));
  add_axis_groups(out, rows, reading, blind ? none : account.survey.rows, true);
  add_axis_groups(out, columns, reading, blind ? none : account.survey.columns, false);
  mend_lines(reading, film, out);
  for (const bool of_rows : {true, false})
    for (const LineGroup& g : bridges_of(reading, of_rows, account.settings.finger_counts)) {
      out.push_back(g);
      const LineAxis axis{reading, of_rows};
      for (int l = g.lines.first; l <= g.lines.last; ++l)
        for (int i = 0; i < axis.crossings(); ++i) reading.mask(axis.node(l, i));
    }
  std::stable_sort(out.begin(), out.end(),
                   [](const LineGroup& a, const LineGroup& b) { return a.score > b.score; });
  return out;
}

}  // namespace bareglass::host
