#include "line_looks.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <limits>

namespace bareglass::host {

namespace {

// Below this share of its reading a node is dead; nothing on the glass takes more than 19 % (field
// solution, 0.7 mm glass, full grounded cover). Floating stretches of cut rows keep up to 13 %.
constexpr float kDead = 0.25f;
// Above this share a node beside a cut is intact; a slow line has no such step anywhere.
constexpr float kIntact = 0.5f;
// An open line keeps 0.2 % (field solution).
constexpr float kOpen = 0.02f;
// A line of two whose drivers float reads twice as much; nothing else does.
constexpr float kDoubled = 1.6f;
// A line is low from here on. Against a reference the lines of a sound panel agree within 0.1 %;
// their spread at the time, times kOverSpread, counts where supply or display disturb them.
constexpr float kLowExact = 0.002f;
constexpr float kOverSpread = 6.f;
constexpr float kOverLift = 4.f;
constexpr float kOverSwing = 4.f;
// A ripple of more than this share of the drive is none: half of the rows are worn.
constexpr double kMostSwing = 0.04;
// Level of a row beside the others' from which on it is lifted or lowered: five times what twelve
// frames of noise make of it on the smallest panel.
constexpr float kStandingShare = 0.001f;
// Fluid at a bezel falls off by so much from one line to the next (strips that end within 4 mm
// beyond the outermost line's centre on the simulated panel: 0.01 to 0.59, most under thick glass).
constexpr float kFluidFalls = 0.62f;
// At the end of what covers a line less than this part of its loss is left (chosen), plainly more
// than noise.
constexpr float kEndOfThing = 0.7f;
constexpr float kFarAbove = 6.f;
// Without one a panel's lines differ by construction, its border lines most (common practice, no
// source); how much the inner ones do they show themselves.
constexpr float kLowSmooth = 0.012f;
constexpr float kLowBorder = 0.20f;

/// Nodes of one window that are dead, and those that a faulty line already explains.
struct DeadMap {
  std::vector<char> dead;
  std::vector<char> explained;
  int total = 0;  ///< dead and not explained
};

DeadMap dead_map(const Reading& reading, std::size_t k) {
  DeadMap map;
  const auto nodes = static_cast<std::size_t>(reading.shape().nodes());
  map.dead.resize(nodes);
  map.explained.resize(nodes);
  for (std::size_t i = 0; i < nodes; ++i) {
    map.dead[i] = reading.base()[i] > 50.f && reading.ratio(k, i) < kDead;
    map.total += map.dead[i];
  }
  return map;
}

/// What a line fault would explain: the dead nodes among its crossings from..to - 1.
struct Candidate {
  int explained = 0;
  bool of_rows = true;
  int line = 0;
  int from = 0, to = 0;
  LineLook look;
};

/// The line as a whole: nothing of it reads half of what it should.
Candidate whole_line(const LineAxis& axis, std::size_t k, int line, const DeadMap& map) {
  Candidate c;
  c.of_rows = axis.of_rows;
  c.line = line;
  c.to = axis.crossings();
  std::vector<float> ratios;
  int dead = 0;
  for (int i = 0; i < axis.crossings(); ++i) {
    const std::size_t node = axis.node(line, i);
    if (map.explained[node]) continue;
    dead += map.dead[node];
    ratios.push_back(axis.reading.ratio(k, node));
  }
  if (dead == 0 || *std::max_element(ratios.begin(), ratios.end()) > kIntact) return c;
  const float level = quantile(std::move(ratios), 0.5);
  c.look = {level < kOpen ? LineState::open : LineState::low, -1, level};
  c.explained = dead;
  return c;
}

/// The line from one end to a cut: dead up to a node that is intact.
Candidate cut_line(const LineAxis& axis, std::size_t k, int line, const DeadMap& map) {
  Candidate c;
  c.of_rows = axis.of_rows;
  c.line = line;
  const int n = axis.crossings();
  const auto dead = [&](int i) { return map.dead[axis.node(line, i)] != 0; };
  const auto intact = [&](int i) { return axis.reading.ratio(k, axis.node(line, i)) > kIntact; };
  int head = 0;
  while (head < n && dead(head)) ++head;
  int tail = 0;
  while (tail < n && dead(n - 1 - tail)) ++tail;
  if (head == n) return c;
  const bool at_tail = tail >= head;
  const int length = std::max(head, tail);
  if (length == 0 || !intact(at_tail ? n - 1 - tail : head)) return c;
  c.from = at_tail ? n - tail : 0;
  c.to = at_tail ? n : head;
  c.look = {LineState::cut, at_tail ? n - tail : head, 0.f};
  for (int i = c.from; i < c.to; ++i) c.explained += !map.explained[axis.node(line, i)];
  return c;
}

using Find = Candidate (*)(const LineAxis&, std::size_t, int, const DeadMap&);

/// The faults found by `find`, the one that explains most dead nodes first.
void explain(Looks& looks, DeadMap& map, const LineAxis& axis, std::size_t k, Find find) {
  while (map.total > 0) {
    Candidate best;
    for (int line = 0; line < axis.count(); ++line) {
      const Candidate c = find(axis, k, line, map);
      if (c.explained > best.explained) best = c;
    }
    if (best.explained == 0) return;
    looks[static_cast<std::size_t>(best.line)] = best.look;
    for (int i = best.from; i < best.to; ++i) {
      const std::size_t node = axis.node(best.line, i);
      map.total -= map.dead[node] && !map.explained[node];
      map.explained[node] = 1;
    }
  }
}

/// Whether the dead nodes that are left belong to rows rather than columns, which a block in a
/// corner leaves open. The cut-off stretch of a row floats and lifts the rows beside it (field
/// solution: +7.8 %); where idle rows float too it does not, but reads some per cent itself. The
/// stretch of a column lifts the columns beside it by under 1 % and reads twice as much at most.
bool are_of_rows(const Reading& reading, std::size_t k, const DeadMap& map) {
  const Shape shape = reading.shape();
  std::vector<float> above;
  std::vector<float> aside;
  std::vector<char> of_rows(static_cast<std::size_t>(shape.rows), 0);
  std::vector<char> of_columns(static_cast<std::size_t>(shape.cols), 0);
  float most = 0.f;
  const auto look = [&](std::vector<float>& into, int r, int c) {
    if (r < 0 || c < 0 || r >= shape.rows || c >= shape.cols) return;
    const std::size_t node = reading.node_at(r, c);
    if (!map.dead[node]) into.push_back(reading.ratio(k, node));
  };
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      const std::size_t node = reading.node_at(r, c);
      if (!map.dead[node] || map.explained[node]) continue;
      most = std::max(most, reading.ratio(k, node));
      of_rows[static_cast<std::size_t>(r)] = of_columns[static_cast<std::size_t>(c)] = 1;
      for (const int step : {-1, 1}) {
        look(above, r + step, c);
        look(aside, r, c + step);
      }
    }
  // No crack cuts more than half of the lines of one direction.
  const auto lines = [](const std::vector<char>& hit) {
    return 2 * std::count(hit.begin(), hit.end(), 1) > static_cast<std::ptrdiff_t>(hit.size());
  };
  if (lines(of_rows) != lines(of_columns)) return lines(of_columns);
  if (quantile(std::move(above), 0.5) > 1.03f) return true;
  if (reading.has_reference() && quantile(std::move(aside), 0.5) > 1.004f) return false;
  return most > 0.025f;
}

}  // namespace

