#include "scene_kind.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace bareglass::host {

namespace {

// An isolated body of conductor covers its nodes (they fall by L, the full cover's loss) and couples
// every row to every column it spans: those crossings rise by about k A_r B_c / A, where A_r, B_c
// are its areas over one row and one column and A is all of it; k is 1.0 to 1.25 L (field solution).
// For a closed patch A_r B_c / A is at most 1 (rectangle) or 1.27 (disc): it rises by 0.05 to 0.6 of
// a finger in its middle and falls by 0.1 to 0.35 at its edge. A streak over n lines keeps
// 1 - 2 / n of the loss on itself: 0.5 to 0.9; an L raises its corner by more than 0.75.
constexpr double kStreakLowered = 0.42;
constexpr double kStreakRaised = 0.75;
// A streak's lowered nodes go with raised ones; what is raised beside a grounded thing is its
// gain's error.
constexpr double kBothSigns = 0.08;
// Lines half a pitch beside the bezel's fluid show up to 0.42 of it (2 mm glass), a film two lines
// deep or more all of it.
constexpr double kBandDepth = 1.75;  ///< sum across the border over the border's own
constexpr double kBandLength_mm = 14.5;
// The largest fingertip, 11 mm, sums to 6 nodes of its peak; a film of 22 mm to 19.
constexpr double kFingerArea = 11.0;
// The thickest layer of water acts as a dielectric of 0.22 of a finger (0.7 mm glass, 500 um).
constexpr double kMostDielectric = 0.22;
constexpr int kSpotSize = 4;         ///< lines
constexpr double kSpotsApart = 3.3;  ///< pitches; closer raised places are corners of one patch

struct Grid {
  const Map& map;
  Shape shape;
  float at(int r, int c) const { return map[static_cast<std::size_t>(r * shape.cols + c)]; }
  bool holds(int r, int c) const {
    return r >= 0 && c >= 0 && r < shape.rows && c < shape.cols;
  }
};

void include(Box& box, int r, int c) {
  box.row0 = std::min<std::uint8_t>(box.row0, static_cast<std::uint8_t>(r));
  box.row1 = std::max<std::uint8_t>(box.row1, static_cast<std::uint8_t>(r));
  box.col0 = std::min<std::uint8_t>(box.col0, static_cast<std::uint8_t>(c));
  box.col1 = std::max<std::uint8_t>(box.col1, static_cast<std::uint8_t>(c));
}

/// Box of the nodes round (r, c) that rise by at least `limit` and hang together.
Box grown(const Grid& grid, int r, int c, float limit) {
  Box box{255, 0, 255, 0};
  std::vector<char> seen(grid.map.size(), 0);
  std::vector<std::pair<int, int>> open{{r, c}};
  seen[static_cast<std::size_t>(r * grid.shape.cols + c)] = 1;
  while (!open.empty()) {
    const auto [y, x] = open.back();
    open.pop_back();
    include(box, y, x);
    for (int dy = -1; dy <= 1; ++dy)
      for (int dx = -1; dx <= 1; ++dx) {
        if (!grid.holds(y + dy, x + dx) || -grid.at(y + dy, x + dx) < limit) continue;
        char& mark = seen[static_cast<std::size_t>((y + dy) * grid.shape.cols + x + dx)];
        if (mark) continue;
        mark = 1;
        open.emplace_back(y + dy, x + dx);
      }
  }
  return box;
}

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

void find_spots(SceneLook& look, const Grid& grid, float limit, double sigma) {
  std::vector<Peak> spots;
  for (const Peak& p : raised_peaks(grid, limit)) {
    const bool close = std::any_of(spots.begin(), spots.end(), [&](const Peak& s) {
      return std::hypot(s.row - p.row, s.col - p.col) < kSpotsApart;
    });
    if (close) continue;
    const Box box = grown(grid, p.row, p.col, std::max(0.7f * limit, 0.3f * p.value));
    if (box.height() > kSpotSize || box.width() > kSpotSize) {
      look.spots = 0;
      look.beside_spots = 1;
      return;
    }
    spots.push_back(p);
  }
  double all = 0;
  double beside = 0;
  for (int r = 0; r < grid.shape.rows; ++r)
    for (int c = 0; c < grid.shape.cols; ++c) {
      const auto v = static_cast<double>(grid.at(r, c));
      const double energy = v * v - sigma * sigma;
      all += energy;
      const bool within = std::any_of(spots.begin(), spots.end(), [&, r = r, c = c](const Peak& s) {
        return std::abs(s.row - r) <= 2 && std::abs(s.col - c) <= 2;
      });
      if (!within) beside += energy;
    }
  look.spots = static_cast<int>(spots.size());
  look.beside_spots = all > 0 ? std::max(0.0, beside / all) : 1;
}

void see_raised(SceneLook& look, const Grid& grid, const Map& soft, double sigma, double finger) {
  // Summed over 3 x 3 nodes and divided by three a plateau reads three times its height.
  float deepest = 0.f;
  for (const float v : soft) deepest = std::max(deepest, -v);
  const double limit = std::max(look.limit * finger, 0.33 * static_cast<double>(deepest));
  std::vector<float> heights;
  look.raised_box = {255, 0, 255, 0};
  for (int r = 0; r < grid.shape.rows; ++r)
    for (int c = 0; c < grid.shape.cols; ++c) {
      const auto i = static_cast<std::size_t>(r * grid.shape.cols + c);
      if (static_cast<double>(-soft[i]) < limit || -grid.map[i] < static_cast<float>(sigma)) continue;
      include(look.raised_box, r, c);
      heights.push_back(-grid.map[i]);
    }
  look.raised_nodes = static_cast<int>(heights.size());
  if (heights.empty()) return;
  look.plateau = static_cast<double>(quantile(heights, 0.75)) / finger;
  look.filled = static_cast<double>(look.raised_nodes) /
                (look.raised_box.width() * look.raised_box.height());
  const Box& b = look.raised_box;
  for (int r = b.row0 - 2; r <= b.row1 + 2; ++r)
    for (int c = b.col0 - 2; c <= b.col1 + 2; ++c)
      if (grid.holds(r, c))
        look.rim = std::max(look.rim, static_cast<double>(grid.at(r, c)) / finger);
}

void see_lowered(SceneLook& look, const Grid& grid, double finger) {
  look.lowered_box = {255, 0, 255, 0};
  const double third = std::max(look.limit, 0.33 * look.lowered);
  double sum = 0;
  for (int r = 0; r < grid.shape.rows; ++r)
    for (int c = 0; c < grid.shape.cols; ++c) {
      const double v = static_cast<double>(grid.at(r, c)) / finger;
      if (v > std::max(look.limit, 0.1 * look.lowered)) sum += v;
      if (v < third) continue;
      ++look.lowered_nodes;
      include(look.lowered_box, r, c);
    }
  look.area = look.lowered > 0 ? sum / look.lowered : 0;
}

}  // namespace

