#include "contact_profile.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace bareglass::host {

namespace {

constexpr int kReach = ContactProfile::kReach;
constexpr int kFar = kReach + 1;  ///< nodes known to each side of the peak
constexpr int kSide = 2 * kFar + 1;
constexpr double kSpreadCap = 3.0;  ///< squared pitches
constexpr double kSurely = 4.0;     ///< standard deviations
// Below this volume the width of what is left is the width of noise.
constexpr double kLeastVolume = 0.15;
// A contact that raises nodes by more than this share of its peak has no width.
constexpr double kRaised = 0.4;

// An earthed fingertip of two signs there is not; one on 1 to 2 pF lowers a node by 0.22 at most,
// and raises others by 2.9 times as much at most (discs of 6 to 11 mm, 0.7 mm glass). Drops of up
// to 13 mm without a way to earth raise them by 4 times as much or more.
constexpr double kMostTwoSigned = 0.25;
constexpr double kMostRaised = 3.0;
// It makes signals on so many lines at most: its own width and the field's.
constexpr int kFingertipLines = 4;

/// The nodes round a peak, in shares of the nominal finger; 0 beyond the panel's edge.
class PeakPatch {
 public:
  PeakPatch(const std::vector<float>& map, Shape shape, int row, int col, double finger,
            double noise) {
    const float usual = median(map);
    for (int r = std::max(0, row - kFar); r <= std::min(shape.rows - 1, row + kFar); ++r) {
      const float level = level_of_row(map, shape, r, col, noise * finger, usual);
      for (int c = std::max(0, col - kFar); c <= std::min(shape.cols - 1, col + kFar); ++c)
        at(r - row, c - col) =
            static_cast<double>(map[static_cast<std::size_t>(r * shape.cols + c)] - level) / finger;
    }
  }
  double& at(int dr, int dc) { return value_[index(dr, dc)]; }
  double at(int dr, int dc) const { return value_[index(dr, dc)]; }

  /// What the panel's edge hides of a contact whose peak lies `inside` lines from the outermost
  /// one, 0 or 1. A round contact reads the same on both sides of its centre, which follows from
  /// the three outermost lines if the profile is a Gaussian, as the core's centroid at an edge
  /// takes it. `inwards`: +1 or -1, the step in rows (`of_rows`) or columns from the edge.
  /// False: the centre is not known well enough.
  bool complete(bool of_rows, int inside, int inwards, double noise) {
    double line[3] = {};
    for (int n = 0; n < 3; ++n)
      for (int k = -kReach; k <= kReach; ++k) line[n] += node(of_rows, (n - inside) * inwards, k);
    double centre = 0;
    if (inside == 0) {
      if (line[2] < 5 * noise || line[1] < 1.2 * line[2] || line[0] < 1.05 * line[1]) return false;
      const double first = std::log(line[0] / line[1]);
      const double second = std::log(line[1] / line[2]);
      if (second <= first + 0.2) return false;
      centre = 0.5 - first / (second - first);
      if (centre < -0.1) return false;
    } else {
      // What it hides is a tenth of the contact: no reason to give it up.
      const double least = 5 * noise;
      if (line[0] < least || line[1] < least || line[2] < least) return true;
      const double bend = 2 * std::log(line[1]) - std::log(line[0]) - std::log(line[2]);
      if (bend < 0.2) return true;
      centre = std::clamp(0.5 * std::log(line[2] / line[0]) / bend, -0.5, 0.5);
    }
    for (int n = inside + 1; n <= kReach; ++n) reflect(of_rows, n, inwards, centre);
    return true;
  }

  void describe(ContactProfile& out) const {
    double x = 0;
    double y = 0;
    double square = 0;
    for (int dr = -kReach; dr <= kReach; ++dr)
      for (int dc = -kReach; dc <= kReach; ++dc) {
        const double v = at(dr, dc);
        out.volume += v;
        out.raised_near = std::max(out.raised_near, -v);
        x += v * dc;
        y += v * dr;
        square += v * (dc * dc + dr * dr);
      }
    out.has_width = out.volume > kLeastVolume && out.raised_near < kRaised * out.peak;
    if (!out.has_width) return;
    x /= out.volume;
    y /= out.volume;
    out.width = square / out.volume - x * x - y * y;
    out.x += x;
    out.y += y;
    describe_spread(out, x, y);
  }

  /// A fingertip without a way to earth, C_b below 1.5 pF: loss and coupling about cancel, in one
  /// part of it the loss is greater and in another the coupling. Its peak may lie at its rim.
  bool describe_two_signs(ContactProfile& out, double noise) const {
    if (out.peak > kMostTwoSigned || out.peak < 6 * noise) return false;
    const double least = std::max(5 * noise, 0.3 * out.peak);
    int row0 = kFar, row1 = -kFar, col0 = kFar, col1 = -kFar;
    double raised = 0;
    double sum = 0;
    double x = 0;
    double y = 0;
    for (int dr = -kFar; dr <= kFar; ++dr)
      for (int dc = -kFar; dc <= kFar; ++dc) {
        const double v = at(dr, dc);
        if (std::abs(v) < least) continue;
        raised = std::max(raised, -v);
        row0 = std::min(row0, dr);
        row1 = std::max(row1, dr);
        col0 = std::min(col0, dc);
        col1 = std::max(col1, dc);
        sum += std::abs(v);
        x += dc * std::abs(v);
        y += dr * std::abs(v);
      }
    if (raised < kRaised * out.peak || raised > kMostRaised * out.peak) return false;
    if (row1 - row0 >= kFingertipLines || col1 - col0 >= kFingertipLines) return false;
    out.two_signs = true;
    out.raised_near = raised;
    out.volume = sum;
    out.x += x / sum;
    out.y += y / sum;
    return true;
  }