std::vector<char> find_dead_lines(Looks& rows, Looks& columns, const Reading& reading,
                                  std::size_t k) {
  DeadMap map = dead_map(reading, k);
  // With most of the panel dead it is not lines that are broken.
  if (map.total == 0 || map.total * 10 > reading.shape().nodes() * 7) return map.explained;
  const LineAxis of_rows{reading, true};
  const LineAxis of_columns{reading, false};
  explain(rows, map, of_rows, k, whole_line);
  explain(columns, map, of_columns, k, whole_line);
  const bool rows_first = are_of_rows(reading, k, map);
  if (rows_first) explain(rows, map, of_rows, k, cut_line);
  explain(columns, map, of_columns, k, cut_line);
  if (!rows_first) explain(rows, map, of_rows, k, cut_line);
  return map.explained;
}

namespace {

/// `ratio`: of a crossing.
template <typename Ratio>
LineLevel level_by(const LineAxis& axis, int line, const std::vector<char>& explained,
                   const Ratio& ratio) {
  std::array<float, 4> quarter;
  quarter.fill(std::numeric_limits<float>::max());
  std::size_t known = 0;
  std::vector<float> part;
  const int n = axis.crossings();
  for (int q = 0; q < 4; ++q) {
    part.clear();
    for (int i = (q * n + 3) / 4; i < ((q + 1) * n + 3) / 4; ++i)
      if (explained.empty() || !explained[axis.node(line, i)]) part.push_back(ratio(i));
    if (part.empty()) continue;
    const auto middle = part.begin() + static_cast<std::ptrdiff_t>(part.size() / 2);
    std::nth_element(part.begin(), middle, part.end());
    quarter[known++] = *middle;
  }
  if (known < 2) return {};
  std::sort(quarter.begin(), quarter.end());  // unknown ones come last
  return {quarter[0], quarter[known - 1], quarter[known / 2], true};
}

LineLevel level_of(const LineAxis& axis, const LineYardstick& yardstick, std::size_t k, int line,
                   const std::vector<char>& explained) {
  return level_by(axis, line, explained,
                  [&](int i) { return yardstick.ratio(k, axis.node(line, i)); });
}

}  // namespace

