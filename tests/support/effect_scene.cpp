#include "support/effect_scene.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::support {

namespace {

// exp(-kWidth * d^2) is 0.355 at a distance of one pitch.
constexpr double kWidth = 1.0356;

std::uint16_t to_counts(double ff, double counts_per_ff) {
  return static_cast<std::uint16_t>(std::clamp(std::lround(ff * counts_per_ff), 0L, 65535L));
}

}  // namespace

Settings settings_for(const PanelSpec& spec) {
  Settings s;
  s.shape = spec.shape;
  s.frame_period_us = spec.frame_period_us;
  s.finger_counts = static_cast<std::uint16_t>(std::lround(175.0 * spec.counts_per_ff));
  return s;
}

EffectScene::EffectScene(const PanelSpec& spec)
    : spec_(spec),
      random_(spec.seed),
      bare_ff_(static_cast<std::size_t>(spec.shape.nodes())),
      change_ff_(static_cast<std::size_t>(spec.shape.nodes()), 0.0) {
  for (int r = 0; r < spec.shape.rows; ++r)
    for (int c = 0; c < spec.shape.cols; ++c) {
      // Half an electrode is missing at the border, and the far end of a line settles a little
      // less.
      const bool row_border = r == 0 || r == spec.shape.rows - 1;
      const bool col_border = c == 0 || c == spec.shape.cols - 1;
      const double border = (row_border ? 0.94 : 1.0) * (col_border ? 0.92 : 1.0);
      const double settling = 1.0 - 0.01 * c / spec.shape.cols - 0.006 * r / spec.shape.rows;
      bare_ff_[at(r, c)] = spec.node_ff * border * settling + spec.spread_ff * normal();
    }
}

// Sum of twelve uniform numbers less six: mean 0, standard deviation 1, the same bits everywhere,
// which the standard library's normal distribution does not promise.
double EffectScene::normal() {
  double sum = -6.0;
  for (int k = 0; k < 12; ++k) sum += static_cast<double>(random_() >> 11) * 0x1p-53;
  return sum;
}

std::vector<std::uint16_t> EffectScene::reference() const {
  std::vector<std::uint16_t> out(bare_ff_.size());
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = to_counts(bare_ff_[i], spec_.counts_per_ff);
  return out;
}

void EffectScene::clear() { std::fill(change_ff_.begin(), change_ff_.end(), 0.0); }

void EffectScene::add_node(int row, int col, double change_ff) {
  if (row < 0 || row >= spec_.shape.rows || col < 0 || col >= spec_.shape.cols) return;
  change_ff_[at(row, col)] += change_ff;
}

void EffectScene::add_finger(double row, double col, double change_ff) {
  for (int r = 0; r < spec_.shape.rows; ++r)
    for (int c = 0; c < spec_.shape.cols; ++c) {
      const double d2 = (r - row) * (r - row) + (c - col) * (c - col);
      change_ff_[at(r, c)] += change_ff * std::exp(-kWidth * d2);
    }
}

void EffectScene::add_film(int row0, int row1, int col0, int col1, double change_ff) {
  for (int r = row0 - 1; r <= row1 + 1; ++r)
    for (int c = col0 - 1; c <= col1 + 1; ++c) {
      const bool row_skirt = r < row0 || r > row1;
      const bool col_skirt = c < col0 || c > col1;
      add_node(r, c, change_ff * (row_skirt ? 0.4 : 1.0) * (col_skirt ? 0.4 : 1.0));
    }
}

void EffectScene::add_wet_top_bezel(int col0, int col1, double change_ff) {
  for (int c = col0; c <= col1; ++c) {
    add_node(0, c, change_ff);
    add_node(1, c, 0.25 * change_ff);
  }
}

void EffectScene::add_diagonal_streak(int row, int col, int n, double strength) {
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < n; ++j) {
      const double along = i == 0 || i == n - 1 ? -112.0 : -101.0;
      add_node(row + i, col + j, strength * (i == j ? along : 53.0));
    }
}

std::vector<std::uint16_t> EffectScene::frame() {
  std::vector<std::uint16_t> out(bare_ff_.size());
  for (int r = 0; r < spec_.shape.rows; ++r) {
    const double common = spec_.common_ff * normal();
    for (int c = 0; c < spec_.shape.cols; ++c) {
      const std::size_t i = at(r, c);
      const double ff = bare_ff_[i] + change_ff_[i] + common + spec_.noise_ff * normal();
      out[i] = to_counts(ff, spec_.counts_per_ff);
    }
  }
  return out;
}

}  // namespace bareglass::support
