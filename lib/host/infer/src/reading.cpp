#include "reading.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace bareglass::host {

namespace {

// Lines fail downwards, so what a line should read is told by the better ones around it: this share
// of the lines within kAround reads less.
constexpr double kBetterShare = 0.62;
constexpr int kAround = 6;
constexpr std::size_t kSample = 401;
// Share of the nodes from which on a panel is blind: no fault of single lines takes so many.
constexpr float kNearlyAll = 0.9f;

std::vector<float> smoothed(const std::vector<float>& levels) {
  std::vector<float> out;
  // Lines that read next to nothing are broken and tell nothing of the others.
  const float least = 0.3f * quantile(levels, 0.9);
  const int n = static_cast<int>(levels.size());
  for (int k = 0; k < n; ++k) {
    std::vector<float> around;
    for (int reach = kAround; around.empty(); reach += kAround)
      for (int l = std::max(0, k - reach); l <= std::min(n - 1, k + reach); ++l)
        if (levels[static_cast<std::size_t>(l)] >= least)
          around.push_back(levels[static_cast<std::size_t>(l)]);
    out.push_back(quantile(std::move(around), kBetterShare));
  }
  return out;
}

/// The value that most of `ratios` lie near: the middle of the shortest run that holds a third of
/// them, then the median of what lies around it. A film over less than two thirds of the panel does
/// not move it, whichever way it goes.
float most_common(std::vector<float> ratios) {
  if (ratios.size() < 8) return quantile(std::move(ratios), 0.5);
  // Some hundred of them find the run; its middle is taken from all.
  std::vector<float> some;
  const std::size_t stride = (ratios.size() + kSample - 1) / kSample;
  for (std::size_t k = 0; k < ratios.size(); k += stride) some.push_back(ratios[k]);
  std::sort(some.begin(), some.end());
  // Open lines read nothing and have no say in what is common.
  const float least = 0.3f * some[some.size() * 9 / 10];
  some.erase(some.begin(), std::lower_bound(some.begin(), some.end(), least));
  const std::size_t run = std::max<std::size_t>(1, some.size() / 3);
  std::size_t best = 0;
  for (std::size_t k = 1; k + run < some.size(); ++k)
    if (some[k + run] - some[k] < some[best + run] - some[best]) best = k;
  // A third of a normal distribution lies within 0.43 standard deviations.
  const float middle = (some[best] + some[best + run]) / 2.f;
  const float reach = 3.f / 0.43f * (some[best + run] - some[best]) / 2.f + 1e-6f;
  ratios.erase(std::remove_if(ratios.begin(), ratios.end(),
                              [&](float v) { return std::abs(v - middle) > reach; }),
               ratios.end());
  return quantile(std::move(ratios), 0.5);
}

}  // namespace

float quantile(std::vector<float> values, double share) {
  if (values.empty()) return 0.f;
  const double at = share * static_cast<double>(values.size() - 1);
  const auto k = static_cast<std::ptrdiff_t>(std::lround(at));
  std::nth_element(values.begin(), values.begin() + k, values.end());
  return values[static_cast<std::size_t>(k)];
}