std::vector<LineLevel> line_levels(const LineAxis& axis, const LineYardstick& yardstick,
                                   std::size_t k, const std::vector<char>& explained) {
  std::vector<LineLevel> out;
  for (int line = 0; line < axis.count(); ++line)
    out.push_back(level_of(axis, yardstick, k, line, explained));
  return out;
}

double standing_swing(const std::vector<LineLevel>& rows) {
  std::vector<float> even;
  std::size_t known = 0;
  for (const LineLevel& l : rows) {
    if (!l.known) continue;
    ++known;
    // A film covers part of a row, a touch too; what comes by wire moves all of it.
    const float departure = std::abs(l.middle - 1.f);
    if (l.highest - l.lowest < kStandingShare + 0.25f * departure) even.push_back(l.middle);
  }
  if (even.size() < 5 || 2 * even.size() < known) return 0;
  const float middle = quantile(even, 0.5);
  std::size_t up = 0;
  std::size_t down = 0;
  double squares = 0;
  for (const float l : even) {
    up += l > middle + kStandingShare;
    down += l < middle - kStandingShare;
    squares += static_cast<double>((l - middle) * (l - middle)) / static_cast<double>(even.size());
  }
  const std::size_t least = std::max<std::size_t>(2, even.size() / 6);
  if (up < least || down < least || squares > kMostSwing * kMostSwing) return 0;
  return std::sqrt(squares);
}

