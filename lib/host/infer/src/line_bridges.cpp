// Bridged lines: two neighbours that read the same, node for node. With idle rows driven low a
// bridged pair reads its own mean, so nothing is low or doubled; what goes is the difference that
// the two lines have by manufacture.

#include <algorithm>
#include <cmath>

#include "line_axis.hpp"
#include "line_survey.hpp"

namespace bareglass::host {

namespace {

// Of the two lines' own difference at most this share (of its mean square) is left. Bridges of up
// to 60 ohm beside drivers of 500 leave 0.4 % on small panels and 6 % on long lines; a healthy pair
// keeps all of it.
constexpr double kMostLeft = 0.12;
// Without a reference a pair is held against the other pairs, and by chance (one in a million) the
// mean square over n nodes falls to (1 - 2/9n - 4.75 sqrt(2/9n))^3 of its expectation (chi-square
// by Wilson and Hilferty 1931).
constexpr double kChance = 4.75;
// The difference must stand this far above what noise alone makes of it.
constexpr double kAboveNoise = 7.0;
// Of the variance of the lines' differences the reference must explain this share; otherwise they
// are its own noise and age, and a pair may lack them by chance (chosen).
constexpr double kKnown = 0.7;
constexpr int kLeastNodes = 6;
constexpr double kNotTold = -1;
/// Departure from the bare reading that a thing makes, shares of a finger.
constexpr float kTouched = 0.06f;
// A bridge stays: it shows in this share of what follows.
constexpr double kStays = 0.6;
/// Windows averaged, 0.7 s.
constexpr std::size_t kPart = 3;

double chance_limit(int nodes) {
  const double part = 2.0 / (9.0 * std::max(1, nodes));
  const double root = std::max(0.0, 1.0 - part - kChance * std::sqrt(part));
  return std::min(kMostLeft, root * root * root);
}

/// Mean reading of the windows from..to - 1.
std::vector<float> mean_of(const Reading& reading, std::size_t from, std::size_t to) {
  std::vector<float> out(reading.base().size(), 0.f);
  for (std::size_t k = from; k < to; ++k)
    for (std::size_t i = 0; i < out.size(); ++i)
      out[i] += reading.window(k).mean[i] / static_cast<float>(to - from);
  return out;
}

/// What the difference between a line and the next amounts to on one map.
struct Difference {
  double seen = -1;   ///< mean square over the bare nodes, counts^2; -1: too few nodes
  double known = -1;  ///< that of the reference over the same nodes
  double both = 0;    ///< mean product of the two
  int nodes = 0;
};

/// Lines differ as a whole, too, by how far they have settled where they cross the others; that
/// part stays with a bridge and is no sign of two lines.
void take_out_mean(std::vector<double>& values) {
  double mean = 0;
  for (const double v : values) mean += v / static_cast<double>(values.size());
  for (double& v : values) v -= mean;
}

/// Whether both lines read a fifth more than bare from end to end: the two are driven or sensed as
/// one, each with the other's charge. By how much depends on what the converter adds to it. Nothing
/// on the glass raises a whole line by as much.
bool have_risen(const LineAxis& axis, int line, const std::vector<float>& map,
                const std::vector<float>& bare) {
  constexpr float kRisen = 1.2f;
  int seen = 0;
  for (int i = 0; i < axis.crossings(); ++i)
    for (const int l : {line, line + 1}) {
      const std::size_t node = axis.node(l, i);
      if (axis.reading.spoiled(node)) continue;
      if (map[node] < kRisen * bare[node]) return false;
      ++seen;
    }
  return seen > 0;
}

/// Crossings where both lines read as they do without a thing on them; a bridge moves the two apart
/// from their own readings by as much, one up and one down.
std::vector<int> bare_crossings(const LineAxis& axis, int line, const std::vector<float>& map,
                                const std::vector<float>& bare, float touched) {
  std::vector<int> out;
  for (int i = 0; i < axis.crossings(); ++i) {
    const std::size_t a = axis.node(line, i);
    const std::size_t b = axis.node(line + 1, i);
    if (axis.reading.spoiled(a) || axis.reading.spoiled(b)) continue;
    if (std::abs(bare[a] + bare[b] - map[a] - map[b]) < 2.f * touched) out.push_back(i);
  }
  return out;
}

double mean_product(const std::vector<double>& a, const std::vector<double>& b) {
  double sum = 0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i] / static_cast<double>(a.size());
  return sum;
}

/// `bare`: what the panel reads without things, counts; `touched`: departure from it that a thing
/// makes, counts.
Difference difference_of(const LineAxis& axis, int line, const std::vector<float>& map,
                         const std::vector<float>& bare, float touched) {
  std::vector<double> seen;
  std::vector<double> known;
  for (const int i : bare_crossings(axis, line, map, bare, touched)) {
    const std::size_t a = axis.node(line, i);
    const std::size_t b = axis.node(line + 1, i);
    seen.push_back(static_cast<double>(map[a] - map[b]));
    known.push_back(static_cast<double>(axis.reading.base()[a] - axis.reading.base()[b]));
  }
  Difference out;
  out.nodes = static_cast<int>(seen.size());
  if (out.nodes < std::max(kLeastNodes, axis.crossings() / 2)) return out;
  take_out_mean(seen);
  take_out_mean(known);
  out.seen = mean_product(seen, seen);
  out.known = mean_product(known, known);
  out.both = mean_product(seen, known);
  return out;
}

/// The reference, or the first windows of the dump, scaled to window k's drive.
std::vector<float> bare_map(const Reading& reading, std::size_t k) {
  std::vector<float> bare = reading.has_reference()
                                ? reading.base()
                                : mean_of(reading, 0, std::min(kPart, reading.windows()));
  const float scale = reading.has_reference() ? reading.gain(k) : reading.gain(k) / reading.gain(0);
  for (float& v : bare) v *= scale;
  return bare;
}

/// How far each pair of one part of the dump has become one line: share of its own difference that
/// is left, kNotTold where that can't be told.
std::vector<double> shares_left(const LineAxis& axis, std::size_t from, std::size_t to,
                                float touched, bool& is_known) {
  const std::vector<float> map = mean_of(axis.reading, from, to);
  const std::vector<float> bare = bare_map(axis.reading, from);
  std::vector<Difference> pairs;
  std::vector<float> usual, known;
  for (int l = 0; l + 1 < axis.count(); ++l) {
    pairs.push_back(difference_of(axis, l, map, bare, touched));
    if (pairs.back().seen < 0) continue;
    usual.push_back(static_cast<float>(pairs.back().seen));
    known.push_back(static_cast<float>(pairs.back().known));
  }
  // Whether the panel is the one that the reference knows, node for node.
  double seen = 0, in_reference = 0, both = 0;
  for (const Difference& d : pairs) {
    if (d.seen < 0) continue;
    seen += d.seen;
    in_reference += d.known;
    both += d.both;
  }
  is_known = axis.reading.has_reference() && both > 0 && both * both > kKnown * seen * in_reference;
  // Among the lowest: things on the glass set lines apart, a single bridge is one pair.
  const double typical = static_cast<double>(quantile(usual, 0.1));
  int frames = 0;
  for (std::size_t k = from; k < to; ++k) frames += axis.reading.window(k).frames;
  const double noise = static_cast<double>(axis.reading.noise());
  // Rounding to whole counts does not average away: 1/12 count squared for each of the two.
  const double noise_square = 2.0 * noise * noise / std::max(1, frames) + 1.0 / 6.0;
  // Part of what the lines of a reference differ by is its own noise and age, and is not in the
  // panel: as much as most pairs have lost.
  const double all_known = static_cast<double>(quantile(std::move(known), 0.5));
  const double all_seen = static_cast<double>(quantile(usual, 0.5)) - noise_square;
  const double real = all_known > 0 ? std::clamp(all_seen / all_known, 0.0, 1.0) : 0.0;
  std::vector<double> out;
  for (const Difference& d : pairs) {
    if (have_risen(axis, static_cast<int>(out.size()), map, bare)) {
      out.push_back(0.0);
      continue;
    }
    const double expected = axis.reading.has_reference() ? real * d.known : typical;
    const bool told = d.seen >= 0 && expected >= kAboveNoise * noise_square;
    out.push_back(told ? std::max(0.0, d.seen - noise_square) / expected : kNotTold);
  }
  return out;
}

LineGroup bridge(const LineAxis& axis, int line, std::size_t from, double left) {
  LineGroup g;
  g.cause = Cause::bridged_lines;
  g.lines = {axis.of_rows, line, line + 1, -1};
  g.level = static_cast<float>(left);
  g.first_us = axis.reading.window(from).first_us;
  g.score = axis.reading.has_reference() ? 0.95 : 0.85;
  return g;
}

}  // namespace

