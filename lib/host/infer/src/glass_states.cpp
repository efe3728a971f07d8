#include "glass_states.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "bareglass/infer/kernel_bank.hpp"

namespace bareglass::host {

namespace {

// Noise moves the second most of some hundred nodes further than this once in some ten thousand
// windows.
constexpr float kStoodStill = 4.5f;
constexpr float kLeastChange = 0.006f;  ///< of a finger: what is smaller changes no answer
constexpr std::size_t kLeastWindows = 2;

/// Noise of a node in one frame. A column that is disturbed is not still for that.
float frame_noise(const Reading& reading, std::size_t window, std::size_t node) {
  return std::max(reading.window(window).noise[node], 0.5f * reading.noise());
}

struct Growing {
  std::size_t from = 0, until = 0;
  double frames = 0;
  std::vector<double> sum;

  void start(std::size_t k, std::size_t nodes) {
    from = until = k;
    frames = 0;
    sum.assign(nodes, 0.0);
  }
  void add(const Reading& reading, std::size_t k) {
    const SurveyWindow& w = reading.window(k);
    const double n = std::max(1, w.frames);
    for (std::size_t i = 0; i < sum.size(); ++i)
      sum[i] += n * static_cast<double>(w.mean[i] / reading.gain(k));
    frames += n;
    until = k + 1;
  }
};

bool is_still(const Growing& state, const Reading& reading, std::size_t k, float least) {
  const SurveyWindow& w = reading.window(k);
  const double n = std::max(1, w.frames);
  float most = 0.f;
  float second = 0.f;
  for (std::size_t i = 0; i < state.sum.size(); ++i) {
    if (reading.masked(i)) continue;
    const auto change = static_cast<float>(
        std::abs(static_cast<double>(w.mean[i] / reading.gain(k)) - state.sum[i] / state.frames));
    if (change < least) continue;
    const auto doubt =
        static_cast<float>(std::sqrt(1.0 / n + 1.0 / state.frames)) * frame_noise(reading, k, i);
    const float z = change / doubt;
    if (z > most) {
      second = most;
      most = z;
    } else {
      second = std::max(second, z);
    }
  }
  return second < kStoodStill;
}

GlassState finish(const Growing& g, const Reading& reading, std::size_t run) {
  GlassState s;
  s.from = g.from;
  s.until = g.until;
  s.run = run;
  s.frames = g.frames;
  s.mean.resize(g.sum.size());
  s.noise.resize(g.sum.size());
  for (std::size_t i = 0; i < g.sum.size(); ++i) {
    s.mean[i] = static_cast<float>(g.sum[i] / g.frames);
    double square = 0;
    for (std::size_t k = g.from; k < g.until; ++k)
      square += std::pow(static_cast<double>(frame_noise(reading, k, i)), 2);
    s.noise[i] = static_cast<float>(
        std::sqrt(square / static_cast<double>(g.until - g.from) / std::max(1.0, g.frames)));
  }
  double gain = 0;
  for (std::size_t k = g.from; k < g.until; ++k)
    gain += static_cast<double>(reading.gain(k)) / static_cast<double>(g.until - g.from);
  s.gain_shift = gain - 1.0;
  return s;
}

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

/// Median of a line of the map; 0 of a masked one.
float line_median(const infer::Departure& map, const Reading& reading, bool of_rows, int line) {
  std::vector<float> values;
  const auto count = static_cast<int>(of_rows ? map.value.cols() : map.value.rows());
  for (int k = 0; k < count; ++k) {
    const int r = of_rows ? line : k;
    const int c = of_rows ? k : line;
    if (!reading.masked(reading.node_at(r, c))) values.push_back(map.value(r, c));
  }
  return values.empty() ? 0.f : median_of(std::move(values));
}

/// The outermost lines of a panel have half of their surroundings missing and read lower, both ends
/// by about the same part. Without a reference what both ends share is the panel's own.
void take_borders_off(infer::Departure& map, const Reading& reading) {
  for (const bool of_rows : {true, false}) {
    const auto last = static_cast<int>((of_rows ? map.value.rows() : map.value.cols()) - 1);
    const float first_end = line_median(map, reading, of_rows, 0);
    const float other_end = line_median(map, reading, of_rows, last);
    if (first_end * other_end <= 0.f) continue;
    const float shared = std::abs(first_end) < std::abs(other_end) ? first_end : other_end;
    for (const int line : {0, last})
      if (of_rows)
        map.value.row(line).array() -= shared;
      else
        map.value.col(line).array() -= shared;
  }
}

constexpr double kBend_ff =
    30.0;  // the same of a panel without a reference: its lines' own resistance
constexpr double kSlope_ff = 2.5;  // what a slope may be at the border, standard deviation
constexpr int kSlopeRounds = 6;
constexpr int kSlopeTerms = 6;

/// Takes off a surface of second order that most nodes agree on: weighted least squares in which
/// what departs further than the rest counts less (Huber), and no surface is as likely as a large
/// one.
void take_slope_off(infer::Departure& map, const Reading& reading, double prior_ff) {
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
        Eigen::Matrix<double, kSlopeTerms, kSlopeTerms>::Identity() / (prior_ff * prior_ff);
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

}  // namespace

std::vector<GlassState> glass_states(const Reading& reading, const Account& account) {
  std::vector<GlassState> out;
  const auto nodes = static_cast<std::size_t>(reading.shape().nodes());
  const float least = kLeastChange * static_cast<float>(account.settings.finger_counts);
  Growing growing;
  bool open = false;
  bool first_of_run = true;
  std::size_t run = 0;
  const auto close = [&] {
    if (!open) return;
    if (growing.until - growing.from >= kLeastWindows || first_of_run)
      out.push_back(finish(growing, reading, run));
    first_of_run = false;
    open = false;
  };
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    const std::size_t of = run_of(account, reading.window(k).first_us);
    if (of != run) {
      close();
      run = of;
      first_of_run = true;
    }
    if (open && !is_still(growing, reading, k, least)) close();
    if (!open) {
      growing.start(k, nodes);
      open = true;
    }
    growing.add(reading, k);
  }
  close();
  return out;
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

infer::Departure departure_of(const GlassState& state, const GlassState* bare,
                              const Reading& reading, const PanelScale& scale) {
  const Shape shape = reading.shape();
  infer::Departure out;
  out.value = infer::NodeMap::Zero(shape.rows, shape.cols);
  out.noise =
      infer::NodeMap::Constant(shape.rows, shape.cols, std::numeric_limits<float>::infinity());
  const auto by = static_cast<float>(scale.ff_per_count);
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      const std::size_t i = reading.node_at(r, c);
      if (reading.masked(i)) continue;
      const float from = bare != nullptr ? bare->mean[i] : reading.base()[i];
      out.value(r, c) = reading.change_sign() * (from - state.mean[i]) * by;
    }
  // Of normal noise the median of such departures is 0.58 standard deviations (computed).
  // A reference taken at another temperature leaves a gentle slope over large panels.
  if (bare != nullptr || reading.has_reference()) {
    take_slope_off(out, reading, kSlope_ff);
  } else {
    take_borders_off(out, reading);
    take_slope_off(out, reading, kBend_ff);
  }
  float uneven = 1.73f * median_of(roughness(out.value, reading));
  // A smooth panel bends in more ways than were taken off: what is left of that is no thing.
  if (bare == nullptr && !reading.has_reference()) {
    std::vector<float> sizes;
    for (int r = 0; r < shape.rows; ++r)
      for (int c = 0; c < shape.cols; ++c)
        if (!reading.masked(reading.node_at(r, c))) sizes.push_back(std::abs(out.value(r, c)));
    uneven = std::max(uneven, 1.48f * median_of(std::move(sizes)));
  }
  const double shift = bare != nullptr ? state.gain_shift - bare->gain_shift : state.gain_shift;
  const auto common = static_cast<float>(0.015 * std::abs(shift) * scale.kernels->numbers.node);
  constexpr float kFloor = 0.35f;  // fF
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      const std::size_t i = reading.node_at(r, c);
      if (reading.masked(i)) continue;
      const float own = by * state.noise[i];
      const float of_bare = bare != nullptr ? by * bare->noise[i] : 0.f;
      out.noise(r, c) = std::sqrt(own * own + of_bare * of_bare + uneven * uneven +
                                  common * common + kFloor * kFloor);
    }
  return out;
}

}  // namespace bareglass::host