SceneLook look_at(const Episode& e, const Reading& reading, double finger) {
  SceneLook look;
  const Grid grid{e.map, reading.shape()};
  look.limit = noise_limit(static_cast<double>(e.map.size())) * e.sigma / finger;
  for (const float v : e.map) {
    look.lowered = std::max(look.lowered, static_cast<double>(v) / finger);
    look.raised = std::max(look.raised, static_cast<double>(-v) / finger);
  }
  const Map soft = gathered(e.map, reading.shape());
  see_raised(look, grid, soft, e.sigma, finger);
  see_lowered(look, grid, finger);
  find_spots(look, grid, static_cast<float>(look.limit * finger), e.sigma);
  return look;
}

namespace {

std::optional<Cause> grounded_kind(const SceneLook& look, Shape shape, const Settings& settings,
                                   const Box& b) {
  const double px = settings.pitch_col_um / 1000.0;
  const double py = settings.pitch_row_um / 1000.0;
  const bool on_rows = b.row0 == 0 || b.row1 == shape.rows - 1;
  const bool on_columns = b.col0 == 0 || b.col1 == shape.cols - 1;
  // Sums over its greatest: the border line's share is what is left for its length.
  const double length = on_rows && b.height() <= 2 ? b.width() * px : b.height() * py;
  const bool band = (on_rows && b.height() <= 2) || (on_columns && b.width() <= 2);
  if (band && length > kBandLength_mm && look.area / std::max(1.0, length / px) < kBandDepth)
    return Cause::wet_bezel;
  return look.area < kFingerArea ? Cause::touch_at_power_up : Cause::grounded_film;
}

}  // namespace

std::optional<Cause> kind_of(const SceneLook& look, Shape shape, const Settings& settings) {
  const bool falls = look.lowered > look.limit;
  const bool rises = look.raised_nodes >= 3 || look.raised > look.limit;
  if (!falls && !rises) return std::nullopt;
  if (look.raised > kStreakRaised ||
      (look.lowered > kStreakLowered && look.raised > kBothSigns * look.lowered + look.limit))
    return Cause::isolated_streak;
  if (falls && look.raised < kBothSigns * look.lowered + look.limit)
    return grounded_kind(look, shape, settings, look.lowered_box);
  if (look.spots >= 2 && look.beside_spots < 0.1) return Cause::drops;
  const bool has_rim = look.rim > look.limit && look.rim > 0.04 * look.raised;
  const bool is_flat = look.raised < 1.35 * look.plateau + look.limit;
  if (has_rim || !is_flat || look.raised > kMostDielectric) return Cause::isolated_film;
  return Cause::residue;
}

bool is_fading(const Episode& e) {
  int middle = 0;
  for (const float v : e.course) middle += v > 0.15f && v < 0.85f;
  return middle >= 4;
}

}  // namespace bareglass::host