namespace {

constexpr std::size_t kBins = 12;
// Of the reference's own range of readings, 5th to 95th percentile, from which on an offset can be
// told from a gain at all.
constexpr float kLeastRange = 0.03f;

/// How far `y` grows with `x`: nodes in bins of `x`, the median of each bin, the median slope of
/// all pairs (Theil 1950, Sen 1968). `doubt`: median departure of the pairs from it. None if `x`
/// hardly varies.
std::optional<float> slope_of(const std::vector<float>& y, const std::vector<float>& x,
                              float& doubt) {
  const float low = quantile(x, 0.05);
  const float high = quantile(x, 0.95);
  if (x.size() < 8 * kBins || high - low < kLeastRange * high) return std::nullopt;
  std::vector<std::size_t> order(x.size());
  for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return x[a] < x[b]; });
  std::vector<float> of_x, of_y;
  for (std::size_t bin = 0; bin < kBins; ++bin) {
    std::vector<float> xs, ys;
    for (std::size_t k = bin * order.size() / kBins; k < (bin + 1) * order.size() / kBins; ++k) {
      xs.push_back(x[order[k]]);
      ys.push_back(y[order[k]]);
    }
    of_x.push_back(quantile(std::move(xs), 0.5));
    of_y.push_back(quantile(std::move(ys), 0.5));
  }
  std::vector<float> slopes;
  for (std::size_t i = 0; i < kBins; ++i)
    for (std::size_t j = i + 1; j < kBins; ++j)
      if (of_x[j] - of_x[i] > 0.3f * (high - low))
        slopes.push_back((of_y[j] - of_y[i]) / (of_x[j] - of_x[i]));
  if (slopes.empty()) return std::nullopt;
  const float slope = quantile(slopes, 0.5);
  for (float& v : slopes) v = std::abs(v - slope);
  doubt = quantile(std::move(slopes), 0.5);
  return slope;
}

/// Counts by which all nodes read more than the reference, if an offset does it and no gain. A gain
/// leaves the ratio of the readings to the reference the same whatever a node reads, an offset
/// their difference; the slope between them tells which. Both are noisy, and what scatters nodes
/// along an axis flattens the slope, so the truth lies between the slopes that either axis gives.
float common_offset(const std::vector<float>& base, const std::vector<float>& mean) {
  float doubt = 0.f;
  float doubt_across = 0.f;
  const std::optional<float> along = slope_of(mean, base, doubt);
  const std::optional<float> across = slope_of(base, mean, doubt_across);
  if (!along || !across || *across <= 0.f) return 0.f;
  const float least = std::min(*along, 1.f / *across) - doubt;
  const float most = std::max(*along, 1.f / *across) + doubt;
  std::vector<float> differences, ratios;
  for (std::size_t k = 0; k < base.size(); ++k) {
    differences.push_back(mean[k] - base[k]);
    ratios.push_back(mean[k] / std::max(1.f, base[k]));
  }
  const float gain = quantile(std::move(ratios), 0.5);
  if (least <= gain && gain <= most) return 0.f;
  return least <= 1.f && 1.f <= most ? quantile(std::move(differences), 0.5) : 0.f;
}

// What has lost its charge reads the same all along, within this share of what lines vary by: an
// open line keeps 0.2 % of it, the floating stretch of a cut one 13 % at most (field solutions).
constexpr float kConstant = 0.25f;
constexpr std::size_t kLeastDead = 3;
// No cover takes more than this from a node, fingers (1.5 in drawn cases).
constexpr float kMostFingers = 2.f;
// Against a reference nothing but a line loses so much; without one, lines at the far end of a
// large panel settle less and read less (chosen).
constexpr float kFarFromReference = 0.3f;
constexpr float kFarFromBare = 0.5f;
constexpr std::size_t kFewLines = 6;  // of which one may be broken without being how the panel is
// A finger takes no more of a bare reading, through the thinnest glass (field solutions: 0.19 of
// full cover through 0.7 mm).
constexpr float kMostFingerShare = 0.25f;

float range_of(const std::vector<float>& values) {
  return quantile(values, 0.9) - quantile(values, 0.1);
}

