#include "scene.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::host {

namespace {

// Longer than a touch in use that stays in one place.
constexpr std::uint64_t kLasting_us = 1900000;
// What comes and goes within this time to either side is a touch, and is filtered away.
constexpr double kFilterHalf_s = 1.0;
// Shares of a thing's map. One that was put down or taken away in between differs by 1 from end to
// end of its course, one that dries to the dump's end by a good part of that.
constexpr float kSameEnds = 0.3f;
constexpr float kGone = 0.5f;     ///< half way: rather there than gone
constexpr float kInFull = 0.65f;  ///< half way from there to 1, less what a touch shifts a median
constexpr float kShown = 0.75f;   ///< half way from gone to 1: a window without a touch on it
// What a broken line has lost is taken out of its nodes but for a few thousandths of their level: a
// loss that grows within a window is known by its mean alone. Three times that.
constexpr float kMending = 0.01f;
// A reference and each window hold whole counts.
constexpr double kRounding = 0.3;

// A smooth panel has a number for each line: with fewer nodes left beside touches it fits itself to
// whatever is there.
constexpr std::ptrdiff_t kNodesPerLine = 3;
// A median is made of so many windows at most.
constexpr std::size_t kMostWindows = 32;
// Sums over 3 x 3 nodes are looked at with this many nodes at most when intervals are compared.
constexpr int kFewNodes = 350;

double square(double v) { return v * v; }

/// Median over the windows around each one, node by node.
std::vector<Map> without_touches(const std::vector<Map>& maps, int half) {
  std::vector<Map> out(maps.size());
  const int n = static_cast<int>(maps.size());
  std::vector<float> values;
  for (int k = 0; k < n; ++k) {
    const int reach = std::min({half, k, n - 1 - k});
    Map& to = out[static_cast<std::size_t>(k)];
    if (reach == 0) {
      to = maps[static_cast<std::size_t>(k)];
      continue;
    }
    to.resize(maps[0].size());
    values.resize(static_cast<std::size_t>(2 * reach + 1));
    for (std::size_t i = 0; i < to.size(); ++i) {
      for (int w = -reach; w <= reach; ++w)
        values[static_cast<std::size_t>(w + reach)] = maps[static_cast<std::size_t>(k + w)][i];
      std::nth_element(values.begin(), values.begin() + reach, values.end());
      to[i] = values[static_cast<std::size_t>(reach)];
    }
  }
  return out;
}

struct WindowRange {
  std::size_t from = 0, until = 0;
  double gain = 0;
};

bool is_longer_than_touch(const Reading& reading, std::size_t from, std::size_t until) {
  return reading.window(until - 1).last_us - reading.window(from).first_us >= kLasting_us;
}

bool is_long_enough(const Reading& reading, std::size_t from, std::size_t until) {
  return from == 0 || is_longer_than_touch(reading, from, until);
}

/// The interval in which one steady pattern explains most of `maps`. With `contrast` a pattern
/// counts by how far it differs from the rest of the dump.
WindowRange best_interval(const std::vector<Map>& maps, const Reading& reading, bool contrast) {
  const std::size_t n = maps.size();
  const std::size_t nodes = maps[0].size();
  std::vector<double> total(nodes, 0.0);
  for (const Map& m : maps)
    for (std::size_t i = 0; i < nodes; ++i) total[i] += static_cast<double>(m[i]);
  WindowRange best;
  std::vector<double> sum(nodes);
  for (std::size_t from = 0; from < n; ++from) {
    std::fill(sum.begin(), sum.end(), 0.0);
    for (std::size_t until = from + 1; until <= n; ++until) {
      const Map& m = maps[until - 1];
      const auto inside = static_cast<double>(until - from);
      const double outside = static_cast<double>(n) - inside;
      double energy = 0;
      if (!contrast) {
        for (std::size_t i = 0; i < nodes; ++i) {
          sum[i] += static_cast<double>(m[i]);
          energy += square(sum[i]);
        }
        energy /= inside;
      } else {
        for (std::size_t i = 0; i < nodes; ++i) {
          sum[i] += static_cast<double>(m[i]);
          energy += square(sum[i] * static_cast<double>(n) - total[i] * inside);
        }
        energy = outside < 2 ? 0 : energy / (static_cast<double>(n) * inside * outside);
      }
      if (energy > best.gain && is_long_enough(reading, from, until)) best = {from, until, energy};
    }
  }
  return best;
}

/// Median of `maps` over the windows for which `in` holds; the mean of one or two.
template <typename In>
Map typical(const std::vector<Map>& maps, In in) {
  Map out(maps[0].size(), 0.f);
  std::vector<const Map*> chosen;
  for (std::size_t k = 0; k < maps.size(); ++k)
    if (in(k)) chosen.push_back(&maps[k]);
  if (chosen.empty()) return out;
  // Evenly thinned: more of them cost time and tell no more of a node than their noise.
  const std::size_t stride = (chosen.size() + kMostWindows - 1) / kMostWindows;
  std::size_t kept = 0;
  for (std::size_t k = 0; k < chosen.size(); k += stride) chosen[kept++] = chosen[k];
  chosen.resize(kept);
  std::vector<float> values(chosen.size());
  for (std::size_t i = 0; i < out.size(); ++i) {
    for (std::size_t k = 0; k < chosen.size(); ++k) values[k] = (*chosen[k])[i];
    out[i] = chosen.size() < 3 ? (values.front() + values.back()) / 2.f : quantile(values, 0.5);
  }
  return out;
}

/// The same without the windows in which something else moves far from what most of them show.
/// `used`: how many windows it was made of.
template <typename In>
Map untouched(std::size_t& used, const std::vector<Map>& maps, double sigma, In in) {
  const Map first = typical(maps, in);
  double most = 0;
  for (const float v : first) most = std::max(most, std::abs(static_cast<double>(v)));
  const double limit = 8.0 * sigma + 0.1 * most;
  std::vector<char> sound(maps.size(), 0);
  std::size_t chosen = 0;
  std::size_t left = 0;
  for (std::size_t k = 0; k < maps.size(); ++k) {
    if (!in(k)) continue;
    ++chosen;
    double off = 0;
    for (std::size_t i = 0; i < first.size(); ++i)
      off = std::max(off, std::abs(static_cast<double>(maps[k][i] - first[i])));
    sound[k] = off < limit;
    left += off < limit;
  }
  used = left < 2 || 3 * left < chosen ? chosen : left;
  if (used == chosen) return first;
  return typical(maps, [&](std::size_t k) { return sound[k] != 0; });
}

double energy_of(const Map& map) {
  double sum = 0;
  for (const float v : map) sum += square(static_cast<double>(v));
  return sum;
}

/// The map where it stands out of its noise, 0 elsewhere.
Map standing_out(const Map& map, double sigma, Shape shape) {
  const Map soft = gathered(map, shape);
  Map out(map.size(), 0.f);
  for (std::size_t i = 0; i < map.size(); ++i)
    if (std::abs(static_cast<double>(map[i])) > 3.0 * sigma ||
        std::abs(static_cast<double>(soft[i])) > 4.0 * sigma)
      out[i] = map[i];
  return out;
}

/// Fills course and presence. `level_free`: by what the pattern has besides its mean, since each
/// window's own level is in doubt.
void follow(Episode& e, const Reading& reading, const std::vector<Map>& maps, const Map& outside,
            bool level_free) {
  Map pattern = standing_out(e.map, e.sigma, reading.shape());
  if (level_free) {
    double mean = 0;
    for (const float v : pattern) mean += static_cast<double>(v);
    for (float& v : pattern) v -= static_cast<float>(mean / static_cast<double>(pattern.size()));
  }
  const double norm = std::max(1e-9, energy_of(pattern));
  const double of_window =
      square(static_cast<double>(reading.noise())) / std::max(1, reading.window(0).frames);
  e.standing = static_cast<std::size_t>(
      std::count_if(pattern.begin(), pattern.end(), [](float v) { return v != 0.f; }));
  const auto nodes = static_cast<double>(e.standing);
  for (const Map& m : maps) {
    double along = 0;
    double energy = -of_window * nodes;
    for (std::size_t i = 0; i < pattern.size(); ++i) {
      if (pattern[i] == 0.f) continue;
      const auto v = static_cast<double>(m[i] - outside[i]);
      along += v * static_cast<double>(pattern[i]);
      energy += square(v);
    }
    e.course.push_back(static_cast<float>(along / norm));
    e.presence.push_back(level_free ? e.course.back()
                                    : static_cast<float>(std::sqrt(std::max(0.0, energy) / norm)));
  }
  e.course_sigma = std::sqrt(of_window / norm);
}

/// Sums over 3 x 3 nodes of every `step`-th node both ways.
std::vector<Map> all_gathered(const std::vector<Map>& maps, Shape shape) {
  const int step = shape.nodes() <= kFewNodes ? 1 : shape.nodes() <= 4 * kFewNodes ? 2 : 3;
  std::vector<Map> out;
  out.reserve(maps.size());
  for (const Map& m : maps) {
    const Map soft = gathered(m, shape);
    Map few;
    for (int r = step / 2; r < shape.rows; r += step)
      for (int c = step / 2; c < shape.cols; c += step)
        few.push_back(soft[static_cast<std::size_t>(r * shape.cols + c)]);
    out.push_back(std::move(few));
  }
  return out;
}

int filter_half(const Reading& reading) {
  const std::size_t n = reading.windows();
  if (n < 2) return 0;
  const double step_s =
      static_cast<double>(reading.window(n - 1).last_us - reading.window(0).last_us) * 1e-6 /
      static_cast<double>(n - 1);
  return std::clamp(static_cast<int>(std::lround(kFilterHalf_s / std::max(0.02, step_s))), 1, 8);
}

}  // namespace

