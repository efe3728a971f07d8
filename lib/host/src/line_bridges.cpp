// Bridged lines: two neighbours that read the same, node for node.

#include <algorithm>
#include <cmath>

#include "line_survey.hpp"

namespace bareglass::host {

namespace {

// Of the two lines' own difference at most this share (of its mean square) is left. Bridges of up
// to 60 ohm beside drivers of 500 leave 0.4 %. Nine nodes of a healthy pair fall below 3 % once in
// 300000 pairs (chi-square with 9 degrees of freedom).
constexpr double kLeft = 0.03;
// The difference must stand this far above what noise alone makes of it.
constexpr double kAboveNoise = 12.0;

struct PairView {
  const Reading& reading;
  bool of_rows;
  int count() const { return of_rows ? reading.shape().rows : reading.shape().cols; }
  int crossings() const { return of_rows ? reading.shape().cols : reading.shape().rows; }
  std::size_t node(int line, int at) const {
    return of_rows ? reading.node_at(line, at) : reading.node_at(at, line);
  }
};

/// Mean reading of the windows from..to - 1.
std::vector<float> mean_of(const Reading& reading, std::size_t from, std::size_t to) {
  std::vector<float> out(reading.base().size(), 0.f);
  for (std::size_t k = from; k < to; ++k)
    for (std::size_t i = 0; i < out.size(); ++i)
      out[i] += reading.window(k).mean[i] / static_cast<float>(to - from);
  return out;
}

/// Mean square over the nodes of the difference between a line and the next, counts.
double difference_square(const PairView& view, int line, const std::vector<float>& map) {
  double sum = 0;
  int n = 0;
  for (int i = 0; i < view.crossings(); ++i) {
    const std::size_t a = view.node(line, i);
    const std::size_t b = view.node(line + 1, i);
    if (view.reading.masked(a) || view.reading.masked(b)) continue;
    const double d = static_cast<double>(map[a]) - static_cast<double>(map[b]);
    sum += d * d;
    ++n;
  }
  return n < 6 ? -1.0 : sum / n;
}

}  // namespace

std::vector<LineGroup> bridges_of(const Reading& reading, bool of_rows) {
  const PairView view{reading, of_rows};
  std::vector<LineGroup> out;
  const std::size_t all = reading.windows();
  const std::size_t part = std::max<std::size_t>(1, all / 3);
  std::vector<char> found(static_cast<std::size_t>(view.count()), 0);
  for (const std::size_t from : {std::size_t{0}, (all - part) / 2, all - part}) {
    const std::vector<float> map = mean_of(reading, from, from + part);
    std::vector<float> squares;
    for (int l = 0; l + 1 < view.count(); ++l)
      squares.push_back(static_cast<float>(difference_square(view, l, map)));
    std::vector<float> known;
    std::copy_if(squares.begin(), squares.end(), std::back_inserter(known),
                 [](float s) { return s >= 0.f; });
    const double typical = static_cast<double>(quantile(known, 0.25));
    int frames = 0;
    for (std::size_t k = from; k < from + part; ++k) frames += reading.window(k).frames;
    const double noise = static_cast<double>(reading.noise());
    // Rounding to whole counts does not average away: 1/12 count squared for each of the two.
    const double noise_square = 2.0 * noise * noise / std::max(1, frames) + 1.0 / 6.0;
    for (int l = 0; l + 1 < view.count(); ++l) {
      const double seen = static_cast<double>(squares[static_cast<std::size_t>(l)]);
      if (seen < 0 || found[static_cast<std::size_t>(l)]) continue;
      double expected = typical;
      if (reading.has_reference()) expected = difference_square(view, l, reading.base());
      if (expected < kAboveNoise * noise_square) continue;
      const double left = std::max(0.0, seen - noise_square) / expected;
      if (left > kLeft) continue;
      found[static_cast<std::size_t>(l)] = 1;
      LineGroup g;
      g.cause = Cause::bridged_lines;
      g.lines = {of_rows, l, l + 1, -1};
      g.level = static_cast<float>(left);
      g.first_us = reading.window(from).first_us;
      g.score = reading.has_reference() ? 0.95 : 0.85;
      out.push_back(g);
    }
  }
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