/// What a node without charge reads. The dump does not say it: an open or cut line does. Without
/// one it is nought where counts fall as charge is lost. Where they rise a bare panel is taken to
/// stand in the middle of the range it uses, as near to no charge as to nought, unless that leaves
/// a finger more of it than one can take.
float empty_reading(const Survey& survey, const Settings& settings) {
  const bool known = !survey.reference.empty();
  const std::vector<float> bare(
      known ? std::vector<float>(survey.reference.begin(), survey.reference.end())
            : survey.windows.front().mean);
  const float level = quantile(bare, 0.5);
  const float away = settings.counts_rise ? 1.f : -1.f;  // of counts, as charge is lost
  const auto finger = static_cast<float>(settings.finger_counts);
  const int rows = survey.shape.rows;
  const int cols = survey.shape.cols;
  const auto bare_at = [&](std::size_t node) { return known ? bare[node] : level; };
  const auto far = [&](float from) {
    return std::max(kMostFingers * finger, (known ? kFarFromReference : kFarFromBare) * from);
  };
  std::vector<float> empties;
  for (const SurveyWindow& w : survey.windows)
    for (const bool of_rows : {true, false}) {
      std::vector<float> ranges;
      std::vector<std::vector<float>> dead;
      for (int l = 0; l < (of_rows ? rows : cols); ++l) {
        std::vector<float> living, gone;
        for (int i = 0; i < (of_rows ? cols : rows); ++i) {
          const auto node = static_cast<std::size_t>(of_rows ? l * cols + i : i * cols + l);
          const float v = w.mean[node];
          (away * (v - bare_at(node)) > far(bare_at(node)) ? gone : living).push_back(v);
        }
        if (living.size() >= kLeastDead) ranges.push_back(range_of(living));
        if (gone.size() >= kLeastDead) dead.push_back(std::move(gone));
      }
      if (!known && kFewLines * dead.size() > static_cast<std::size_t>(of_rows ? rows : cols))
        continue;
      const float usual = quantile(std::move(ranges), 0.5);
      for (const std::vector<float>& line : dead)
        if (range_of(line) < kConstant * usual)
          empties.push_back(quantile(line, settings.counts_rise ? 0.9 : 0.1));
    }
  if (!empties.empty())
    return std::max(0.f, quantile(std::move(empties), settings.counts_rise ? 0.9 : 0.1));
  if (!settings.counts_rise) return 0.f;
  const auto high = static_cast<float>(settings.raw_high);
  const bool fits = 2.f * level <= high && finger < kMostFingerShare * level;
  return fits ? 2.f * level : high;
}

}  // namespace

Reading::Reading(const Account& account)
    : survey_(account.survey),
      has_reference_(!account.survey.reference.empty()),
      base_(account.survey.reference.begin(), account.survey.reference.end()) {
  const auto nodes = static_cast<std::size_t>(survey_.shape.nodes());
  masked_.assign(nodes, 0);
  mended_.assign(nodes, 0);
  leave_out_blind(account.settings);
  if (empty()) return;
  // From here on a reading is charge, whichever way the converter counts.
  if (account.kind != DumpKind::differences_only)
    count_charge(empty_reading(survey_, account.settings), account.settings.counts_rise);
  else
    rises_ = account.settings.counts_rise;
  make_base();
  if (has_reference_ && account.kind != DumpKind::differences_only) {
    std::vector<float> offsets;
    for (const SurveyWindow& w : survey_.windows) offsets.push_back(common_offset(base_, w.mean));
    const float offset = quantile(std::move(offsets), 0.5);
    for (SurveyWindow& w : survey_.windows)
      for (float& v : w.mean) v -= offset;
  }
  std::vector<float> noises;
  for (std::size_t k = 0; k < windows(); ++k) {
    // Without a reference the first window is the better yardstick: manufacture is in both.
    const bool first = k == 0 || has_reference_;
    const std::vector<float>& yardstick = first ? base_ : window(0).mean;
    std::vector<float> ratios;
    for (std::size_t i = 0; i < nodes; ++i)
      if (yardstick[i] >= 1.f) ratios.push_back(window(k).mean[i] / yardstick[i]);
    gain_.push_back(std::max(1e-3f, (first ? 1.f : gain_[0]) * most_common(std::move(ratios))));
    noises.push_back(quantile(window(k).noise, 0.5));
  }
  noise_ = std::max(0.3f, quantile(std::move(noises), 0.5));
  std::vector<float> sizes = departure(0);
  for (float& d : sizes) d = std::abs(d);
  spread_ = 1.48f * quantile(std::move(sizes), 0.5);
}