Map gathered(const Map& map, Shape shape) {
  const int rows = shape.rows;
  const int cols = shape.cols;
  Map across(map.size());
  Map out(map.size());
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < cols; ++c) {
      float sum = 0.f;
      for (int x = std::max(0, c - 1); x <= std::min(cols - 1, c + 1); ++x)
        sum += map[static_cast<std::size_t>(r * cols + x)];
      across[static_cast<std::size_t>(r * cols + c)] = sum;
    }
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < cols; ++c) {
      float sum = 0.f;
      for (int y = std::max(0, r - 1); y <= std::min(rows - 1, r + 1); ++y)
        sum += across[static_cast<std::size_t>(y * cols + c)];
      out[static_cast<std::size_t>(r * cols + c)] = sum / 3.f;
    }
  return out;
}

double noise_limit(double looks, double freedom) {
  // Solves looks * exp(-x^2 / 2) / (x sqrt(2 pi)) * 2 = 1 / 10,000 by iteration: Mills' ratio
  // bounds the normal tail from above (e.g. Feller, An Introduction to Probability Theory, VII.1).
  double x = 3.0;
  for (int k = 0; k < 20; ++k)
    x = std::sqrt(std::max(1.0, 2.0 * std::log(20000.0 * std::max(1.0, looks) / (x * 2.5066))));
  // Quantile of Student's t from that of the normal distribution, first term (Abramowitz & Stegun
  // 26.7.5).
  return x + (x * x * x + x) / (4.0 * std::max(4.0, freedom));
}

