#include "contact_profile.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace bareglass::host {

namespace {

// Computed with the simulated panel for earthed discs of 6 to 13 mm at all offsets from the lines,
// on 0.7, 1.1, 2.0 and 3.0 mm of glass (tests/host/contact_profile_test.cpp does it anew). A dump
// does not tell its glass, but how much of the bare reading the nominal finger takes does: the
// thinner, the more. Volume over slope * (width - narrowest) of these discs is at least 0.85, 0.87,
// 0.94 and 0.95; on devices with up to 4.5 pF to earth at most 0.63, 0.70, 0.76 and 0.79.
constexpr std::array<EarthedProfile, 4> kProfiles = {{{0.0674, 1.044, 9.86, 0.87},
                                                      {0.1024, 0.665, 7.59, 0.85},
                                                      {0.1556, 0.386, 6.58, 0.79},
                                                      {0.1862, 0.282, 6.12, 0.75}}};
// Nothing takes more of a node: full grounded cover on the thinnest glass, and some room.
constexpr double kMostShare = 0.21;
// An earthed disc of 6 mm is this much wider than `narrowest`; what is wider than kMostAbove is
// flat.
constexpr double kLeastAbove = 0.28;
constexpr double kMostAbove = 1.25;
constexpr int kReach = 2;  ///< nodes to each side of the peak
constexpr int kSide = 2 * kReach + 1;
// Below this volume the width of what is left is the width of noise.
constexpr double kLeastVolume = 0.15;

// An earthed fingertip of two signs there is not; one on 1 pF lowers a node by this at most.
constexpr double kMostTwoSigned = 0.2;

/// The nodes round a peak, in shares of the nominal finger.
class Patch {
 public:
  Patch(const std::vector<float>& map, Shape shape, int row, int col, double finger) {
    for (int r = std::max(0, row - kReach); r <= std::min(shape.rows - 1, row + kReach); ++r) {
      const float level = rest_of_row(map, shape, r, col);
      for (int c = std::max(0, col - kReach); c <= std::min(shape.cols - 1, col + kReach); ++c)
        at(r - row, c - col) =
            static_cast<double>(map[static_cast<std::size_t>(r * shape.cols + c)] - level) / finger;
    }
  }
  double& at(int dr, int dc) {
    return value_[static_cast<std::size_t>((dr + kReach) * kSide + dc + kReach)];
  }
  double at(int dr, int dc) const {
    return value_[static_cast<std::size_t>((dr + kReach) * kSide + dc + kReach)];
  }

  /// What the panel's edge hides of a contact on an outermost line. Its centre and width across the
  /// edge follow from the three outermost lines if the profile is a Gaussian, as the core's
  /// centroid at an edge takes it; a centre beyond the outermost line is not known well enough.
  /// `inwards`: +1 or -1, the step in rows (`of_rows`) or columns from the edge.
  bool complete(bool of_rows, int inwards, double noise) {
    const auto node = [&](int across, int along) -> double& {
      return of_rows ? at(across, along) : at(along, across);
    };
    double line[3] = {};
    for (int n = 0; n < 3; ++n)
      for (int k = -kReach; k <= kReach; ++k) line[n] += node(n * inwards, k);
    if (line[2] < 5 * noise || line[1] < 1.2 * line[2] || line[0] < 1.05 * line[1]) return false;
    const double first = std::log(line[0] / line[1]);
    const double second = std::log(line[1] / line[2]);
    if (second <= first + 0.2) return false;
    const double variance = 1 / (second - first);
    const double centre = 0.5 - variance * first;
    if (centre < -0.1) return false;
    for (int n = 1; n <= kReach; ++n) {
      const double share = std::exp(-(n * n + 2 * n * centre) / (2 * variance));
      for (int k = -kReach; k <= kReach; ++k) node(-n * inwards, k) = share * node(0, k);
    }
    return true;
  }

  void describe(ContactProfile& out, double noise) const {
    double x = 0;
    double y = 0;
    double square = 0;
    out.peak = at(0, 0);
    for (int dr = -kReach; dr <= kReach; ++dr)
      for (int dc = -kReach; dc <= kReach; ++dc) {
        const double v = at(dr, dc);
        out.volume += v;
        out.raised_near = std::max(out.raised_near, -v);
        x += v * dc;
        y += v * dr;
        square += v * (dc * dc + dr * dr);
      }
    out.x = out.col;
    out.y = out.row;
    out.has_width = out.volume > kLeastVolume && out.raised_near < 0.4 * out.peak;
    out.two_signs = !out.has_width && has_two_signs(out, noise);
    if (!out.has_width) return;
    x /= out.volume;
    y /= out.volume;
    out.width = square / out.volume - x * x - y * y;
    out.x += x;
    out.y += y;
  }