 private:
  static std::size_t index(int dr, int dc) {
    return static_cast<std::size_t>((dr + kFar) * kSide + dc + kFar);
  }
  /// About the centroid (x, y), pitches from the peak.
  void describe_spread(ContactProfile& out, double x, double y) const {
    const auto counted = [&](int dr, int dc) {
      return std::min(kSpreadCap, (dr - y) * (dr - y) + (dc - x) * (dc - x));
    };
    for (int dr = -kReach; dr <= kReach; ++dr)
      for (int dc = -kReach; dc <= kReach; ++dc)
        out.spread += at(dr, dc) * counted(dr, dc) / out.volume;
    double squares = 0;
    for (int dr = -kReach; dr <= kReach; ++dr)
      for (int dc = -kReach; dc <= kReach; ++dc) {
        const double weight = counted(dr, dc) - out.spread;
        squares += weight * weight;
      }
    out.spread_per_noise = std::sqrt(squares) / out.volume;
  }

  double& node(bool of_rows, int across, int along) {
    return of_rows ? at(across, along) : at(along, across);
  }

  /// Fills the line `n` outside the peak's from its mirror image about `centre`.
  void reflect(bool of_rows, int n, int inwards, double centre) {
    const double image = std::min(n + 2 * centre, static_cast<double>(kFar));
    const int near = static_cast<int>(std::floor(image));
    const double part = image - near;
    for (int k = -kReach; k <= kReach; ++k) {
      const double a = node(of_rows, near * inwards, k);
      const double b = node(of_rows, std::min(near + 1, kFar) * inwards, k);
      // Flanks fall off by factors.
      node(of_rows, -n * inwards, k) =
          a > 0 && b > 0 ? a * std::pow(b / a, part) : a + part * (b - a);
    }
  }

  static float median(std::vector<float> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
  }

  /// Swings of whole rows leave a mean of their own: what the row shows away from the contact, if
  /// that is more than noise. Else what the panel shows, `usual`: the noise of a few nodes must not
  /// come upon the whole row.
  static float level_of_row(const std::vector<float>& map, Shape shape, int row, int col,
                            double noise, float usual) {
    std::vector<float> rest;
    for (int c = 0; c < shape.cols; ++c)
      if (std::abs(c - col) > kReach)
        rest.push_back(map[static_cast<std::size_t>(row * shape.cols + c)]);
    if (rest.size() < 5) return usual;
    // A median scatters by 1.25 standard deviations over the root of their number.
    const double limit = kSurely * 1.25 * noise / std::sqrt(static_cast<double>(rest.size()));
    const float own = median(std::move(rest));
    return std::abs(static_cast<double>(own - usual)) > limit ? own : usual;
  }

  std::array<double, kSide * kSide> value_{};
};

/// Whether the nodes three lines from the middle read next to nothing. The largest fingertip on the
/// thickest glass leaves a sixth of its peak there.
bool fades_out(const std::vector<float>& map, Shape shape, const ContactProfile& c, double finger,
               double noise) {
  const double limit = std::max(0.25 * c.peak, 5 * noise) * finger;
  for (int r = std::max(0, c.row - kFar); r <= std::min(shape.rows - 1, c.row + kFar); ++r)
    for (int col = std::max(0, c.col - kFar); col <= std::min(shape.cols - 1, c.col + kFar);
         ++col) {
      if (std::abs(r - c.row) != kFar && std::abs(col - c.col) != kFar) continue;
      const auto at = static_cast<std::size_t>(r * shape.cols + col);
      if (std::abs(static_cast<double>(map[at])) > limit) return false;
    }
  return true;
}

/// Lines between `line` and the nearest end of `count` lines, and the step inwards from there.
struct Edge {
  int inside;
  int inwards;
};
Edge nearest_edge(int line, int count) {
  const int after = count - 1 - line;
  return line <= after ? Edge{line, 1} : Edge{after, -1};
}

}  // namespace

ContactProfile strongest_contact(const std::vector<float>& map, Shape shape, double finger,
                                 double noise) {
  ContactProfile out;
  const auto top = std::max_element(map.begin(), map.end()) - map.begin();
  out.row = static_cast<int>(top) / shape.cols;
  out.col = static_cast<int>(top) % shape.cols;
  out.x = out.col;
  out.y = out.row;
  PeakPatch patch(map, shape, out.row, out.col, finger, noise);
  out.peak = patch.at(0, 0);
  if (patch.describe_two_signs(out, noise)) {
    out.row = static_cast<int>(std::lround(out.y));
    out.col = static_cast<int>(std::lround(out.x));
  } else {
    const Edge rows = nearest_edge(out.row, shape.rows);
    const Edge cols = nearest_edge(out.col, shape.cols);
    if (rows.inside == 0 && cols.inside == 0) return {};  // a corner hides three quarters
    if (rows.inside < kReach && !patch.complete(true, rows.inside, rows.inwards, noise)) return {};
    if (cols.inside < kReach && !patch.complete(false, cols.inside, cols.inwards, noise)) return {};
    patch.describe(out);
  }
  out.alone = fades_out(map, shape, out, finger, noise);
  return out;
}

}  // namespace bareglass::host
