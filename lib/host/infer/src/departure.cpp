#include "departure.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "bareglass/infer/kernel_bank.hpp"
#include "smooth_panel.hpp"

namespace bareglass::host {

namespace {

float median_of(std::vector<float> values) { return quantile(std::move(values), 0.5); }

/// Each node's departure from the median of the 3 x 3 nodes around it.
std::vector<float> roughness(const infer::NodeMap& d, const Reading& reading) {
  std::vector<float> out;
  const auto rows = static_cast<int>(d.rows());
  const auto cols = static_cast<int>(d.cols());
  std::vector<float> around;
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < cols; ++c) {
      if (reading.masked(reading.node_at(r, c))) continue;
      around.clear();
      for (int y = std::max(0, r - 1); y <= std::min(rows - 1, r + 1); ++y)
        for (int x = std::max(0, c - 1); x <= std::min(cols - 1, c + 1); ++x)
          if (!reading.masked(reading.node_at(y, x))) around.push_back(d(y, x));
      out.push_back(std::abs(d(r, c) - median_of(around)));
    }
  return out;
}

constexpr double kSlope_ff = 2.5;  // what a slope may be at the border, standard deviation
constexpr int kSlopeRounds = 6;
constexpr int kSlopeTerms = 6;

/// Takes off a surface of second order that most nodes agree on: weighted least squares in which
/// what departs further than the rest counts less (Huber), and no surface is as likely as a large
/// one.
void take_slope_off(infer::Departure& map, const Reading& reading) {
  const auto rows = static_cast<int>(map.value.rows());
  const auto cols = static_cast<int>(map.value.cols());
  using Terms = Eigen::Matrix<double, kSlopeTerms, 1>;
  const auto terms = [&](int r, int c) {
    const double x = cols > 1 ? 2.0 * c / (cols - 1) - 1.0 : 0.0;
    const double y = rows > 1 ? 2.0 * r / (rows - 1) - 1.0 : 0.0;
    return (Terms() << 1.0, x, y, x * x - 1.0 / 3, y * y - 1.0 / 3, x * y).finished();
  };
  std::vector<float> sizes;
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < cols; ++c)
      if (!reading.masked(reading.node_at(r, c))) sizes.push_back(std::abs(map.value(r, c)));
  if (sizes.size() < 8 * kSlopeTerms) return;
  const double scale = std::max(0.3, 1.48 * static_cast<double>(median_of(std::move(sizes))));
  Terms fitted = Terms::Zero();
  for (int round = 0; round < kSlopeRounds; ++round) {
    Eigen::Matrix<double, kSlopeTerms, kSlopeTerms> square =
        Eigen::Matrix<double, kSlopeTerms, kSlopeTerms>::Identity() / (kSlope_ff * kSlope_ff);
    Terms along = Terms::Zero();
    for (int r = 0; r < rows; ++r)
      for (int c = 0; c < cols; ++c) {
        if (reading.masked(reading.node_at(r, c))) continue;
        const Terms t = terms(r, c);
        const auto v = static_cast<double>(map.value(r, c));
        const double off = std::abs(v - t.dot(fitted)) / scale;
        // Beyond three standard deviations a node says nothing of a slope: a thing lies there.
        const double weight = off > 3.0 ? 0.0 : off > 1.0 ? 1.0 / off : 1.0;
        square += weight / (scale * scale) * t * t.transpose();
        along += weight / (scale * scale) * v * t;
      }
    fitted = square.ldlt().solve(along);
  }
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < cols; ++c)
      if (!reading.masked(reading.node_at(r, c)))
        map.value(r, c) -= static_cast<float>(terms(r, c).dot(fitted));
}

// A row is off by more than this many standard deviations of its swing once in some thousand maps.
constexpr float kMostSwing_sigma = 4.f;

/// Takes off what each row as a whole departs by, as far as supply and display may have swung it.
void take_swing_off(infer::Departure& map, const Reading& reading, float sigma) {
  for (int r = 0; r < static_cast<int>(map.value.rows()); ++r) {
    std::vector<float> row;
    for (int c = 0; c < static_cast<int>(map.value.cols()); ++c)
      if (!reading.masked(reading.node_at(r, c))) row.push_back(map.value(r, c));
    if (row.size() < 4) continue;
    const float off = median_of(std::move(row));
    if (std::abs(off) > kMostSwing_sigma * sigma) continue;
    for (int c = 0; c < static_cast<int>(map.value.cols()); ++c)
      if (!reading.masked(reading.node_at(r, c))) map.value(r, c) -= off;
  }
}

