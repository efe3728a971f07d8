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

}  // namespace

void find_spots(SceneLook& look, const Grid& grid, float limit, double sigma) {
  std::vector<Peak> spots;
  for (const Peak& p : raised_peaks(grid, limit)) {
    const bool close = std::any_of(spots.begin(), spots.end(), [&](const Peak& s) {
      return std::hypot(s.row - p.row, s.col - p.col) < kSpotsApart;
    });
    if (close) continue;
    const Box box = grown(grid, p.row, p.col, -1.f, std::max(0.7f * limit, 0.3f * p.value)).box;
    if (box.height() > kSpotSize || box.width() > kSpotSize) {
      if (!spots.empty() && p.value < 0.4f * spots.front().value) continue;  // of a rim
      look.spots = 0;
      look.beside_spots = 1;
      return;
    }
    spots.push_back(p);
  }
  double all = 0;
  double beside = 0;
  double rises = 0;
  for (int r = 0; r < grid.shape.rows; ++r)
    for (int c = 0; c < grid.shape.cols; ++c) {
      const auto v = static_cast<double>(grid.at(r, c));
      const double energy = v * v - sigma * sigma;
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
  look.beside_spots = all > 0 ? std::max(0.0, beside / all) : 1;
  look.spots_rise = all > 0 ? rises / all : 0;
}

}  // namespace bareglass::host