namespace {

std::vector<Map> all_maps(const Reading& reading, const std::vector<char>& masked,
                          std::size_t before) {
  std::vector<Map> maps;
  for (std::size_t k = 0; k < std::min(before, reading.windows()); ++k) {
    maps.push_back(reading.has_reference() ? reading.departure(k) : reading.change(0, k));
    for (std::size_t i = 0; i < masked.size(); ++i) {
      const bool mending =
          reading.spoiled(i) && std::abs(maps.back()[i]) < kMending * reading.base()[i];
      if (masked[i] || mending) maps.back()[i] = 0.f;
    }
  }
  return maps;
}

/// Energy of `level` against a smooth panel, over the nodes where `map` stands out.
double roughness(double& spread, const Map& level, const Map& map, double limit,
                 const std::vector<char>& masked, Shape shape) {
  double freedom = 0;
  const Map bare = smooth_panel(spread, freedom, level, masked, shape);
  double sum = 0;
  for (std::size_t i = 0; i < map.size(); ++i)
    if (std::abs(static_cast<double>(map[i])) > limit)
      sum += square(static_cast<double>(level[i] - bare[i]));
  return sum;
}

Map level_of(const Reading& reading, std::size_t from, std::size_t until, bool inside) {
  std::vector<Map> levels;
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    if ((k >= from && k < until) != inside) continue;
    levels.push_back(reading.window(k).mean);
    for (float& v : levels.back()) v /= reading.gain(k);
  }
  return typical(levels, [](std::size_t) { return true; });
}

/// Without a reference: was the thing there inside the interval or outside it? Where it lay the
/// panel is the less smooth.
void choose_sign(Episode& e, const Reading& reading, const std::vector<char>& masked) {
  const std::size_t n = reading.windows();
  if (e.from > 0 && e.until < n) return;  // it came and went
  const double limit = noise_limit(static_cast<double>(e.map.size())) * e.sigma;
  double spread = 0;
  double other_spread = 0;
  const double there = roughness(spread, level_of(reading, e.from, e.until, true), e.map, limit,
                                 masked, reading.shape());
  const double away = roughness(other_spread, level_of(reading, e.from, e.until, false), e.map,
                                limit, masked, reading.shape());
  // Their difference has a standard deviation of twice the change times the spread.
  const double doubt = 4.0 * 2.0 * std::min(spread, other_spread) * std::sqrt(energy_of(e.map));
  e.either_sign = std::abs(there - away) < doubt;
  if (e.either_sign || there > away) return;
  for (float& v : e.map) v = -v;
  for (float& v : e.course) v = 1.f - v;
  e.presence = e.course;
  if (e.from == 0) {
    e.from = e.until;
    e.until = n;
  } else {
    e.until = e.from;
    e.from = 0;
  }
}

