#include "scene_spots.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <vector>

#include "scene_limits.hpp"

namespace bareglass::host {

namespace {

using namespace scene_limits;

struct Peak {
  int row, col;
  float value;
};

/// Nodes that rise more than all their neighbours, strongest first.
std::vector<Peak> raised_peaks(const Grid& grid, float limit) {
  std::vector<Peak> peaks;
  for (int r = 0; r < grid.shape.rows; ++r)
    for (int c = 0; c < grid.shape.cols; ++c) {
      const float v = -grid.at(r, c);
      if (v < limit) continue;
      bool greatest = true;
      for (int dr = -1; dr <= 1; ++dr)
        for (int dc = -1; dc <= 1; ++dc)
          if (grid.holds(r + dr, c + dc)) greatest = greatest && -grid.at(r + dr, c + dc) <= v;
      if (greatest) peaks.push_back({r, c, v});
    }
  std::sort(peaks.begin(), peaks.end(),
            [](const Peak& a, const Peak& b) { return a.value > b.value; });
  return peaks;
}

/// Whether the ground between two raised places is lower than half of the lesser one: two hills.
bool are_hills(const Grid& grid, const Peak& a, const Peak& b) {
  const int steps = 2 * std::max(std::abs(a.row - b.row), std::abs(a.col - b.col));
  const float half = 0.5f * std::min(a.value, b.value);
  for (int k = 1; k < steps; ++k) {
    const int r =
        a.row + static_cast<int>(std::lround(static_cast<double>(b.row - a.row) * k / steps));
    const int c =
        a.col + static_cast<int>(std::lround(static_cast<double>(b.col - a.col) * k / steps));
    if (-grid.at(r, c) < half) return true;
  }
  return false;
}

/// Lines over which a raised place keeps half of its height, the longer way.
int width_of(const Grid& grid, const Peak& p) {
  int most = 1;
  for (const bool along_row : {true, false}) {
    int lines = 1;
    for (const int step : {-1, 1})
      for (int k = step;; k += step) {
        const int r = p.row + (along_row ? 0 : k);
        const int c = p.col + (along_row ? k : 0);
        if (!grid.holds(r, c) || -grid.at(r, c) < 0.5f * p.value) break;
        ++lines;
      }
    most = std::max(most, lines);
  }
  return most;
}

bool is_at_spot(const std::vector<Peak>& spots, int row, int col) {
  return std::any_of(spots.begin(), spots.end(), [&](const Peak& s) {
    return std::abs(s.row - row) <= 1 && std::abs(s.col - col) <= 1;
  });
}

/// An isolated body couples all its rows to all its columns, two of them leave each other's
/// crossings alone. Spots too near to each other to tell, those with a third one at a crossing and
/// those with something at one crossing only, as between a lobe and its rim, count for nothing.
void count_pairs(SceneLook& look, const Grid& grid, const std::vector<Peak>& spots, float limit) {
  look.joined_pairs = look.separate_pairs = 0;
  for (std::size_t i = 0; i < spots.size(); ++i)
    for (std::size_t k = 0; k < i; ++k) {
      const Peak& a = spots[i];
      const Peak& b = spots[k];
      if (std::abs(a.row - b.row) < kCrossingApart || std::abs(a.col - b.col) < kCrossingApart)
        continue;
      if (is_at_spot(spots, a.row, b.col) || is_at_spot(spots, b.row, a.col)) continue;
      const auto [less, more] =
          std::minmax({std::abs(grid.at(a.row, b.col)), std::abs(grid.at(b.row, a.col))});
      const float shown =
          std::max(0.5f * limit, static_cast<float>(kCrossing) * std::min(a.value, b.value));
      look.joined_pairs += less > shown;
      look.separate_pairs += more <= shown;
    }
}

}  // namespace

void find_spots(SceneLook& look, const Grid& grid, float limit) {
  std::vector<Peak> spots;
  look.wide_spots = 0;
  for (const Peak& p : raised_peaks(grid, limit)) {
    const bool apart = std::all_of(spots.begin(), spots.end(), [&](const Peak& s) {
      return std::hypot(s.row - p.row, s.col - p.col) >= kSpotsApart && are_hills(grid, s, p);
    });
    if (!apart) continue;
    look.wide_spots += width_of(grid, p) > kDropWidth;
    spots.push_back(p);
  }
  double all = 0;
  double beside = 0;
  double rises = 0;
  for (int r = 0; r < grid.shape.rows; ++r)
    for (int c = 0; c < grid.shape.cols; ++c) {
      const auto v = static_cast<double>(grid.at(r, c));
      const double energy = std::abs(v) > 0.6 * static_cast<double>(limit) ? v * v : 0.0;
      all += energy;
      const bool within = std::any_of(spots.begin(), spots.end(), [&, r = r, c = c](const Peak& s) {
        return std::abs(s.row - r) <= 2 && std::abs(s.col - c) <= 2;
      });
      if (!within) beside += energy;
      if (within && v < 0) rises += energy;
    }
  look.spots = static_cast<int>(spots.size());
  look.spots_box = {255, 0, 255, 0};
  for (const Peak& s : spots) include(look.spots_box, s.row, s.col);
  look.beside_spots = all > 0 ? beside / all : 1;
  look.spots_rise = all > beside ? rises / (all - beside) : 0;
  count_pairs(look, grid, spots, limit);
}

}  // namespace bareglass::host
