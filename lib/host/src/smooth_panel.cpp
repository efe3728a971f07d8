// The bare level of a panel without a reference, fitted to the nodes that nothing lies on.

#include <algorithm>
#include <cmath>

#include "scene.hpp"

namespace bareglass::host {

namespace {

// Median absolute value -> standard deviation of a normal distribution.
constexpr float kFromMad = 1.4826f;
constexpr int kRounds = 6;
// A node beyond so many standard deviations has something on it.
constexpr float kOutlier = 3.5f;

float spread_of(std::vector<float> values) {
  for (float& v : values) v = std::abs(v);
  return kFromMad * quantile(std::move(values), 0.5);
}

/// Spread between neighbours along the rows and along the columns, share of the level: lines that
/// differ by construction show in one of the two. Edges of things are few among all pairs.
float neighbour_spread(const Map& level, const std::vector<char>& masked, Shape shape) {
  float most = 0.f;
  for (const bool along_row : {true, false}) {
    std::vector<float> steps;
    for (int r = 0; r + (along_row ? 0 : 1) < shape.rows; ++r)
      for (int c = 0; c + (along_row ? 1 : 0) < shape.cols; ++c) {
        const auto i = static_cast<std::size_t>(r * shape.cols + c);
        const std::size_t j = i + (along_row ? 1 : static_cast<std::size_t>(shape.cols));
        if (masked[i] || masked[j] || level[i] <= 0.f || level[j] <= 0.f) continue;
        steps.push_back(2.f * (level[i] - level[j]) / (level[i] + level[j]));
      }
    most = std::max(most, spread_of(std::move(steps)) / std::sqrt(2.f));
  }
  return most;
}

/// The value most others lie near: the middle of the shortest run that holds a third of them. A
/// film over less than two thirds of the panel does not move it.
float densest(std::vector<float> values) {
  if (values.empty()) return 1.f;
  std::sort(values.begin(), values.end());
  const std::size_t run = std::max<std::size_t>(1, values.size() / 3);
  std::size_t best = 0;
  for (std::size_t k = 0; k + run < values.size(); ++k)
    if (values[k + run] - values[k] < values[best + run] - values[best]) best = k;
  return values[best + run / 2];
}

struct Fit {
  std::vector<float> rows, columns;  ///< factors
  float grand = 1.f;
  float at(int r, int c) const {
    return grand * rows[static_cast<std::size_t>(r)] * columns[static_cast<std::size_t>(c)];
  }
};

/// One round for the rows or for the columns: each line's factor from its own bare nodes; a line
/// with less than a quarter of them takes that of the lines beside it.
void refit(Fit& fit, bool of_rows, const Map& level, const std::vector<char>& bare, Shape shape) {
  std::vector<float>& factors = of_rows ? fit.rows : fit.columns;
  const int lines = of_rows ? shape.rows : shape.cols;
  const int crossings = of_rows ? shape.cols : shape.rows;
  std::vector<char> known(factors.size(), 0);
  for (int k = 0; k < lines; ++k) {
    std::vector<float> ratios;
    for (int i = 0; i < crossings; ++i) {
      const int r = of_rows ? k : i;
      const int c = of_rows ? i : k;
      const auto node = static_cast<std::size_t>(r * shape.cols + c);
      if (bare[node]) ratios.push_back(level[node] / fit.at(r, c));
    }
    if (4 * static_cast<int>(ratios.size()) < crossings) continue;
    known[static_cast<std::size_t>(k)] = 1;
    factors[static_cast<std::size_t>(k)] *= quantile(std::move(ratios), 0.5);
  }
  for (std::size_t k = 0; k < factors.size(); ++k) {
    if (known[k]) continue;
    for (std::size_t away = 1; away < factors.size(); ++away) {
      const bool below = k >= away && known[k - away];
      const bool above = k + away < factors.size() && known[k + away];
      if (!below && !above) continue;
      factors[k] = below && above ? (factors[k - away] + factors[k + away]) / 2.f
                                  : factors[below ? k - away : k + away];
      break;
    }
  }
}

}  // namespace

Map smooth_panel(double& sigma, const Map& level, const std::vector<char>& masked, Shape shape) {
  const auto nodes = static_cast<std::size_t>(shape.nodes());
  Fit fit;
  fit.rows.assign(static_cast<std::size_t>(shape.rows), 1.f);
  fit.columns.assign(static_cast<std::size_t>(shape.cols), 1.f);
  std::vector<float> values;
  for (std::size_t i = 0; i < nodes; ++i)
    if (!masked[i]) values.push_back(level[i]);
  fit.grand = std::max(1.f, densest(std::move(values)));
  float spread = std::max(1e-5f, neighbour_spread(level, masked, shape));
  std::vector<char> bare(nodes, 0);
  for (int round = 0; round < kRounds; ++round) {
    std::vector<float> left;
    for (int r = 0; r < shape.rows; ++r)
      for (int c = 0; c < shape.cols; ++c) {
        const auto i = static_cast<std::size_t>(r * shape.cols + c);
        const float off = level[i] / fit.at(r, c) - 1.f;
        bare[i] = !masked[i] && std::abs(off) < kOutlier * spread;
        if (bare[i]) left.push_back(off);
      }
    if (left.size() < 8) break;
    // What lies beyond the limit is missing from the spread, so it is not let shrink by much.
    if (round > 0) spread = std::max(spread_of(std::move(left)), 0.8f * spread);
    refit(fit, true, level, bare, shape);
    refit(fit, false, level, bare, shape);
  }
  Map out(nodes);
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c)
      out[static_cast<std::size_t>(r * shape.cols + c)] = fit.at(r, c);
  sigma = static_cast<double>(spread * fit.grand);
  return out;
}

}  // namespace bareglass::host
