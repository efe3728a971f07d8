#include "line_survey.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "line_axis.hpp"

namespace bareglass::host {

namespace {

// Below this share of its reading a node is dead; nothing on the glass takes more than 19 % (field
// solution, 0.7 mm glass, full grounded cover).
constexpr float kDead = 0.25f;
// A line of two whose drivers float reads twice as much; nothing else does.
constexpr float kDoubled = 1.6f;
// A line is low from here on. Against a reference lines agree within 0.5 %; without one a panel's
// lines differ by construction, its border lines most (common practice, no source).
constexpr float kLowReference = 0.018f;
constexpr float kLowSmooth = 0.035f;
constexpr float kLowBorder = 0.20f;

/// Dead nodes of one window and which of them a line already explains.
struct DeadMap {
  std::vector<char> dead;
  int total = 0;
};

DeadMap dead_map(const Reading& reading, std::size_t k) {
  DeadMap map;
  const auto nodes = static_cast<std::size_t>(reading.shape().nodes());
  map.dead.resize(nodes);
  for (std::size_t i = 0; i < nodes; ++i) {
    map.dead[i] = reading.base()[i] > 50.f && reading.ratio(k, i) < kDead;
    map.total += map.dead[i];
  }
  return map;
}

/// How many dead nodes a line fault would explain, and which fault.
struct Candidate {
  int explained = 0;
  bool of_rows = true;
  int line = 0;
  int from = 0, to = 0;  ///< crossings it leaves dead: from..to - 1
  LineLook look;
};

Candidate candidate(const LineAxis& axis, int line, const DeadMap& map) {
  const int n = axis.crossings();
  int dead = 0;
  for (int i = 0; i < n; ++i) dead += map.dead[axis.node(line, i)];
  Candidate c;
  c.of_rows = axis.of_rows;
  c.line = line;
  if (dead == 0) return c;
  int head = 0;
  while (head < n && map.dead[axis.node(line, head)]) ++head;
  int tail = 0;
  while (tail < n && map.dead[axis.node(line, n - 1 - tail)]) ++tail;
  const bool one_piece = dead < n && std::max(head, tail) == dead;
  if (dead >= n - n / 12 && !one_piece) {
    c.look = {LineState::open, -1, 0.f};
    c.explained = dead;
    c.to = n;
  } else if (std::max(head, tail) >= 1) {
    c.look = {LineState::cut, tail >= head ? n - tail : head, 0.f};
    c.from = tail >= head ? n - tail : 0;
    c.to = tail >= head ? n : head;
    c.explained = std::max(head, tail);
  }
  return c;
}

using Looks = std::vector<LineLook>;

/// Open and cut lines of window k: the fault that explains most dead nodes first.
void find_dead_lines(Looks& rows, Looks& columns, const Reading& reading, std::size_t k) {
  DeadMap map = dead_map(reading, k);
  // With most of the panel dead it is not lines that are broken.
  if (map.total * 10 > reading.shape().nodes() * 7) return;
  const LineAxis axes[] = {{reading, true}, {reading, false}};
  while (map.total > 0) {
    Candidate best;
    for (const LineAxis& axis : axes)
      for (int line = 0; line < axis.count(); ++line) {
        const Candidate c = candidate(axis, line, map);
        if (c.explained > best.explained) best = c;
      }
    if (best.explained == 0) return;
    (best.of_rows ? rows : columns)[static_cast<std::size_t>(best.line)] = best.look;
    const LineAxis& axis = axes[best.of_rows ? 0 : 1];
    for (int i = best.from; i < best.to; ++i) {
      const std::size_t node = axis.node(best.line, i);
      map.total -= map.dead[node];
      map.dead[node] = 0;
    }
  }
}

/// Medians of the four quarters of a line, share of what they should read, without dead nodes.
std::vector<float> quarters(const LineAxis& axis, std::size_t k, int line) {
  std::vector<float> out;
  const int n = axis.crossings();
  for (int q = 0; q < 4; ++q) {
    std::vector<float> part;
    for (int i = (q * n + 3) / 4; i < ((q + 1) * n + 3) / 4; ++i) {
      const float ratio = axis.reading.ratio(k, axis.node(line, i));
      if (ratio >= kDead) part.push_back(ratio);
    }
    if (!part.empty()) out.push_back(quantile(std::move(part), 0.5));
  }
  return out;
}

float low_limit(const LineAxis& axis, int line) {
  if (axis.reading.has_reference()) return kLowReference;
  return line == 0 || line == axis.count() - 1 ? kLowBorder : kLowSmooth;
}

/// Low and doubled lines of window k.
void find_low_lines(Looks& looks, const LineAxis& axis, std::size_t k) {
  for (int line = 0; line < axis.count(); ++line) {
    LineLook& look = looks[static_cast<std::size_t>(line)];
    if (look.state != LineState::sound) continue;
    const std::vector<float> q = quarters(axis, k, line);
    if (q.size() < 2) continue;
    const float lowest = *std::min_element(q.begin(), q.end());
    const float highest = *std::max_element(q.begin(), q.end());
    const float level = quantile(q, 0.5);
    look.level = level;
    if (lowest > kDoubled) look.state = LineState::doubled;
    const float lost = 1.f - highest;
    // A slow line falls almost equally all along; the far end by a little more.
    const bool even = highest - lowest <= std::max(0.012f, 0.3f * (1.f - lowest));
    if (lost > low_limit(axis, line) && even) look.state = LineState::low;
  }
}

/// A thing on the glass fades out over the lines beside it, a slow line ends with itself: the sound
/// neighbours of a low run must not share its loss.
void drop_things(Looks& looks, const LineAxis& axis, std::size_t k) {
  const int n = axis.count();
  for (int first = 0; first < n; ++first) {
    if (looks[static_cast<std::size_t>(first)].state != LineState::low) continue;
    int last = first;
    float lost = 0.f;
    while (last + 1 < n && looks[static_cast<std::size_t>(last + 1)].state == LineState::low)
      ++last;
    for (int l = first; l <= last; ++l)
      lost = std::max(lost, 1.f - looks[static_cast<std::size_t>(l)].level);
    float shared = 0.f;
    for (const int beside : {first - 1, last + 1}) {
      if (beside < 0 || beside >= n) continue;
      if (looks[static_cast<std::size_t>(beside)].state != LineState::sound) continue;
      const std::vector<float> q = quarters(axis, k, beside);
      if (!q.empty()) shared = std::max(shared, 1.f - quantile(q, 0.5));
    }
    // No cover takes more than a fifth of a line.
    const bool thing =
        lost < 0.21f && shared > (axis.reading.has_reference() ? std::max(0.0015f, 0.012f * lost)
                                                               : std::max(0.008f, 0.05f * lost));
    const bool half = last - first + 1 > (2 * n) / 3;
    if (thing || half)
      for (int l = first; l <= last; ++l) looks[static_cast<std::size_t>(l)] = {};
    first = last;
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
    if (look.state != story.state) continue;
    if (story.first_us == 0) story.first_us = reading.window(k).first_us;
    story.last_us = reading.window(k).last_us;
    story.level = std::min(story.level, look.level);
    at.push_back(static_cast<float>(look.at));
  }
  story.at = static_cast<int>(quantile(std::move(at), 0.5));
  return story;
}

bool is_intermittent(const LineSteps& s) { return s.down >= 1 && s.up >= 1; }

}  // namespace

// Defined in line_bridges.cpp.
std::vector<LineGroup> bridges_of(const Reading& reading, bool of_rows, float finger);

namespace {

Cause cause_of(LineState state, int count) {
  if (state == LineState::cut) return Cause::crack;
  if (count > 1) return Cause::worn_tail;
  return state == LineState::open ? Cause::open_line : Cause::raised_resistance;
}

bool joins(const LineStory& a, const LineStory& b) {
  const auto is_tail = [](const LineStory& s) {
    return s.state == LineState::open || s.state == LineState::low;
  };
  if (a.state == LineState::cut && b.state == LineState::cut) return true;
  return is_tail(a) && is_tail(b);
}

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
  g.at_last = head.state == LineState::cut ? stories[static_cast<std::size_t>(last)].at : -1;
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

void mask_line(Reading& reading, const LineAxis& axis, int line) {
  for (int i = 0; i < axis.crossings(); ++i) reading.mask(axis.node(line, i));
}

/// The lines beside an open or cut row gain up to 8 % where it floats.
void mask_group(Reading& reading, const LineGroup& g) {
  const LineAxis axis{reading, g.lines.of_rows};
  const bool open_rows = g.lines.of_rows && g.level < 0.5f;
  const int around = open_rows ? 2 : 0;
  for (int l = std::max(0, g.lines.first - around);
       l <= std::min(axis.count() - 1, g.lines.last + around); ++l)
    mask_line(reading, axis, l);
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
      g.steps = static_cast<int>(s.down + s.up);
      g.first_us = s.first_us;
      g.level = story.level;
      g.score = g.steps > 2 ? 1.0 : 0.8;
      out.push_back(g);
      story = {};
    }
    stories.push_back(story);
  }
  for (int first = 0; first < axis.count(); ++first) {
    const LineStory& head = stories[static_cast<std::size_t>(first)];
    if (head.state == LineState::sound || head.state == LineState::doubled) continue;
    int last = first;
    while (last + 1 < axis.count() && joins(head, stories[static_cast<std::size_t>(last + 1)]))
      ++last;
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
  std::vector<Looks> rows(reading.windows(), Looks(static_cast<std::size_t>(reading.shape().rows)));
  std::vector<Looks> columns(reading.windows(),
                             Looks(static_cast<std::size_t>(reading.shape().cols)));
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    find_dead_lines(rows[k], columns[k], reading, k);
    const LineAxis axes[] = {{reading, true}, {reading, false}};
    find_low_lines(rows[k], axes[0], k);
    find_low_lines(columns[k], axes[1], k);
    drop_things(rows[k], axes[0], k);
    drop_things(columns[k], axes[1], k);
  }
  add_axis_groups(out, rows, reading, account.survey.rows, true);
  add_axis_groups(out, columns, reading, account.survey.columns, false);
  for (const LineGroup& g : out) mask_group(reading, g);
  for (const bool of_rows : {true, false})
    for (const LineGroup& g : bridges_of(reading, of_rows, account.settings.finger_counts)) {
      out.push_back(g);
      mask_group(reading, g);
    }
  std::stable_sort(out.begin(), out.end(),
                   [](const LineGroup& a, const LineGroup& b) { return a.score > b.score; });
  return out;
}

}  // namespace bareglass::host