 private:
  /// A fingertip without a way to earth, C_b below 1.5 pF: loss and coupling about cancel, in one
  /// part of it the loss is greater and in another the coupling.
  bool has_two_signs(const ContactProfile& c, double noise) const {
    if (c.raised_near < 0.4 * c.peak || c.raised_near > 2.2 * c.peak) return false;
    if (c.peak > kMostTwoSigned || c.peak < 6 * noise) return false;
    int row0 = kSide, row1 = -kSide, col0 = kSide, col1 = -kSide;
    for (int dr = -kReach; dr <= kReach; ++dr)
      for (int dc = -kReach; dc <= kReach; ++dc) {
        if (std::abs(at(dr, dc)) < std::max(5 * noise, 0.3 * c.peak)) continue;
        row0 = std::min(row0, dr);
        row1 = std::max(row1, dr);
        col0 = std::min(col0, dc);
        col1 = std::max(col1, dc);
      }
    return row1 - row0 < 4 && col1 - col0 < 4;
  }

  /// Swings of whole rows leave a mean of their own: what the row shows away from the contact.
  static float rest_of_row(const std::vector<float>& map, Shape shape, int row, int col) {
    std::vector<float> rest;
    for (int c = 0; c < shape.cols; ++c)
      if (std::abs(c - col) > kReach)
        rest.push_back(map[static_cast<std::size_t>(row * shape.cols + c)]);
    if (rest.size() < 5) return 0.f;
    const auto middle = rest.begin() + static_cast<std::ptrdiff_t>(rest.size() / 2);
    std::nth_element(rest.begin(), middle, rest.end());
    return *middle;
  }

  std::array<double, kSide * kSide> value_{};
};

/// Whether the nodes three lines from the peak read next to nothing. The largest fingertip on the
/// thickest glass leaves a sixth of its peak there.
bool fades_out(const std::vector<float>& map, Shape shape, const ContactProfile& c, double finger,
               double noise) {
  constexpr int kRing = kReach + 1;
  const double limit = std::max(0.25 * c.peak, 5 * noise) * finger;
  for (int r = std::max(0, c.row - kRing); r <= std::min(shape.rows - 1, c.row + kRing); ++r)
    for (int col = std::max(0, c.col - kRing); col <= std::min(shape.cols - 1, c.col + kRing);
         ++col) {
      if (std::abs(r - c.row) != kRing && std::abs(col - c.col) != kRing) continue;
      const auto at = static_cast<std::size_t>(r * shape.cols + col);
      if (std::abs(static_cast<double>(map[at])) > limit) return false;
    }
  return true;
}

}  // namespace

double EarthedProfile::ratio_of(const ContactProfile& contact) const {
  if (contact.two_signs) return 0;
  const double above = contact.width - narrowest;
  if (!contact.has_width || above < kLeastAbove || above > kMostAbove) return -1;
  return contact.volume / (slope * above);
}

double EarthedProfile::error_of(const ContactProfile& contact, double noise) const {
  if (contact.two_signs) return 0;
  // d ratio = dV/(slope above) - V d above / (slope above^2), and both dV and d above are sums over
  // the patch: with q the squared distance from the centroid, d above = sum (q - width) dv / V.
  const double above = contact.width - narrowest;
  double squares = 0;
  for (int dr = -kReach; dr <= kReach; ++dr)
    for (int dc = -kReach; dc <= kReach; ++dc) {
      const double weight = 1 - (dr * dr + dc * dc - contact.width) / above;
      squares += weight * weight;
    }
  return noise * std::sqrt(squares) / (slope * above);
}

EarthedProfile earthed_profile(double share) {
  if (share > kMostShare) return {};
  if (share <= kProfiles.front().share) return kProfiles.front();
  for (std::size_t k = 1; k < kProfiles.size(); ++k) {
    const EarthedProfile& a = kProfiles[k - 1];
    const EarthedProfile& b = kProfiles[k];
    if (share > b.share) continue;
    const double part = (share - a.share) / (b.share - a.share);
    const auto between = [&](double p, double q) { return p + part * (q - p); };
    return {share, between(a.narrowest, b.narrowest), between(a.slope, b.slope),
            between(a.limit, b.limit)};
  }
  return kProfiles.back();
}

ContactProfile strongest_contact(const std::vector<float>& map, Shape shape, double finger,
                                 double noise) {
  ContactProfile out;
  const auto top = std::max_element(map.begin(), map.end()) - map.begin();
  out.row = static_cast<int>(top) / shape.cols;
  out.col = static_cast<int>(top) % shape.cols;
  const bool row_edge = out.row == 0 || out.row == shape.rows - 1;
  const bool col_edge = out.col == 0 || out.col == shape.cols - 1;
  if (row_edge && col_edge) return {};  // a corner hides three quarters
  Patch patch(map, shape, out.row, out.col, finger);
  if (row_edge && !patch.complete(true, out.row == 0 ? 1 : -1, noise)) return {};
  if (col_edge && !patch.complete(false, out.col == 0 ? 1 : -1, noise)) return {};
  patch.describe(out, noise);
  out.alone = fades_out(map, shape, out, finger, noise);
  return out;
}

}  // namespace bareglass::host
