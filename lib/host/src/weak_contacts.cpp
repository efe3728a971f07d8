// Contacts far weaker than their width allows: the device has no good way to earth.
//
// An earthed conductor takes from a node what it covers of the node's field, so signal and width of
// a round contact go together: a small fingertip is weak and narrow, a large one strong and wide.
// On a device with little capacitance to earth the conductor couples its rows to its columns,
// C_TF C_FR / (C_FF + C_b), which gives back most where the loss is greatest: weak, yet wide.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>

#include "electrical_survey.hpp"

namespace bareglass::host {

namespace {

/// Signal of an earthed disc by its width: volume = slope * (width - narrowest). Volume: sum over
/// 5 x 5 nodes in shares of the nominal finger (an earthed 8 mm disc on a node); width: its second
/// moment about its centroid, squared pitches. Computed with sim/panel for discs of 6 to 13 mm at
/// all offsets from the lines (tests/host/weak_contacts_test.cpp computes it anew), on 0.7, 1.1,
/// 2.0 and 3.0 mm of glass. A file does not tell its glass, but how much of the bare reading the
/// nominal finger takes does: the thinner, the more.
struct EarthedProfile {
  double share;      ///< nominal finger over bare reading
  double narrowest;  ///< squared pitches
  double slope;
  /// Volume over that of an earthed contact of the same width. Earthed ones lie above it (lowest
  /// 0.85, 0.87, 0.94, 0.95), devices with up to 4.5 pF to earth below (highest 0.63, 0.70, 0.76,
  /// 0.79).
  double limit;
};
constexpr std::array<EarthedProfile, 4> kProfiles = {{{0.0674, 1.044, 9.86, 0.87},
                                                      {0.1024, 0.665, 7.59, 0.85},
                                                      {0.1556, 0.386, 6.58, 0.79},
                                                      {0.1862, 0.282, 6.12, 0.75}}};
// An earthed disc of 6 mm is narrower than this much above `narrowest`, nothing a finger does is
// wider than kWidest above it: flat things are.
constexpr double kLeastAbove = 0.22;
constexpr double kMostAbove = 1.25;
constexpr int kReach = 2;  ///< nodes to each side of the peak
constexpr int kSide = 2 * kReach + 1;
// A fingertip trembles by 0.2 mm at most (common practice, no source); 0.2 pitches are 1 mm.
constexpr double kStill = 0.2;
// Noise of a node under a contact that stays, over its signal: a trembling finger's. One that comes
// or goes within a window of twelve frames makes 20 %.
constexpr double kTremble = 0.06;
// A change of strength at one place, with the width unchanged: the device was docked.
constexpr double kDocked = 1.3;

EarthedProfile profile_of(double share) {
  if (share <= kProfiles.front().share) return kProfiles.front();
  for (std::size_t k = 1; k < kProfiles.size(); ++k) {
    const EarthedProfile& a = kProfiles[k - 1];
    const EarthedProfile& b = kProfiles[k];
    if (share > b.share) continue;
    const double part = (share - a.share) / (b.share - a.share);
    const auto between = [&](double x, double y) { return x + part * (y - x); };
    return {share, between(a.narrowest, b.narrowest), between(a.slope, b.slope),
            between(a.limit, b.limit)};
  }
  return kProfiles.back();
}

/// The nodes round a peak, in shares of the nominal finger.
struct Patch {
  std::array<double, kSide * kSide> value{};
  double& at(int dr, int dc) {
    return value[static_cast<std::size_t>((dr + kReach) * kSide + dc + kReach)];
  }
  double at(int dr, int dc) const {
    return value[static_cast<std::size_t>((dr + kReach) * kSide + dc + kReach)];
  }
};

struct WeakContact {
  int row = 0, col = 0;
  double peak = 0;
  double volume = 0;
  double width = 0;
  double x = 0, y = 0;  ///< centroid, pitches from node (0, 0)
  double deepest = 0;   ///< greatest rise of the counts anywhere
};

Patch patch_of(const std::vector<float>& map, Shape shape, int row, int col, double finger) {
  Patch p;
  for (int dr = -kReach; dr <= kReach; ++dr)
    for (int dc = -kReach; dc <= kReach; ++dc) {
      const int r = row + dr;
      const int c = col + dc;
      if (r < 0 || c < 0 || r >= shape.rows || c >= shape.cols) continue;
      p.at(dr, dc) = static_cast<double>(map[static_cast<std::size_t>(r * shape.cols + c)]) / finger;
    }
  return p;
}

/// What the panel's edge hides of a contact on an outermost line. Its centre and width across the
/// edge follow from the three outermost lines if the profile is a Gaussian, as the core's centroid
/// at an edge takes it; a centre beyond the outermost line is not known well enough.
/// `inwards`: +1 or -1, the step in rows (`of_rows`) or columns from the edge.
bool complete(Patch& p, bool of_rows, int inwards, double noise) {
  const auto node = [&](int across, int along) -> double& {
    return of_rows ? p.at(across, along) : p.at(along, across);
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

/// The strongest contact of a map; `noise`: of one node, shares of a finger.
bool measure(WeakContact& out, const std::vector<float>& map, Shape shape, double finger,
             double noise) {
  const auto top = std::max_element(map.begin(), map.end()) - map.begin();
  out.row = static_cast<int>(top) / shape.cols;
  out.col = static_cast<int>(top) % shape.cols;
  Patch p = patch_of(map, shape, out.row, out.col, finger);
  out.peak = p.at(0, 0);
  out.deepest = -static_cast<double>(*std::min_element(map.begin(), map.end())) / finger;
  const bool row_edge = out.row == 0 || out.row == shape.rows - 1;
  const bool col_edge = out.col == 0 || out.col == shape.cols - 1;
  if (row_edge && col_edge) return false;  // a corner hides three quarters
  if (row_edge && !complete(p, true, out.row == 0 ? 1 : -1, noise)) return false;
  if (col_edge && !complete(p, false, out.col == 0 ? 1 : -1, noise)) return false;
  double x = 0;
  double y = 0;
  double square = 0;
  out.volume = 0;
  for (int dr = -kReach; dr <= kReach; ++dr)
    for (int dc = -kReach; dc <= kReach; ++dc) {
      const double v = p.at(dr, dc);
      out.volume += v;
      x += v * dc;
      y += v * dr;
      square += v * (dc * dc + dr * dr);
    }
  if (out.volume < 0.1) return false;
  x /= out.volume;
  y /= out.volume;
  out.width = square / out.volume - x * x - y * y;
  out.x = out.col + x;
  out.y = out.row + y;
  return true;
}

/// Windows in a row in which the strongest contact stays where it is and as strong as it is.
struct Run {
  std::size_t from = 0, to = 0;  ///< windows from..to - 1, all of them with the contact throughout
  WeakContact mean;              ///< of the averaged map
  double ratio = 0;              ///< volume over that of an earthed contact of the same width
  bool judged = false;
};

bool same_contact(const WeakContact& a, const WeakContact& b, double noise) {
  return std::hypot(a.x - b.x, a.y - b.y) < kStill &&
         std::abs(a.volume - b.volume) < 0.12 * b.volume + 8 * noise;
}

class Search {
 public:
  Search(const Reading& reading, const Account& account)
      : reading_(reading), finger_(std::max<int>(16, account.settings.finger_counts)) {
    const double level = std::max(1.0, static_cast<double>(quantile(reading.base(), 0.5)));
    profile_ = profile_of(finger_ / level);
    noise_ = static_cast<double>(reading.noise()) / finger_;
  }

  std::vector<Run> runs() const {
    std::vector<Run> out;
    Run now;
    WeakContact before;
    for (std::size_t k = first(); k < reading_.windows(); ++k) {
      WeakContact c;
      const double noise = noise_of(k, k + 1);
      const bool there = measure(c, map_of(k), reading_.shape(), finger_, noise) &&
                         c.peak > std::max(0.05, 6 * noise) && rests(c, k);
      if (!there) c = {};
      // Windows in which it came or went show a part of it: only what two agree on counts.
      if (there && before.peak > 0 && same_contact(c, before, noise)) {
        if (now.to == now.from) now.from = k - 1;
        now.to = k + 1;
      } else {
        close(out, now);
      }
      before = c;
    }
    close(out, now);
    return out;
  }
  const EarthedProfile& profile() const { return profile_; }

  /// Whether nothing lay at the contact's place in an earlier window: a hand comes, a film lies.
  bool came(const Run& run) const {
    for (std::size_t k = first() - 1; k < run.from; ++k) {
      const Patch p = patch_of(map_of(k), reading_.shape(), run.mean.row, run.mean.col, finger_);
      if (std::abs(p.at(0, 0)) < 0.5 * run.mean.peak) return true;
    }
    return false;
  }

 private:
  /// Whether the contact neither came, went nor moved within window k.
  bool rests(const WeakContact& c, std::size_t k) const {
    const Shape shape = reading_.shape();
    double noise = 0;
    for (int r = std::max(0, c.row - 1); r <= std::min(shape.rows - 1, c.row + 1); ++r)
      for (int col = std::max(0, c.col - 1); col <= std::min(shape.cols - 1, c.col + 1); ++col)
        noise = std::max(noise,
                         static_cast<double>(reading_.window(k).noise[reading_.node_at(r, col)]));
    return noise / finger_ < kTremble * c.peak + 2.0 * noise_;
  }
  std::size_t first() const { return reading_.has_reference() ? 1 : 2; }
  std::vector<float> map_of(std::size_t k) const {
    return reading_.has_reference() ? reading_.departure(k) : reading_.change(1, k);
  }
  double noise_of(std::size_t from, std::size_t to) const {
    int frames = 0;
    for (std::size_t k = from; k < to; ++k) frames += reading_.window(k).frames;
    return noise_ / std::sqrt(std::max(1, frames));
  }

  void close(std::vector<Run>& out, Run& run) const {
    if (run.to > run.from) {
      judge(run);
      out.push_back(run);
    }
    run = {};
  }

  void judge(Run& run) const {
    std::vector<float> mean(reading_.base().size(), 0.f);
    for (std::size_t k = run.from; k < run.to; ++k) {
      const std::vector<float> map = map_of(k);
      for (std::size_t i = 0; i < mean.size(); ++i)
        mean[i] += map[i] / static_cast<float>(run.to - run.from);
    }
    const double noise = noise_of(run.from, run.to);
    if (!measure(run.mean, mean, reading_.shape(), finger_, noise)) return;
    const double above = run.mean.width - profile_.narrowest;
    if (above < kLeastAbove || above > kMostAbove) return;
    run.ratio = run.mean.volume / (profile_.slope * above);
    run.judged = true;
  }

  const Reading& reading_;
  double finger_;
  double noise_ = 0;
  EarthedProfile profile_{};
};

Box box_of(const WeakContact& c, Shape shape) {
  const auto line = [](int n, int count) {
    return static_cast<std::uint8_t>(std::clamp(n, 0, count - 1));
  };
  return {line(c.row - 1, shape.rows), line(c.row + 1, shape.rows), line(c.col - 1, shape.cols),
          line(c.col + 1, shape.cols)};
}

}  // namespace

void find_weak_contacts(std::vector<ElectricalFound>& out, const Reading& reading,
                        const Account& account) {
  const Search search(reading, account);
  const std::vector<Run> runs = search.runs();
  ElectricalFound f;
  f.cause = Cause::floating_ground;
  f.limit = search.profile().limit;
  double worst = 1;
  std::size_t windows = 0;
  for (const Run& run : runs) {
    if (getenv("WEAK")) fprintf(stderr, "run %zu..%zu row %d col %d peak %.3f V %.3f W %.3f deep %.3f ratio %.3f judged %d limit %.2f\n", run.from, run.to, run.mean.row, run.mean.col, run.mean.peak, run.mean.volume, run.mean.width, run.mean.deepest, run.ratio, run.judged, f.limit);
    if (!run.judged || run.ratio > f.limit || run.mean.deepest > 0.4 * run.mean.peak) continue;
    if (!search.came(run)) continue;
    if (windows == 0) f.first_us = reading.window(run.from).first_us;
    f.last_us = reading.window(run.to - 1).last_us;
    f.value = std::max(f.value, run.mean.peak);
    const Box box = box_of(run.mean, reading.shape());
    f.box = f.has_box ? enclosing(f.box, box) : box;
    f.has_box = true;
    windows += run.to - run.from;
    worst = std::min(worst, run.ratio / f.limit);
  }
  if (windows == 0) return;
  f.score = std::clamp(0.7 + 0.8 * (1 - worst) + 0.03 * static_cast<double>(windows), 0.0, 0.97);
  out.push_back(f);
}

}  // namespace bareglass::host