/// A thin layer over half of the panel takes the typical node's level with it: what it does not
/// cover then seems to fall. Nothing falls so evenly and so little over more than a seventh of the
/// panel, so that is the bare level.
bool settle_zero(Map& map, double sigma, const Reading& reading) {
  constexpr float kThin = 0.0055f;  // of the bare reading: 3 % of a finger on 0.7 mm glass
  const float level = quantile(reading.base(), 0.5);
  for (const float v : map)
    if (std::abs(v) > kThin * level) return false;
  const Map soft = gathered(map, reading.shape());
  const float upper = quantile(soft, 0.85) / 3.f;
  const float lower = *std::min_element(soft.begin(), soft.end()) / 3.f;
  // 0.85 of a normal distribution lie below 1.04 standard deviations, a third of sigma here.
  if (static_cast<double>(upper) < 3.0 * sigma / 3.0) return false;
  if (static_cast<double>(-lower) < 4.0 * sigma / 3.0) return false;
  for (float& v : map) v -= upper - static_cast<float>(1.04 * sigma / 3.0);
  return true;
}

/// Share of the windows without the thing in which some node departs by more than `limit` from what
/// a share of the thing's map makes: something else moves.
template <typename Away>
double unsteady_share(const Episode& e, const std::vector<Map>& maps, const Map& outside,
                      double limit, Away away) {
  int all = 0;
  int off = 0;
  for (std::size_t k = 0; k < maps.size(); ++k) {
    if (!away(k)) continue;
    ++all;
    for (std::size_t i = 0; i < outside.size(); ++i) {
      const float other = maps[k][i] - outside[i] - e.course[k] * e.map[i];
      if (std::abs(static_cast<double>(other)) < limit) continue;
      ++off;
      break;
    }
  }
  return all == 0 ? 0.0 : static_cast<double>(off) / all;
}

/// The interval was chosen by filtered maps, whose edges are in doubt by some windows: takes in
/// those beside it that show the thing in full. True if there were any and windows without it are
/// left.
bool grow(WindowRange& when, const Episode& e) {
  WindowRange wider = when;
  while (wider.from > 0 && e.course[wider.from - 1] > kShown) --wider.from;
  while (wider.until < e.course.size() && e.course[wider.until] > kShown) ++wider.until;
  const bool is_wider = wider.from < when.from || wider.until > when.until;
  if (!is_wider || (wider.from == 0 && wider.until == e.course.size())) return false;
  when = wider;
  return true;
}

/// The interval was chosen by energy; now only windows in which the thing is there.
void settle_times(Episode& e) {
  const auto there = [&](std::size_t k) { return e.course[k] > 0.4f || e.presence[k] > 0.4f; };
  while (e.from < e.until && !there(e.from)) ++e.from;
  while (e.until > e.from && !there(e.until - 1)) --e.until;
}

Episode of_interval(const Reading& reading, const std::vector<Map>& maps, const WindowRange& when,
                    bool contrast) {
  Episode e;
  e.from = when.from;
  e.until = when.until;
  const auto inside = [&](std::size_t k) { return k >= when.from && k < when.until; };
  const auto away = [&](std::size_t k) { return !inside(k); };
  Map outside(maps[0].size(), 0.f);
  const double of_window = static_cast<double>(reading.noise()) /
                           std::sqrt(static_cast<double>(std::max(1, reading.window(0).frames)));
  std::size_t used_inside = 0;
  std::size_t used_outside = 0;
  if (contrast) outside = untouched(used_outside, maps, of_window, away);
  e.map = untouched(used_inside, maps, of_window, inside);
  for (std::size_t i = 0; i < e.map.size(); ++i) e.map[i] -= outside[i];
  // The median of means is a quarter noisier than their mean.
  const double of_median = square(1.25 * of_window);
  used_inside = std::min(used_inside, kMostWindows);
  used_outside = std::min(used_outside, kMostWindows);
  double variance = of_median / static_cast<double>(std::max<std::size_t>(1, used_inside)) +
                    square(contrast ? 0.1 : kRounding);
  if (contrast) variance += of_median / static_cast<double>(std::max<std::size_t>(1, used_outside));
  e.sigma = std::sqrt(variance);
  const bool settled = settle_zero(e.map, e.sigma, reading);
  e.strength = std::sqrt(energy_of(e.map)) / e.sigma;
  follow(e, reading, maps, outside, settled);
  if (contrast) e.away_unsteady = unsteady_share(e, maps, outside, 8.0 * of_window, away);
  e.witness = contrast ? Witness::change : Witness::reference;
  return e;
}

}  // namespace