void Reading::leave_out_blind(const Settings& settings) {
  // Noise that is cut off at the end of the range keeps the mean off it.
  const float margin = static_cast<float>(settings.finger_counts) / 10.f;
  const float low = static_cast<float>(settings.raw_low) + margin;
  const float high = static_cast<float>(settings.raw_high) - margin;
  std::vector<SurveyWindow>& all = survey_.windows;
  for (SurveyWindow& w : survey_.spoiled) {
    w.spoiled = true;
    all.push_back(std::move(w));
  }
  survey_.spoiled.clear();
  std::stable_sort(all.begin(), all.end(), [](const SurveyWindow& a, const SurveyWindow& b) {
    return a.first_us < b.first_us;
  });
  std::vector<char> left_out(all.size(), 0);
  for (std::size_t k = 0; k < all.size(); ++k) {
    const std::vector<float>& mean = all[k].mean;
    const auto share = [&](auto at_the_end) {
      return static_cast<float>(std::count_if(mean.begin(), mean.end(), at_the_end)) /
             static_cast<float>(mean.size());
    };
    const bool is_high = share([&](float v) { return v >= high; }) >= kNearlyAll;
    if (!is_high && share([&](float v) { return v <= low; }) < kNearlyAll) {
      blind_.ended = blind_.windows != 0;
      continue;
    }
    if (blind_.windows++ == 0) {
      blind_.first_us = all[k].first_us;
      blind_.high = is_high;
    }
    blind_.ended = false;
    blind_.last_us = all[k].last_us;
    for (std::size_t l = k == 0 ? 0 : k - 1; l < std::min(k + 2, all.size()); ++l) left_out[l] = 1;
  }
  // Where nothing else was read, spoiled frames still say which lines spoil them.
  bool any = false;
  for (std::size_t k = 0; k < all.size(); ++k) any |= !left_out[k] && !all[k].spoiled;
  std::size_t kept = 0;
  for (std::size_t k = 0; k < all.size(); ++k) {
    if (left_out[k] || (any && all[k].spoiled)) continue;
    if (kept != k) all[kept] = std::move(all[k]);
    ++kept;
  }
  all.resize(kept);
}

void Reading::count_charge(float empty, bool rises) {
  const auto charge = [&](float v) { return rises ? empty - v : v - empty; };
  for (SurveyWindow& w : survey_.windows)
    for (float& v : w.mean) v = charge(v);
  for (float& v : base_) v = charge(v);
}

void Reading::make_base() {
  if (has_reference_) return;
  const std::vector<float>& mean = survey_.windows.front().mean;
  const int rows = survey_.shape.rows;
  const int cols = survey_.shape.cols;
  std::vector<float> of_rows;
  std::vector<float> of_columns;
  for (int r = 0; r < rows; ++r) {
    const auto line = mean.begin() + static_cast<std::ptrdiff_t>(r) * cols;
    of_rows.push_back(quantile({line, line + cols}, 0.5));
  }
  for (int c = 0; c < cols; ++c) {
    std::vector<float> line;
    for (int r = 0; r < rows; ++r) line.push_back(mean[node_at(r, c)]);
    of_columns.push_back(quantile(std::move(line), 0.5));
  }
  of_rows = smoothed(of_rows);
  of_columns = smoothed(of_columns);
  const float grand = std::max(1.f, quantile(of_columns, kBetterShare));
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < cols; ++c)
      base_.push_back(of_rows[static_cast<std::size_t>(r)] *
                      of_columns[static_cast<std::size_t>(c)] / grand);
}

std::vector<float> Reading::departure(std::size_t k) const {
  std::vector<float> out(base_.size());
  const float sign = rises_ ? -1.f : 1.f;
  for (std::size_t i = 0; i < out.size(); ++i)
    out[i] = masked_[i] ? 0.f : sign * (base_[i] - window(k).mean[i] / gain_[k]);
  return out;
}

std::vector<float> Reading::change(std::size_t from, std::size_t to) const {
  std::vector<float> out(base_.size());
  const float sign = rises_ ? -1.f : 1.f;
  for (std::size_t i = 0; i < out.size(); ++i)
    out[i] = masked_[i]
                 ? 0.f
                 : sign * (window(from).mean[i] / gain_[from] - window(to).mean[i] / gain_[to]);
  return out;
}

}  // namespace bareglass::host
