#include "scene_kind.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace bareglass::host {

namespace {

// An isolated body of conductor covers its nodes (they fall by L, the full cover's loss) and
// couples every row to every column it spans: those crossings rise by about k A_r B_c / A, where
// A_r, B_c are its areas over one row and one column and A is all of it; k is 1.0 to 1.25 L (field
// solution). For a closed patch A_r B_c / A is at most 1 (rectangle) or 1.27 (disc): it rises by
// 0.05 to 0.6 of a finger in its middle and falls by 0.1 to 0.35 at its edge. A streak over n lines
// keeps 1 - 2 / n of the loss on itself: 0.5 to 0.9; an L raises its corner by more than a disc of
// 0.27 k above a rectangle's rise could.
constexpr double kStreakLowered = 0.42;
constexpr double kStreakOverPatch = 0.42;
// A streak over the diagonal of n lines fills 2 / n of its box, a disc 0.78.
constexpr double kThin = 0.45;
constexpr int kThinNodes = 8;
// A streak's lowered nodes go with raised ones; what is raised beside a grounded thing is its
// gain's error.
constexpr double kBothSigns = 0.08;
// Lines half a pitch beside the bezel's fluid show up to 0.42 of it (2 mm glass), a film two lines
// deep or more all of it.
constexpr double kBandDepth = 1.75;  ///< sum across the border over the border's own
constexpr double kBandLength_mm = 14.5;
// The largest fingertip, 11 mm, sums to 6 nodes of its peak; a film of 22 mm to 19.
constexpr double kFingerArea = 11.0;
// A large closed patch of conductor without ground raises a node by this share of a finger, where
// the finger is this share of the bare reading: field solution, 3.0, 2.0, 1.1 and 0.7 mm of glass.
constexpr double kFingerShare[] = {0.068, 0.102, 0.1535, 0.182};
constexpr double kPatch[] = {0.004, 0.020, 0.105, 0.240};
// A residue, moist or dry, is a layer of a fraction of a millimetre: a dielectric of 0.55 of that
// at most (300 um of permittivity 40, field solution). Thicker water conducts.
constexpr double kMostDielectric = 0.63;
// Dry tape, paper and labels up to 500 um reach 0.14 of it on 0.7 and 1.1 mm of glass, 0.11 on 2
// mm.
constexpr double kMostDry = 0.15;
constexpr double kMostDryOrMore = 0.17;  ///< the same with what is left for error
constexpr double kStraight = 0.85;       ///< of its box filled: a rectangle along the lines
constexpr double kDropRim = 0.75;  ///< at most, of the rise; a larger disc reaches 0.9 on 3 mm
// A real panel is not smooth to better than this (common practice, no source).
constexpr double kUneven = 0.04;
constexpr double kDropRises = 0.5;  ///< of a drop's energy is in its rise, of a disc's corners less
constexpr double kMostUneven = 2.5;  ///< beyond that it is a thing that reaches so many nodes
constexpr int kSpotSize = 4;         ///< lines
constexpr double kSpotsApart = 3.3;  ///< pitches; closer raised places are corners of one patch

struct Grid {
  const Map& map;
  Shape shape;
  float at(int r, int c) const { return map[static_cast<std::size_t>(r * shape.cols + c)]; }
  bool holds(int r, int c) const { return r >= 0 && c >= 0 && r < shape.rows && c < shape.cols; }
};

void include(Box& box, int r, int c) {
  box.row0 = std::min<std::uint8_t>(box.row0, static_cast<std::uint8_t>(r));
  box.row1 = std::max<std::uint8_t>(box.row1, static_cast<std::uint8_t>(r));
  box.col0 = std::min<std::uint8_t>(box.col0, static_cast<std::uint8_t>(c));
  box.col1 = std::max<std::uint8_t>(box.col1, static_cast<std::uint8_t>(c));
}

/// Nodes round (r, c) that hang together and go `sign` (1: fall) by at least `limit`.
struct Patch {
  Box box{255, 0, 255, 0};
  int nodes = 0;
  double sum = 0;
};
Patch grown(const Grid& grid, int r, int c, float sign, float limit,
            std::vector<char>* reached = nullptr) {
  Patch patch;
  std::vector<char> own(reached == nullptr ? grid.map.size() : 0, 0);
  std::vector<char>& seen = reached == nullptr ? own : *reached;
  std::vector<std::pair<int, int>> open{{r, c}};
  seen[static_cast<std::size_t>(r * grid.shape.cols + c)] = 1;
  while (!open.empty()) {
    const auto [y, x] = open.back();
    open.pop_back();
    include(patch.box, y, x);
    ++patch.nodes;
    patch.sum += static_cast<double>(sign * grid.at(y, x));
    for (int dy = -1; dy <= 1; ++dy)
      for (int dx = -1; dx <= 1; ++dx) {
        if (!grid.holds(y + dy, x + dx) || sign * grid.at(y + dy, x + dx) < limit) continue;
        char& mark = seen[static_cast<std::size_t>((y + dy) * grid.shape.cols + x + dx)];
        if (mark) continue;
        mark = 1;
        open.emplace_back(y + dy, x + dx);
      }
  }
  return patch;
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

double patch_share(double finger_share) {
  const std::size_t last = std::size(kPatch) - 1;
  if (finger_share <= kFingerShare[0]) return kPatch[0];
  for (std::size_t k = 1; k <= last; ++k) {
    if (finger_share > kFingerShare[k]) continue;
    const double part =
        (finger_share - kFingerShare[k - 1]) / (kFingerShare[k] - kFingerShare[k - 1]);
    return kPatch[k - 1] + part * (kPatch[k] - kPatch[k - 1]);
  }
  return kPatch[last] * finger_share / kFingerShare[last];
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

}  // namespace

namespace {

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

}  // namespace

namespace {

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
  look.conductor = patch_share(finger / static_cast<double>(level));
  for (const float v : map) {
    look.lowered = std::max(look.lowered, static_cast<double>(v) / finger);
    look.raised = std::max(look.raised, static_cast<double>(-v) / finger);
  }
  const Map soft = gathered(map, reading.shape());
  see_raised(look, grid, soft, e.sigma, finger);
  see_lowered(look, grid, finger);
  see_border(look, grid, settings);
  find_spots(look, grid, static_cast<float>(look.limit * finger), e.sigma);
  return look;
}

namespace {

Cause grounded_kind(const SceneLook& look) {
  if (look.depth > 0 && look.depth < kBandDepth && look.length_mm > kBandLength_mm)
    return Cause::wet_bezel;
  return look.area < kFingerArea ? Cause::touch_at_power_up : Cause::grounded_film;
}

}  // namespace

std::optional<Cause> kind_of(const SceneLook& look) {
  const bool falls = std::min(look.lowered_pair, look.lowered) > look.limit;
  const bool wide = look.raised_nodes >= 3 && look.plateau > look.least_plateau;
  const bool rises = wide || std::min(look.raised_pair, look.raised) > look.limit;
  if (!falls && !rises) return std::nullopt;
  if (look.raised > look.conductor + kStreakOverPatch ||
      (look.lowered > kStreakLowered && look.raised > kBothSigns * look.lowered + look.limit))
    return Cause::isolated_streak;
  // Without a reference the rise beside a long streak can drown in the spread; its shape does not.
  if (falls && look.lowered > kStreakLowered && look.lowered_nodes >= kThinNodes &&
      look.lowered_filled < kThin)
    return Cause::isolated_streak;
  if (falls && look.raised < kBothSigns * look.lowered + look.limit) return grounded_kind(look);
  if (look.spots >= 2 && look.beside_spots < 0.1 && look.spots_rise > kDropRises &&
      look.lowered < kDropRim * look.raised)
    return Cause::drops;
  const bool has_rim = look.rim > look.limit && look.rim > 0.04 * look.raised;
  const bool is_flat = look.raised < 1.35 * look.plateau + look.limit;
  if (has_rim || !is_flat || look.plateau > kMostDielectric * look.conductor)
    return Cause::isolated_film;
  return Cause::residue;
}

std::optional<Cause> other_layer(Cause& cause, const SceneLook& look) {
  if (look.plateau > kMostDryOrMore * look.conductor) return std::nullopt;
  // Tape, paper and labels have straight edges; they are cut along the panel more often than not.
  const bool straight = look.filled > kStraight;
  cause = straight && look.plateau < kMostDry * look.conductor ? Cause::dry_film : Cause::residue;
  return cause == Cause::dry_film ? Cause::residue : Cause::dry_film;
}

namespace {

/// Sum of squares that a course leaves which keeps its height until window `full`, is 0 from window
/// `gone` on and falls evenly between; the height is fitted.
double left_by_ramp(const Episode& e, std::size_t full, std::size_t gone) {
  double squares = 0;
  double along = 0;
  double norm = 1e-12;
  for (std::size_t k = e.from; k < e.course.size(); ++k) {
    const auto v = static_cast<double>(e.course[k]);
    const double model = k <= full ? 1.0
                         : k >= gone
                             ? 0.0
                             : static_cast<double>(gone - k) / static_cast<double>(gone - full);
    squares += v * v;
    along += v * model;
    norm += model * model;
  }
  return squares - along * along / norm;
}

/// A weak thing: does an even fall over four windows or more fit better than any step?
bool falls_slowly(const Episode& e) {
  double step = 1e30;
  double ramp = 1e30;
  const std::size_t n = e.course.size();
  for (std::size_t full = e.from; full < n; ++full)
    for (std::size_t gone = full + 1; gone <= n + n / 2; ++gone) {
      double& best = gone - full <= 2 ? step : ramp;
      if (gone - full > 2 && gone - full < 5) continue;
      best = std::min(best, left_by_ramp(e, full, gone));
    }
  // A ratio of likelihoods of e^4.5: by noise once in a hundred of the few things so weak.
  return step - ramp > 9.0 * e.course_sigma * e.course_sigma && ramp < 0.95 * step;
}

/// Under thick glass the pattern of a drying film grows and falls as its edges pass the lines. What
/// lies there undiminished shows the same pattern in all thirds of its time.
bool changes_slowly(const Episode& e) {
  const std::size_t n = e.until - e.from;
  if (n < 9 || e.until >= e.course.size()) return false;
  const std::size_t part = (n - 2) / 3;  // without the windows in which it came and went
  float thirds[3] = {};
  for (std::size_t t = 0; t < 3; ++t)
    for (std::size_t k = 0; k < part; ++k)
      thirds[t] += e.course[e.from + 1 + t * part + k] / static_cast<float>(part);
  const auto [least, most] = std::minmax_element(thirds, thirds + 3);
  // Three differences to look at: 5 standard deviations are passed once in half a million.
  const double doubt = 5.0 * e.course_sigma * std::sqrt(2.0 / static_cast<double>(part));
  return static_cast<double>(*most - *least) > std::max(0.15, doubt);
}

}  // namespace

bool is_fading(const Episode& e) {
  const auto middle = [&](const std::vector<float>& course, float low) {
    const auto doubt = static_cast<float>(3.0 * e.course_sigma);
    return std::count_if(course.begin(), course.end(),
                         [&](float v) { return v > low + doubt && v < 0.85f - doubt; });
  };
  // What dries also shrinks: little of the first pattern is left then, but something is.
  return middle(e.course, 0.15f) >= 4 || middle(e.presence, 0.1f) >= 4 || changes_slowly(e) ||
         falls_slowly(e);
}

}  // namespace bareglass::host
