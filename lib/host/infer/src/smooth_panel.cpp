#include "smooth_panel.hpp"

#include <algorithm>
#include <cmath>

#include "panel_bend.hpp"

namespace bareglass::host {

namespace {

// Median absolute value -> standard deviation of a normal distribution.
constexpr float kFromMad = 1.4826f;
constexpr int kFitRounds = 7;
// First rounds by the median, since things are still among the nodes; then by the mean, which
// leaves a normal distribution.
constexpr int kByMedian = 4;
// A node beyond so many standard deviations has something on it.
constexpr float kOutlier = 3.0f;
// Nodes of a line that was made otherwise than its neighbours agree at least so well; the edge of a
// film makes several percent.
constexpr float kAlike = 0.005f;
constexpr float kMostGrowth = 1.3f;  // of the spread over that of neighbours
// What is left of a normal distribution within that limit spreads by so much less.
constexpr float kCutSpread = 0.9866f;

float spread_of(std::vector<float> values) {
  for (float& v : values) v = std::abs(v);
  return kFromMad * quantile(std::move(values), 0.5);
}

/// Logarithmic steps from line `k` to the next one, of all nodes that are known.
std::vector<float> steps_after(int k, bool of_rows, const Map& level,
                               const std::vector<char>& masked, Shape shape) {
  std::vector<float> steps;
  const int crossings = of_rows ? shape.cols : shape.rows;
  for (int i = 0; i < crossings; ++i) {
    const auto a = static_cast<std::size_t>(of_rows ? k * shape.cols + i : i * shape.cols + k);
    const std::size_t b = a + (of_rows ? static_cast<std::size_t>(shape.cols) : 1);
    if (!masked[a] && !masked[b] && level[a] > 0.f && level[b] > 0.f)
      steps.push_back(std::log(level[b] / level[a]));
  }
  return steps;
}

struct Profile {
  std::vector<float> factor;  ///< of each line, the first is 1
  float spread = 0;           ///< of a node, from neighbours, share of the level
};

/// How the level runs from line to line: signal is lost along the lines. The steps are filtered, so
/// that the edge of a film, which is two or three steps, is no step of the panel.
Profile profile_of(bool of_rows, const Map& level, const std::vector<char>& masked, Shape shape) {
  constexpr int kStepsAround = 4;
  const int lines = of_rows ? shape.rows : shape.cols;
  std::vector<float> step;
  std::vector<float> spreads;
  for (int k = 0; k + 1 < lines; ++k) {
    std::vector<float> all = steps_after(k, of_rows, level, masked, shape);
    const float middle = quantile(all, 0.5);
    step.push_back(middle);
    for (float& v : all) v -= middle;
    spreads.push_back(spread_of(std::move(all)) / std::sqrt(2.f));
  }
  Profile p;
  // Where the edge of a film crosses, they spread further: on a small panel half of the lines.
  p.spread = quantile(std::move(spreads), 0.3);
  p.factor.push_back(1.f);
  for (int k = 0; k + 1 < lines; ++k) {
    const auto from = step.begin() + std::max(0, k - kStepsAround);
    const auto to = step.begin() + std::min(lines - 1, k + kStepsAround + 1);
    p.factor.push_back(p.factor.back() * std::exp(quantile({from, to}, 0.5)));
  }
  // Lines that differ by construction leave their steps behind.
  std::vector<float> left;
  for (int k = 0; k + 1 < lines; ++k)
    left.push_back(step[static_cast<std::size_t>(k)] -
                   std::log(p.factor[static_cast<std::size_t>(k) + 1] /
                            p.factor[static_cast<std::size_t>(k)]));
  // Films leave theirs too, at up to half of the lines of a small panel: the lower 30 % tell, which
  // in a normal distribution lie within 0.385 standard deviations.
  for (float& v : left) v = std::abs(v);
  p.spread = std::max(p.spread, quantile(std::move(left), 0.3) / 0.385f / std::sqrt(2.f));
  return p;
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
  std::vector<float> rows, columns;             ///< factors
  std::vector<char> rows_apart, columns_apart;  ///< differ as a whole, tell nothing of others
  float grand = 1.f;
  float at(int r, int c) const {
    return grand * rows[static_cast<std::size_t>(r)] * columns[static_cast<std::size_t>(c)];
  }
};

float mean_of(const std::vector<float>& values) {
  float sum = 0.f;
  for (const float v : values) sum += v;
  return sum / static_cast<float>(values.size());
}

float root_mean_square(const std::vector<float>& values) {
  float sum = 0.f;
  for (const float v : values) sum += v * v;
  return std::sqrt(sum / static_cast<float>(values.size()));
}

/// Nine in ten of them within the spread round their middle.
bool is_alike(const std::vector<float>& ratios, float spread) {
  const float middle = quantile(ratios, 0.5);
  const auto near = std::count_if(ratios.begin(), ratios.end(), [&](float v) {
    return std::abs(v / middle - 1.f) < std::max(kOutlier * spread, kAlike);
  });
  return 10 * static_cast<std::size_t>(near) >= 9 * ratios.size();
}

/// One round for the rows or for the columns: each line's factor from its own bare nodes; a line
/// with less than a quarter of them takes that of the lines beside it.
void refit(Fit& fit, bool of_rows, const Map& level, const std::vector<char>& bare,
           const std::vector<char>& masked, float spread, bool by_mean, Shape shape) {
  std::vector<float>& factors = of_rows ? fit.rows : fit.columns;
  const int lines = of_rows ? shape.rows : shape.cols;
  const int crossings = of_rows ? shape.cols : shape.rows;
  std::vector<char> known(factors.size(), 0);
  std::vector<char>& apart = of_rows ? fit.rows_apart : fit.columns_apart;
  for (int k = 0; k < lines; ++k) {
    std::vector<float> ratios;
    std::vector<float> all;
    for (int i = 0; i < crossings; ++i) {
      const int r = of_rows ? k : i;
      const int c = of_rows ? i : k;
      const auto node = static_cast<std::size_t>(r * shape.cols + c);
      const float ratio = level[node] / fit.at(r, c);
      if (bare[node]) ratios.push_back(ratio);
      if (!masked[node]) all.push_back(ratio);
    }
    if (4 * static_cast<int>(ratios.size()) < crossings) {
      // A border line may differ by construction, all of it alike; what lies on a part of it does
      // not do that. What makes it differ says nothing of the line beside it.
      const bool at_border = k == 0 || k == lines - 1;
      if (!at_border || all.empty() || !is_alike(all, spread)) continue;
      apart[static_cast<std::size_t>(k)] = 1;
      ratios = std::move(all);
    }
    known[static_cast<std::size_t>(k)] = 1;
    factors[static_cast<std::size_t>(k)] *= by_mean ? mean_of(ratios) : quantile(ratios, 0.5);
  }
  for (std::size_t k = 0; k < factors.size(); ++k) {
    if (known[k]) continue;
    for (std::size_t away = 1; away < factors.size(); ++away) {
      const bool below = k >= away && known[k - away] && !apart[k - away];
      const bool above = k + away < factors.size() && known[k + away] && !apart[k + away];
      if (!below && !above) continue;
      factors[k] = below && above ? (factors[k - away] + factors[k + away]) / 2.f
                                  : factors[below ? k - away : k + away];
      break;
    }
  }
}

constexpr int kLarge = 20;  ///< lines either way from which a panel may bend

}  // namespace

Map smooth_panel(double& sigma, double& freedom, const Map& level, const std::vector<char>& masked,
                 Shape shape) {
  const auto nodes = static_cast<std::size_t>(shape.nodes());
  Fit fit;
  const Profile rows = profile_of(true, level, masked, shape);
  const Profile columns = profile_of(false, level, masked, shape);
  fit.rows = rows.factor;
  fit.columns = columns.factor;
  fit.rows_apart.assign(fit.rows.size(), 0);
  fit.columns_apart.assign(fit.columns.size(), 0);
  std::vector<float> values;
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      const auto i = static_cast<std::size_t>(r * shape.cols + c);
      if (!masked[i]) values.push_back(level[i] / fit.at(r, c));
    }
  fit.grand = std::max(1e-3f, densest(std::move(values)));
  const float of_neighbours = std::max({1e-5f, rows.spread, columns.spread});
  float spread = of_neighbours;
  std::vector<char> bare(nodes, 0);
  // The lines are fitted to the panel without its bend.
  Map bend(nodes, 1.f);
  if (shape.rows >= kLarge && shape.cols >= kLarge) {
    Map product(nodes);
    for (int r = 0; r < shape.rows; ++r)
      for (int c = 0; c < shape.cols; ++c)
        product[static_cast<std::size_t>(r * shape.cols + c)] = fit.at(r, c);
    bend = bend_of(level, product, masked, spread, shape);
  }
  Map even = level;
  for (std::size_t i = 0; i < nodes; ++i) even[i] /= bend[i];
  for (int round = 0; round < kFitRounds; ++round) {
    std::vector<float> left;
    for (int r = 0; r < shape.rows; ++r)
      for (int c = 0; c < shape.cols; ++c) {
        const auto i = static_cast<std::size_t>(r * shape.cols + c);
        const float off = even[i] / fit.at(r, c) - 1.f;
        bare[i] = !masked[i] && std::abs(off) < kOutlier * spread;
        if (bare[i]) left.push_back(off);
      }
    if (left.size() < 8) break;
    // What lies beyond the limit is missing from the spread, so it is not let shrink by much. Each
    // line's factor takes a degree of freedom.
    const auto n = static_cast<float>(left.size());
    const float lines = static_cast<float>(shape.rows + shape.cols);
    const float fitted = std::sqrt(n / std::max(0.3f * n, n - lines));
    if (round >= kByMedian)
      spread = fitted * root_mean_square(left) / kCutSpread;
    else if (round > 0)
      spread = std::max(fitted * spread_of(std::move(left)), 0.8f * spread);
    // Neighbours are the independent witness: a film that the fit begins to take in makes it grow.
    spread = std::min(spread, kMostGrowth * of_neighbours);
    refit(fit, true, even, bare, masked, spread, round >= kByMedian, shape);
    refit(fit, false, even, bare, masked, spread, round >= kByMedian, shape);
  }
  Map out(nodes);
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c)
      out[static_cast<std::size_t>(r * shape.cols + c)] =
          fit.at(r, c) * bend[static_cast<std::size_t>(r * shape.cols + c)];
  double squares = 0;
  int counted = 0;
  for (std::size_t i = 0; i < nodes; ++i) {
    if (!bare[i]) continue;
    const double off = static_cast<double>(level[i] / out[i]) - 1.0;
    squares += off * off;
    ++counted;
  }
  if (counted > 8) spread = static_cast<float>(std::sqrt(squares / counted));
  // Each line's factor takes one degree of freedom of its nodes' spread.
  freedom = std::max(0.1 * counted, static_cast<double>(counted - shape.rows - shape.cols));
  sigma = static_cast<double>(spread / kCutSpread * quantile(out, 0.5)) *
          std::sqrt(counted / std::max(1.0, freedom));
  return out;
}

}  // namespace bareglass::host