namespace {

/// 3.1 times the least quartile of the lines' absolute departures: the standard deviation of the
/// sound ones, as long as a quarter of the lines is sound.
float spread_of(const std::vector<LineLevel>& levels) {
  std::vector<float> departures;
  for (const LineLevel& l : levels)
    if (l.known) departures.push_back(std::abs(1.f - l.middle));
  return 3.1f * quantile(std::move(departures), 0.25);
}

/// How far lines are raised: what swings them as a whole lowers others as much. Less than a quarter
/// of the lines lie beside open rows, which lift them.
float lift_of(const std::vector<LineLevel>& levels) {
  std::vector<float> lifts;
  for (const LineLevel& l : levels)
    if (l.known) lifts.push_back(std::max(0.f, l.middle - 1.f));
  return quantile(std::move(lifts), 0.75);
}

float low_limit(const LineAxis& axis, const LineYardstick& yardstick, float usual, int line) {
  if (yardstick.is_exact()) return std::max(kLowExact, usual);
  return line == 0 || line == axis.count() - 1 ? kLowBorder : std::max(kLowSmooth, usual);
}

/// A slow line falls almost equally all along; the far end by a little more.
bool is_even(const LineLevel& level, bool exact) {
  const float least = exact ? 0.003f : 0.012f;
  return level.highest - level.lowest <= std::max(least, 0.3f * (1.f - level.lowest));
}

/// Whether a run at the border falls off inwards as fluid at the bezel does.
bool falls_off(const Looks& looks, int first, int last) {
  const int n = static_cast<int>(looks.size());
  const bool at_end = last == n - 1;
  if (first == last || (first != 0 && !at_end)) return false;
  for (int k = 0; k < last - first; ++k) {
    const int outer = at_end ? last - k : first + k;
    const int inner = at_end ? outer - 1 : outer + 1;
    const auto lost = [&](int l) { return 1.f - looks[static_cast<std::size_t>(l)].level; };
    if (lost(inner) > kFluidFalls * lost(outer)) return false;
  }
  return true;
}

/// A single slow line under a film reads unevenly; but so do the lines beside it, and against their
/// mean it is even again.
LineLevel beside_level(const LineAxis& axis, const LineYardstick& yardstick, std::size_t k,
                       int line, const std::vector<char>& explained) {
  if (line == 0 || line == axis.count() - 1) return {};
  const auto ratio = [&](int l, int i) { return yardstick.ratio(k, axis.node(l, i)); };
  return level_by(axis, line, explained, [&](int i) {
    return ratio(line, i) / (0.5f * (ratio(line - 1, i) + ratio(line + 1, i)));
  });
}

/// A thing on the glass fades out over the lines beside it, a slow line ends with itself: the sound
/// neighbours of a low run must not share its loss.
template <typename Ends>
void drop_things(Looks& looks, const std::vector<LineLevel>& levels, bool exact,
                 const Ends& ends_before) {
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
    thing = thing || falls_off(looks, first, last) || ends_before(looks, first, last);
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
                    std::size_t k, const std::vector<char>& explained) {
  const std::vector<LineLevel> levels = line_levels(axis, yardstick, k, explained);
  float usual = std::max(kOverSpread * spread_of(levels), kOverLift * lift_of(levels));
  if (axis.of_rows)
    usual = std::max(usual, kOverSwing * static_cast<float>(standing_swing(levels)));
  const bool exact = yardstick.is_exact();
  const float noise = axis.reading.noise() /
                      std::sqrt(static_cast<float>(std::max(1, axis.reading.window(k).frames))) /
                      std::max(1.f, quantile(axis.reading.base(), 0.5));
  Looks low(looks.size());
  for (int line = 0; line < axis.count(); ++line) {
    const auto l = static_cast<std::size_t>(line);
    low[l] = looks[l];
    if (looks[l].state != LineState::sound || !levels[l].known) continue;
    low[l].level = levels[l].middle;
    if (levels[l].lowest > kDoubled) low[l].state = LineState::doubled;
    const float lost = 1.f - levels[l].highest;
    const float limit = low_limit(axis, yardstick, usual, line);
    if (lost > limit && is_even(levels[l], exact)) low[l].state = LineState::low;
    if (low[l].state != LineState::sound || !exact || is_even(levels[l], exact)) continue;
    const LineLevel beside = beside_level(axis, yardstick, k, line, explained);
    if (!beside.known || 1.f - beside.highest < 2.f * limit || !is_even(beside, exact)) continue;
    low[l].state = LineState::low;
    low[l].level = beside.middle;
  }
  // What covers a line ends before it or begins behind its first crossing; a slow line reads low
  // from end to end.
  const auto ends_before = [&](const Looks& l, int first, int last) {
    int ends = 0;
    int sound = 0;
    for (int line = first; line <= last; ++line)
      for (const int i : {0, axis.crossings() - 1}) {
        const std::size_t node = axis.node(line, i);
        if (!explained.empty() && explained[node]) continue;
        ++ends;
        const float lost = 1.f - l[static_cast<std::size_t>(line)].level;
        const float seen = 1.f - yardstick.ratio(k, node);
        sound += seen < kEndOfThing * lost && lost - seen > kFarAbove * noise;
      }
    return 2 * sound >= ends && ends > 0;
  };
  drop_things(low, levels, exact, ends_before);
  for (std::size_t l = 0; l < looks.size(); ++l)
    if (looks[l].state == LineState::sound) looks[l] = low[l];
}

}  // namespace bareglass::host