// Of normal noise the median departure from 3 x 3 medians is 0.58 standard deviations (computed).
constexpr float kFromRoughness = 1.73f;
// Of a change of level that all nodes share this part is not shared: nodes' gains spread by a per
// cent or two (common practice, no source).
constexpr double kUnshared = 0.015;
// What no average gets rid of: amplifiers, rounding (a third of a femtofarad is 0.2 % of a finger
// through 1.1 mm of glass; chosen).
constexpr float kFloor_ff = 0.35f;
// A smooth panel has a number for each line: with fewer nodes it fits itself to whatever is there.
constexpr std::ptrdiff_t kNodesPerLine = 3;

}  // namespace

Bare bare_by_reference(const Reading& reading) {
  Bare b;
  b.by = BareBy::reference;
  b.level = reading.base();
  return b;
}

Bare bare_by_state(const GlassState& state) {
  Bare b;
  b.by = BareBy::state;
  b.level = state.mean;
  b.noise = state.noise;
  b.swing = state.swing;
  b.gain_shift = state.gain_shift;
  return b;
}

std::optional<Bare> bare_by_smoothness(const GlassState& state, const Reading& reading) {
  std::vector<char> masked(state.mean.size());
  for (std::size_t i = 0; i < masked.size(); ++i) masked[i] = reading.masked(i);
  const auto lines = static_cast<std::ptrdiff_t>(reading.shape().rows + reading.shape().cols);
  if (std::count(masked.begin(), masked.end(), 0) < kNodesPerLine * lines) return std::nullopt;
  Bare b;
  b.by = BareBy::smoothness;
  double freedom = 0;
  b.level = smooth_panel(b.spread, freedom, state.mean, masked, reading.shape());
  b.gain_shift = state.gain_shift;
  return b;
}

PanelScale panel_scale(const Reading& reading, const Account& account) {
  PanelScale s;
  s.pitch_x = account.settings.pitch_col_um / 1000.0;
  s.pitch_y = account.settings.pitch_row_um / 1000.0;
  // Differences tell no bare reading: a finger is what it is through the usual glass.
  const bool has_level = account.kind != DumpKind::differences_only;
  const double finger = std::max<int>(1, account.settings.finger_counts);
  const double level = has_level ? std::max(1.0, static_cast<double>(quantile(reading.base(), 0.5)))
                                 : finger / kUsualFingerShare;
  const double share = std::clamp(finger / level, 0.02, 0.3);
  s.kernels = &infer::kernels_for(share, std::sqrt(s.pitch_x * s.pitch_y));
  const double grown =
      std::sqrt(s.pitch_x * s.pitch_y / (s.kernels->column_pitch_mm * s.kernels->row_pitch_mm));
  s.ff_per_count = s.kernels->numbers.node * grown / level;
  s.full_counts = s.kernels->numbers.full_loss * grown / s.ff_per_count;
  return s;
}

infer::Departure departure_of(const GlassState& state, const Bare& bare, const Reading& reading,
                              const PanelScale& scale) {
  const Shape shape = reading.shape();
  infer::Departure out;
  out.value = infer::NodeMap::Zero(shape.rows, shape.cols);
  out.noise =
      infer::NodeMap::Constant(shape.rows, shape.cols, std::numeric_limits<float>::infinity());
  const auto by = static_cast<float>(scale.ff_per_count);
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      const std::size_t i = reading.node_at(r, c);
      if (!reading.masked(i))
        out.value(r, c) = reading.change_sign() * (bare.level[i] - state.mean[i]) * by;
    }
  // A reference taken at another temperature leaves a gentle slope over large panels.
  if (!bare.is_level && bare.by != BareBy::smoothness) take_slope_off(out, reading);
  take_swing_off(out, reading, by * static_cast<float>(std::hypot(state.swing, bare.swing)));
  const float uneven = bare.by == BareBy::smoothness
                           ? by * static_cast<float>(bare.spread)
                           : kFromRoughness * median_of(roughness(out.value, reading));
  const auto common = static_cast<float>(kUnshared * std::abs(state.gain_shift - bare.gain_shift) *
                                         scale.kernels->numbers.node);
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      const std::size_t i = reading.node_at(r, c);
      if (reading.masked(i)) continue;
      const float own = by * state.noise[i];
      const float of_bare = bare.noise.empty() ? 0.f : by * bare.noise[i];
      out.noise(r, c) = std::sqrt(own * own + of_bare * of_bare + uneven * uneven +
                                  common * common + kFloor_ff * kFloor_ff);
    }
  return out;
}

}  // namespace bareglass::host