Episode find_episode(const Reading& reading, const std::vector<char>& masked, std::size_t before) {
  if (std::min(before, reading.windows()) < 2) return {};
  const std::vector<Map> maps = all_maps(reading, masked, before);
  const std::vector<Map> soft =
      without_touches(all_gathered(maps, reading.shape()), filter_half(reading));
  const bool contrast = !reading.has_reference();
  WindowRange when = best_interval(soft, reading, contrast);
  if (when.until == 0) return {};
  Episode e = of_interval(reading, maps, when, contrast);
  if (contrast && grow(when, e)) e = of_interval(reading, maps, when, contrast);
  if (contrast) choose_sign(e, reading, masked);
  settle_times(e);
  return e;
}

namespace {

/// Without a reference: whether the ends of the dump contradict a thing that lay there in the
/// interval and at no other time. Then it is windows with touches in them that made the map.
bool is_denied_by_ends(const Episode& e, float doubt) {
  const std::size_t n = e.course.size();
  if (n < 3) return false;
  // One window may have a touch in it.
  const float first = std::min(std::abs(e.course[0]), std::abs(e.course[1]));
  const float last = std::min(std::abs(e.course[n - 1]), std::abs(e.course[n - 2]));
  if (e.from > 1 && first > kGone + doubt) return true;
  if (e.until + 1 < n && last > kGone + doubt) return true;
  const bool to_one_end = (e.from == 0) != (e.until == n);
  if (!to_one_end) return false;
  const float front = e.course.front();
  const float back = e.course.back();
  if (std::abs(front - back) < kSameEnds) return true;
  // What lies there from one end on lies there in full.
  return e.either_sign && (e.from == 0 ? front : back) < kInFull - doubt;
}

}  // namespace

bool is_lasting(const Episode& e, const Reading& reading) {
  if (e.until <= e.from || !is_long_enough(reading, e.from, e.until)) return false;
  // A few windows with touches in them shift the median of the rest: then it is those windows that
  // the map shows.
  const auto doubt = static_cast<float>(3.0 * e.course_sigma);
  std::size_t off = 0;
  for (std::size_t k = e.from; k < e.until; ++k)
    off += e.course[k] > 1.6f + doubt || e.course[k] < 0.25f - doubt;
  // What was there only at the start has to be there undiminished: a touch soon after it isn't.
  const std::size_t most = is_longer_than_touch(reading, e.from, e.until) ? e.until - e.from : 0;
  if (off > 0 && 4 * off >= most) return false;
  return e.witness != Witness::change || !is_denied_by_ends(e, doubt);
}

Episode against_smoothness(const Reading& reading, const std::vector<char>& masked) {
  Episode e;
  e.witness = Witness::smoothness;
  e.until = reading.windows();
  const Map level = level_of(reading, 0, e.until, true);
  std::vector<char> left_out = masked;
  for (std::size_t i = 0; i < left_out.size(); ++i) left_out[i] = left_out[i] || reading.masked(i);
  const auto lines = static_cast<std::ptrdiff_t>(reading.shape().rows + reading.shape().cols);
  if (std::count(left_out.begin(), left_out.end(), 0) < kNodesPerLine * lines) return {};
  const Map bare = smooth_panel(e.sigma, e.freedom, level, left_out, reading.shape());
  e.map.resize(level.size());
  const float sign = reading.change_sign();
  // Manufacture spreads in shares of the level, and so does what is taken away from it.
  const float typical_level = std::max(1.f, quantile(bare, 0.5));
  for (std::size_t i = 0; i < level.size(); ++i)
    e.map[i] = left_out[i] || bare[i] < 0.05f * typical_level
                   ? 0.f
                   : sign * (1.f - level[i] / bare[i]) * typical_level;
  e.strength = std::sqrt(energy_of(e.map)) / std::max(1e-9, e.sigma);
  e.course.assign(e.until, 1.f);
  return e;
}

}  // namespace bareglass::host