std::vector<LineGroup> bridges_of(const Reading& reading, bool of_rows, float finger) {
  const LineAxis axis{reading, of_rows};
  struct Pair {
    std::size_t from = 0;
    double left = 1;
    int parts = 0, told = 0;  ///< since from
  };
  std::vector<Pair> pairs(static_cast<std::size_t>(std::max(0, axis.count() - 1)));
  const std::size_t all = reading.windows();
  const std::size_t part = std::min(kPart, all);
  for (std::size_t from = 0; from + part <= all; ++from) {
    bool is_known = false;
    const std::vector<double> left =
        shares_left(axis, from, from + part, kTouched * finger, is_known);
    const double limit = is_known ? kMostLeft : chance_limit(axis.crossings());
    for (std::size_t l = 0; l < pairs.size(); ++l) {
      if (left[l] == kNotTold) continue;
      Pair& pair = pairs[l];
      const bool bridged = left[l] < limit;
      if (pair.told == 0 && !bridged) continue;
      if (pair.told == 0) pair.from = from;
      ++pair.told;
      pair.parts += bridged;
      pair.left = std::min(pair.left, left[l]);
    }
  }
  // Parts that share windows may all be one finger's doing, whose skirt happens to cancel what the
  // two lines differ by. Four in a row reach over two parts that share none.
  const int least = static_cast<int>(std::min(kPart + 1, all - part + 1));
  std::vector<LineGroup> out;
  for (std::size_t l = 0; l < pairs.size(); ++l)
    if (pairs[l].parts >= least && pairs[l].parts >= kStays * pairs[l].told)
      out.push_back(bridge(axis, static_cast<int>(l), pairs[l].from, pairs[l].left));
  // A chain of such pairs is a thing that covers them all, not a bridge.
  const auto in_chain = [&](const LineGroup& g) {
    return std::any_of(out.begin(), out.end(), [&](const LineGroup& other) {
      return other.lines.first == g.lines.last || other.lines.last == g.lines.first;
    });
  };
  std::vector<LineGroup> alone;
  for (const LineGroup& g : out)
    if (!in_chain(g)) alone.push_back(g);
  return alone;
}

}  // namespace bareglass::host
