#include "line_looks.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <limits>

namespace bareglass::host {

namespace {

// Below this share of its reading a node is dead. An open or cut line keeps 0.2 % (field solution),
// the slowest one of this trade (90 kilohm at a column of 72 rows) 10 %.
constexpr float kDead = 0.06f;
// A line of two whose drivers float reads twice as much; nothing else does.
constexpr float kDoubled = 1.6f;
// A line is low from here on. Against a reference the lines of a sound panel agree within 0.1 %;
// their spread at the time, times kOverSpread, counts where supply or display disturb them.
constexpr float kLowExact = 0.0035f;
constexpr float kOverSpread = 6.f;
// Without one a panel's lines differ by construction, its border lines most (common practice, no
// source).
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

}  // namespace

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

namespace {

/// A line's reading over what it should be, by quarters (medians, dead nodes left out).
struct LineLevel {
  float lowest = 1.f, highest = 1.f, middle = 1.f;
  bool known = false;
};

LineLevel level_of(const LineAxis& axis, const LineYardstick& yardstick, std::size_t k, int line) {
  std::array<float, 4> quarter;
  quarter.fill(std::numeric_limits<float>::max());
  std::size_t known = 0;
  std::vector<float> part;
  const int n = axis.crossings();
  for (int q = 0; q < 4; ++q) {
    part.clear();
    for (int i = (q * n + 3) / 4; i < ((q + 1) * n + 3) / 4; ++i) {
      const float ratio = yardstick.ratio(k, axis.node(line, i));
      if (ratio >= kDead) part.push_back(ratio);
    }
    if (part.empty()) continue;
    const auto middle = part.begin() + static_cast<std::ptrdiff_t>(part.size() / 2);
    std::nth_element(part.begin(), middle, part.end());
    quarter[known++] = *middle;
  }
  if (known < 2) return {};
  std::sort(quarter.begin(), quarter.end());  // unknown ones come last
  return {quarter[0], quarter[known - 1], quarter[known / 2], true};
}

std::vector<LineLevel> levels_of(const LineAxis& axis, const LineYardstick& yardstick,
                                 std::size_t k) {
  std::vector<LineLevel> out;
  for (int line = 0; line < axis.count(); ++line) out.push_back(level_of(axis, yardstick, k, line));
  return out;
}

/// 1.48 times the median absolute departure of the lines' levels: their standard deviation if most
/// of them are sound.
float spread_of(const std::vector<LineLevel>& levels) {
  std::vector<float> departures;
  for (const LineLevel& l : levels)
    if (l.known) departures.push_back(std::abs(1.f - l.middle));
  return 1.48f * quantile(std::move(departures), 0.5);
}

float low_limit(const LineAxis& axis, const LineYardstick& yardstick, float spread, int line) {
  if (yardstick.is_exact()) return std::max(kLowExact, kOverSpread * spread);
  return line == 0 || line == axis.count() - 1 ? kLowBorder : kLowSmooth;
}

/// A slow line falls almost equally all along; the far end by a little more.
bool is_even(const LineLevel& level, bool exact) {
  const float least = exact ? 0.003f : 0.012f;
  return level.highest - level.lowest <= std::max(least, 0.3f * (1.f - level.lowest));
}

/// A thing on the glass fades out over the lines beside it, a slow line ends with itself: the sound
/// neighbours of a low run must not share its loss.
void drop_things(Looks& looks, const std::vector<LineLevel>& levels, bool exact) {
  const int n = static_cast<int>(looks.size());
  const auto at = [](int line) { return static_cast<std::size_t>(line); };
  for (int first = 0; first < n; ++first) {
    if (looks[at(first)].state != LineState::low) continue;
    int last = first;
    while (last + 1 < n && looks[at(last + 1)].state == LineState::low) ++last;
    float lost = 0.f;
    for (int l = first; l <= last; ++l) lost = std::max(lost, 1.f - looks[at(l)].level);
    bool thing = false;
    for (const int beside : {first - 1, last + 1}) {
      if (beside < 0 || beside >= n || looks[at(beside)].state != LineState::sound) continue;
      if (!levels[at(beside)].known) continue;
      const float shared = 1.f - levels[at(beside)].middle;
      thing = thing ||
              shared > (exact ? std::max(0.0015f, 0.012f * lost) : std::max(0.008f, 0.05f * lost));
    }
    // No cover takes more than a fifth of a line.
    thing = thing && lost < 0.21f;
    const bool most = last - first + 1 > (2 * n) / 3;
    if (thing || most)
      for (int l = first; l <= last; ++l) looks[at(l)] = {};
    first = last;
  }
}

}  // namespace

LineYardstick LineYardstick::beginning(const Reading& reading) {
  std::vector<float> begin(reading.base().size(), 0.f);
  const std::size_t windows = std::min<std::size_t>(2, reading.windows());
  for (std::size_t k = 0; k < windows; ++k)
    for (std::size_t i = 0; i < begin.size(); ++i)
      begin[i] += reading.window(k).mean[i] / (reading.gain(k) * static_cast<float>(windows));
  return {reading, std::move(begin)};
}

float LineYardstick::ratio(std::size_t k, std::size_t node) const {
  if (begin_.empty()) return reading_.ratio(k, node);
  const float begin = begin_[node];
  return begin < 1.f ? 1.f : reading_.window(k).mean[node] / (begin * reading_.gain(k));
}

void find_low_lines(Looks& looks, const LineAxis& axis, const LineYardstick& yardstick,
                    std::size_t k) {
  const std::vector<LineLevel> levels = levels_of(axis, yardstick, k);
  const float spread = spread_of(levels);
  const bool exact = yardstick.is_exact();
  Looks low(looks.size());
  for (int line = 0; line < axis.count(); ++line) {
    const auto l = static_cast<std::size_t>(line);
    low[l] = looks[l];
    if (looks[l].state != LineState::sound || !levels[l].known) continue;
    low[l].level = levels[l].middle;
    if (levels[l].lowest > kDoubled) low[l].state = LineState::doubled;
    const float lost = 1.f - levels[l].highest;
    if (lost > low_limit(axis, yardstick, spread, line) && is_even(levels[l], exact))
      low[l].state = LineState::low;
  }
  drop_things(low, levels, exact);
  for (std::size_t l = 0; l < looks.size(); ++l)
    if (looks[l].state == LineState::sound) looks[l] = low[l];
}

}  // namespace bareglass::host
