// What an episode's map looks like: how far it falls and rises, where, and in what shape.

#include <algorithm>
#include <cmath>
#include <iterator>

#include "scene_kind.hpp"
#include "scene_limits.hpp"
#include "scene_spots.hpp"

namespace bareglass::host {

namespace {

using namespace scene_limits;

/// The place of the greatest rise, told by sums over 3 x 3 nodes, and what hangs together with it.
void see_raised(SceneLook& look, const Grid& grid, const Map& soft, double sigma, double finger) {
  look.raised_box = {255, 0, 255, 0};
  const double deepest = static_cast<double>(-*std::min_element(soft.begin(), soft.end()));
  // Summed over 3 x 3 nodes and divided by three a plateau reads three times its height.
  const double limit = std::max(look.limit * finger, 0.33 * deepest);
  Map inside(soft.size(), 0.f);
  std::size_t top = soft.size();
  for (std::size_t i = 0; i < soft.size(); ++i) {
    if (static_cast<double>(-soft[i]) < limit || -grid.map[i] < static_cast<float>(sigma)) continue;
    inside[i] = -1.f;
    if (top == soft.size() || soft[i] < soft[top]) top = i;
  }
  if (top == soft.size()) return;
  std::vector<float> heights;
  const Grid marks{inside, grid.shape};
  int r = static_cast<int>(top) / grid.shape.cols;
  int c = static_cast<int>(top) % grid.shape.cols;
  std::vector<char> reached(soft.size(), 0);
  const Patch patch = grown(marks, r, c, -1.f, 0.5f, &reached);
  look.raised_box = patch.box;
  look.raised_nodes = patch.nodes;
  for (std::size_t i = 0; i < soft.size(); ++i)
    if (reached[i]) heights.push_back(-grid.map[i]);
  look.plateau = static_cast<double>(quantile(heights, 0.75)) / finger;
  look.filled =
      static_cast<double>(look.raised_nodes) / (look.raised_box.width() * look.raised_box.height());
  // Sums over 3 x 3 nodes see a line too far; single nodes tell the edge where they can.
  const double edge = 0.45 * look.plateau * finger;
  if (edge > look.limit * finger) {
    look.raised_box = {255, 0, 255, 0};
    for (r = 0; r < grid.shape.rows; ++r)
      for (c = 0; c < grid.shape.cols; ++c)
        if (reached[static_cast<std::size_t>(r * grid.shape.cols + c)] &&
            static_cast<double>(-grid.at(r, c)) > edge)
          include(look.raised_box, r, c);
  }
  const Box& b = look.raised_box;
  for (r = b.row0 - 2; r <= b.row1 + 2; ++r)
    for (c = b.col0 - 2; c <= b.col1 + 2; ++c)
      if (grid.holds(r, c))
        look.rim = std::max(look.rim, static_cast<double>(grid.at(r, c)) / finger);
}

/// The strongest fall and what hangs together with it.
void see_lowered(SceneLook& look, const Grid& grid, double finger) {
  look.lowered_box = {255, 0, 255, 0};
  if (look.lowered > look.limit) {
    const auto top =
        static_cast<int>(std::max_element(grid.map.begin(), grid.map.end()) - grid.map.begin());
    const int r = top / grid.shape.cols;
    const int c = top % grid.shape.cols;
    const auto limit = [&](double share) {
      return static_cast<float>(std::max(look.limit, share * look.lowered) * finger);
    };
    const Patch core = grown(grid, r, c, 1.f, limit(0.33));
    look.lowered_box = core.box;
    look.lowered_nodes = core.nodes;
    look.lowered_filled = static_cast<double>(core.nodes) / (core.box.width() * core.box.height());
    look.area = grown(grid, r, c, 1.f, limit(0.1)).sum / (look.lowered * finger);
  }
  double sum = 0;
  for (const float v : grid.map) {
    const double rise = static_cast<double>(-v) / finger;
    if (rise > std::max(look.limit, 0.1 * look.raised)) sum += rise;
  }
  look.raised_area = look.raised > 0 ? sum / look.raised : 0;
}

/// Where the thing reaches a border: how far inwards and how far along it.
void see_border(SceneLook& look, const Grid& grid, const Settings& settings) {
  const Shape shape = grid.shape;
  const Box& b = look.lowered_box;
  if (look.lowered_nodes == 0) return;
  const auto line_sum = [&](bool of_rows, int line) {
    double sum = 0;
    double most = 0;
    for (int i = 0; i < (of_rows ? shape.cols : shape.rows); ++i) {
      const double v =
          std::max(0.0, static_cast<double>(of_rows ? grid.at(line, i) : grid.at(i, line)));
      sum += v;
      most = std::max(most, v);
    }
    return std::pair{sum, most};
  };
  const struct {
    bool at, of_rows;
    int line, inwards;
  } borders[] = {{b.row0 == 0, true, 0, 1},
                 {b.row1 == shape.rows - 1, true, shape.rows - 1, -1},
                 {b.col0 == 0, false, 0, 1},
                 {b.col1 == shape.cols - 1, false, shape.cols - 1, -1}};
  for (const auto& border : borders) {
    if (!border.at) continue;
    const auto [sum, most] = line_sum(border.of_rows, border.line);
    double across = sum;
    for (int n = 1; n <= 3; ++n) {
      const int line = border.line + n * border.inwards;
      if (line >= 0 && line < (border.of_rows ? shape.rows : shape.cols))
        across += line_sum(border.of_rows, line).first;
    }
    const double pitch = (border.of_rows ? settings.pitch_col_um : settings.pitch_row_um) / 1000.0;
    if (sum <= 0 || most <= 0) continue;
    if (look.depth == 0 || across / sum < look.depth) {
      look.depth = across / sum;
      look.length_mm = sum / most * pitch;
    }
  }
}

/// Value for a glass under which the finger is this share of the bare reading, between those of
/// kFingerShare; the nearest one's beyond them.
double by_glass(const double (&values)[std::size(kFingerShare)], double finger_share) {
  if (finger_share <= kFingerShare[0]) return values[0];
  for (std::size_t k = 1; k < std::size(kFingerShare); ++k) {
    if (finger_share > kFingerShare[k]) continue;
    const double part =
        (finger_share - kFingerShare[k - 1]) / (kFingerShare[k] - kFingerShare[k - 1]);
    return values[k - 1] + part * (values[k] - values[k - 1]);
  }
  return values[std::size(kFingerShare) - 1];
}

double patch_share(double finger_share) {
  const double thinnest = kFingerShare[std::size(kFingerShare) - 1];
  return by_glass(kPatch, finger_share) * std::max(1.0, finger_share / thinnest);
}

/// The bare reading of a node at which the announced finger holds: the typical node's, unless the
/// finger were then larger than any glass allows. Then it was announced for a node that settles
/// fully.
float finger_level(const Reading& reading, double finger) {
  constexpr double kMostShare = 0.19;  // 0.182 on 0.7 mm of glass
  const float typical = std::max(1.f, quantile(reading.base(), 0.5));
  return finger < kMostShare * static_cast<double>(typical)
             ? typical
             : std::max(typical, quantile(reading.base(), 0.99));
}

/// The map as it would be if all nodes were as sensitive as the typical one: signal is lost along
/// the lines of large panels. What is within `limit` stays as it is: noise is the same everywhere.
Map levelled(const Map& map, const Reading& reading, float typical, double limit) {
  Map out = map;
  for (std::size_t i = 0; i < out.size(); ++i) {
    const float share = reading.base()[i] / typical;
    if (share > 0.05f && std::abs(static_cast<double>(out[i])) > limit) out[i] /= share;
  }
  return out;
}

/// Greatest sum of two nodes side by side over the root of two: noise alone makes it as seldom as
/// one node, and nothing on the glass keeps to a single node.
double strongest_pair(const Grid& grid, float sign) {
  float most = 0.f;
  for (int r = 0; r < grid.shape.rows; ++r)
    for (int c = 0; c < grid.shape.cols; ++c) {
      if (grid.holds(r + 1, c)) most = std::max(most, sign * (grid.at(r, c) + grid.at(r + 1, c)));
      if (grid.holds(r, c + 1)) most = std::max(most, sign * (grid.at(r, c) + grid.at(r, c + 1)));
    }
  return static_cast<double>(most) / std::sqrt(2.0);
}

/// What a smooth panel leaves of a large one is not quite white: sums over 3 x 3 nodes then spread
/// more than single nodes do. How much more, told by the lower 80 % of them, which no film on so
/// large a panel reaches; on a small panel one could.
double unevenness(const Episode& e, Shape shape) {
  if (shape.nodes() < 800) return 1.0;
  Map soft = gathered(e.map, shape);
  for (float& v : soft) v = std::abs(v);
  const double spread = static_cast<double>(quantile(std::move(soft), 0.8)) / 1.2816;
  return std::clamp(spread / std::max(1e-9, e.sigma), 1.0, kMostUneven);
}

}  // namespace

SceneLook look_at(const Episode& e, const Reading& reading, const Settings& settings) {
  SceneLook look;
  const double finger = std::max<int>(16, settings.finger_counts);
  const float level = finger_level(reading, finger);
  const double looks = e.witness == Witness::smoothness
                           ? static_cast<double>(e.map.size())
                           : static_cast<double>(e.map.size() * reading.windows());
  const double uneven = e.witness == Witness::smoothness ? unevenness(e, reading.shape()) : 1.0;
  const double limit = noise_limit(2.0 * looks, e.freedom) * e.sigma * uneven;
  look.limit = limit / finger;
  const Grid as_read{e.map, reading.shape()};
  if (e.witness == Witness::smoothness) look.least_plateau = kUneven;
  look.lowered_pair = strongest_pair(as_read, 1.f) / finger;
  look.raised_pair = strongest_pair(as_read, -1.f) / finger;
  const Map map = e.witness == Witness::smoothness ? e.map : levelled(e.map, reading, level, limit);
  const Grid grid{map, reading.shape()};
  const double share = finger / static_cast<double>(level);
  look.conductor = patch_share(share);
  look.drops_rise = by_glass(kDropRises, share);
  look.clear_drops_rise = by_glass(kDropRisesClearly, share);
  for (const float v : map) {
    look.lowered = std::max(look.lowered, static_cast<double>(v) / finger);
    look.raised = std::max(look.raised, static_cast<double>(-v) / finger);
  }
  const Map soft = gathered(map, reading.shape());
  see_raised(look, grid, soft, e.sigma, finger);
  see_lowered(look, grid, finger);
  see_border(look, grid, settings);
  find_spots(look, grid, static_cast<float>(look.limit * finger));
  return look;
}
}  // namespace bareglass::host
