#include "bareglass/observe/survey_taker.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::host {

namespace {

// Pairs of quarters of a row whose covariance is taken.
constexpr int kPairs = 6;
constexpr int kPair[kPairs][2] = {{0, 1}, {0, 2}, {0, 3}, {1, 2}, {1, 3}, {2, 3}};

// A front end that settles lifts all rows together from scan to scan. It takes some 2 to 15 ms
// (common practice, no source), which is a few scans; what goes on for longer is something else.
constexpr float kSettled = 0.0007f;  // share of the reading, from one scan to the next
constexpr int kMostUnsettled = 8;

// A faint step of a line: ten times what the typical line does from frame to frame, which noise
// does once in 10^11 (6.7 standard deviations), and one per cent, below which nothing of it would
// matter.
constexpr float kOverTypical = 10.f;
constexpr float kLeastStep = 0.01f;
constexpr int kFewFrames = 8;         // until it is known what the typical line does
constexpr std::size_t kFewLines = 6;  // there is no typical one among fewer

}  // namespace

void SurveyTaker::begin(Shape shape, std::uint32_t frame_period_us) {
  survey_.shape = shape;
  const auto nodes = static_cast<std::size_t>(shape.nodes());
  const double period_s = std::max(1u, frame_period_us) * 1e-6;
  may_settle_ = kMostUnsettled;
  window_frames_ = std::clamp(static_cast<int>(std::lround(Survey::kWindow_s / period_s)), 6, 32);
  sum_.assign(nodes, 0.f);
  squares_.assign(nodes, 0.f);
  before_.assign(nodes, 0.f);
  survey_.rows.assign(static_cast<std::size_t>(shape.rows), {});
  survey_.columns.assign(static_cast<std::size_t>(shape.cols), {});
  const auto rows = static_cast<std::size_t>(shape.rows) * kQuarters;
  const auto columns = static_cast<std::size_t>(shape.cols) * kQuarters;
  for (Levels* l : {&rows_now_, &rows_before_}) l->quarter.assign(rows, 0.f);
  for (Levels* l : {&columns_now_, &columns_before_}) l->quarter.assign(columns, 0.f);
  swing_.assign(static_cast<std::size_t>(shape.rows) * kPairs, 0.0);
  drift_.assign(rows, 0.0);
}

void SurveyTaker::levels(Levels& rows, Levels& columns, const std::uint16_t* raw) const {
  const Shape shape = survey_.shape;
  std::fill(columns.quarter.begin(), columns.quarter.end(), 0.f);
  const auto cols = static_cast<std::size_t>(shape.cols);
  for (int q = 0; q < kQuarters; ++q) {
    const int row0 = (q * shape.rows + kQuarters - 1) / kQuarters;
    const int row1 = ((q + 1) * shape.rows + kQuarters - 1) / kQuarters;
    for (int r = row0; r < row1; ++r) {
      const std::uint16_t* line = raw + static_cast<std::size_t>(r) * cols;
      float* into = columns.quarter.data() + static_cast<std::size_t>(q) * cols;
      for (std::size_t c = 0; c < cols; ++c) into[c] += static_cast<float>(line[c]);
    }
    const auto share = 1.f / static_cast<float>(std::max(1, row1 - row0));
    for (std::size_t c = 0; c < cols; ++c)
      columns.quarter[static_cast<std::size_t>(q) * cols + c] *= share;
  }
  for (int r = 0; r < shape.rows; ++r) {
    const std::uint16_t* line = raw + static_cast<std::size_t>(r) * cols;
    for (int q = 0; q < kQuarters; ++q) {
      const int c0 = (q * shape.cols + kQuarters - 1) / kQuarters;
      const int c1 = ((q + 1) * shape.cols + kQuarters - 1) / kQuarters;
      std::uint32_t sum = 0;
      for (int c = c0; c < c1; ++c) sum += line[c];
      rows.quarter[static_cast<std::size_t>(q * shape.rows + r)] =
          static_cast<float>(sum) / static_cast<float>(std::max(1, c1 - c0));
    }
  }
}

// Relative step that the typical line makes: supply and power, not the line itself.
float SurveyTaker::typical_step(const Levels& now, const Levels& before) {
  std::vector<float> all;
  for (std::size_t k = 0; k < now.quarter.size(); ++k)
    if (before.quarter[k] > 0.f) all.push_back(now.quarter[k] / before.quarter[k]);
  if (all.empty()) return 1.f;
  const auto middle = all.begin() + static_cast<std::ptrdiff_t>(all.size() / 2);
  std::nth_element(all.begin(), middle, all.end());
  return *middle;
}

// Whether some line may have stepped: all its quarters moved by nearly the share that counts,
// against what the whole panel did. Most frames end here.
bool SurveyTaker::may_have_stepped(const Levels& now, const Levels& before, std::size_t lines) {
  float sum_now = 0.f;
  float sum_before = 0.f;
  for (std::size_t i = 0; i < now.quarter.size(); ++i) {
    sum_now += now.quarter[i];
    sum_before += before.quarter[i];
  }
  const float gain = sum_before > 0.f ? sum_now / sum_before : 1.f;
  // The sum holds the line that stepped, too: of few lines that is a tenth and more.
  if (std::abs(gain - 1.f) > Survey::kStepShare / 8.f) return true;
  constexpr float kNearly = Survey::kStepShare / 2.f;
  for (std::size_t k = 0; k < lines; ++k) {
    float least = 1.f;
    for (std::size_t q = 0; q < kQuarters; ++q) {
      const std::size_t at = q * lines + k;
      const float larger = std::max(now.quarter[at], before.quarter[at]) + 1.f;
      least = std::min(least, std::abs(now.quarter[at] - before.quarter[at]) / larger);
    }
    if (least > kNearly) return true;
  }
  return false;
}

void SurveyTaker::count_steps(std::vector<LineSteps>& steps, const Levels& now,
                              const Levels& before, std::uint64_t t_us) {
  const std::size_t lines = steps.size();
  if (!may_have_stepped(now, before, lines)) return;
  float level = 0.f;
  for (const float v : before.quarter) level = std::max(level, v);
  const float gain = typical_step(now, before);
  for (std::size_t k = 0; k < lines; ++k) {
    bool down = true;
    bool up = true;
    for (std::size_t q = 0; q < kQuarters; ++q) {
      const std::size_t at = q * lines + k;
      const float scale = std::max({before.quarter[at], now.quarter[at], level / 4});
      const float step = (now.quarter[at] - gain * before.quarter[at]) / scale;
      down = down && step < -Survey::kStepShare;
      up = up && step > Survey::kStepShare;
    }
    if (!down && !up) continue;
    LineSteps& s = steps[k];
    if (s.down + s.up + s.faintly_down + s.faintly_up == 0) s.first_us = t_us;
    s.last_us = t_us;
    s.down += down;
    s.up += up;
  }
}

// A contact that comes and goes without opening wholly. Rows swing together in themselves, so that
// a step has to stand out of what all lines of its kind do in this frame.
void SurveyTaker::count_faint_steps(std::vector<LineSteps>& steps, Restlessness& typical,
                                    const Levels& now, const Levels& before, std::uint64_t t_us) {
  const std::size_t lines = steps.size();
  if (lines < kFewLines) return;
  // Against the panel's level where a line's own is lower: of an open line noise is all there is.
  float level = 1.f;
  for (const float v : before.quarter) level += v / static_cast<float>(before.quarter.size());
  const auto of_quarter = [&](std::size_t q, std::size_t k) {
    const std::size_t at = q * lines + k;
    return (now.quarter[at] - before.quarter[at]) / std::max(level, before.quarter[at]);
  };
  line_steps_.assign(lines, 0.f);
  for (std::size_t q = 0; q < kQuarters; ++q)
    for (std::size_t k = 0; k < lines; ++k) line_steps_[k] += of_quarter(q, k) / kQuarters;
  line_sizes_ = line_steps_;
  const auto middle = line_sizes_.begin() + static_cast<std::ptrdiff_t>(lines / 2);
  std::nth_element(line_sizes_.begin(), middle, line_sizes_.end());
  const float all = *middle;  // supply and power
  for (std::size_t k = 0; k < lines; ++k)
    line_sizes_[k] = std::abs(line_steps_[k] = line_steps_[k] - all);
  std::nth_element(line_sizes_.begin(), middle, line_sizes_.end());
  typical.sum += *middle;
  if (++typical.frames < kFewFrames) return;
  // The middle one of a few rows is small by chance now and then: its mean is not.
  const float usual = typical.sum / static_cast<float>(typical.frames);
  const float least = std::max(kLeastStep, kOverTypical * std::max(*middle, usual));
  for (std::size_t k = 0; k < lines; ++k) {
    const float step = line_steps_[k];
    if (std::abs(step) < least) continue;
    const auto stands_still = [&](std::size_t beside) {
      return std::abs(line_steps_[beside]) < std::abs(step) / 3.f;
    };
    if ((k > 0 && !stands_still(k - 1)) || (k + 1 < lines && !stands_still(k + 1))) continue;
    bool all_along = true;
    for (std::size_t q = 0; q < kQuarters; ++q)
      all_along = all_along && (of_quarter(q, k) - all) / step > 0.5f;
    if (!all_along) continue;
    LineSteps& s = steps[k];
    if (s.down + s.up + s.faintly_down + s.faintly_up == 0) s.first_us = t_us;
    s.last_us = t_us;
    ++(step < 0.f ? s.faintly_down : s.faintly_up);
  }
}

void SurveyTaker::swing() {
  const auto rows = static_cast<std::size_t>(survey_.shape.rows);
  for (std::size_t r = 0; r < rows; ++r) {
    float d[kQuarters];
    for (std::size_t q = 0; q < kQuarters; ++q) {
      d[q] = rows_now_.quarter[q * rows + r] - rows_before_.quarter[q * rows + r];
      drift_[r * kQuarters + q] += static_cast<double>(d[q]);
    }
    for (std::size_t p = 0; p < kPairs; ++p)
      swing_[r * kPairs + p] += static_cast<double>(d[kPair[p][0]] * d[kPair[p][1]]);
  }
}

/// Whether the front end still settles, told from rows_now_ and the frame before.
bool SurveyTaker::is_settling() {
  if (may_settle_ == 0) return false;
  if (saw_settling_) {
    std::vector<float> steps;
    for (std::size_t k = 0; k < rows_now_.quarter.size(); ++k)
      steps.push_back((rows_now_.quarter[k] - rows_before_.quarter[k]) /
                      std::max(1.f, rows_before_.quarter[k]));
    const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
    std::nth_element(steps.begin(), middle, steps.end());
    if (std::abs(*middle) < kSettled) {
      may_settle_ = 0;
      return false;
    }
  }
  --may_settle_;
  saw_settling_ = true;
  std::swap(rows_now_, rows_before_);
  return true;
}

void SurveyTaker::take(const std::uint16_t* raw, std::uint64_t t_us) {
  levels(rows_now_, columns_now_, raw);
  if (is_settling()) {
    ++survey_.unsettled;
    return;
  }
  if (frames_ == 0) first_us_ = t_us;
  last_us_ = t_us;
  if (has_before_) {
    count_steps(survey_.rows, rows_now_, rows_before_, t_us);
    count_steps(survey_.columns, columns_now_, columns_before_, t_us);
    count_faint_steps(survey_.rows, typical_row_, rows_now_, rows_before_, t_us);
    count_faint_steps(survey_.columns, typical_column_, columns_now_, columns_before_, t_us);
    swing();
  }
  const float use = has_before_ ? 1.f : 0.f;
  for (std::size_t i = 0; i < sum_.size(); ++i) {
    const auto v = static_cast<float>(raw[i]);
    const float d = use * (v - before_[i]);
    sum_[i] += v;
    squares_[i] += d * d;
    before_[i] = v;
  }
  std::swap(rows_now_, rows_before_);
  std::swap(columns_now_, columns_before_);
  has_before_ = true;
  if (++frames_ >= window_frames_) close();
}

void SurveyTaker::interrupt() {
  may_settle_ = kMostUnsettled;
  saw_settling_ = false;
  if (frames_ >= window_frames_ / 2) close();
  frames_ = 0;
  std::fill(sum_.begin(), sum_.end(), 0.f);
  std::fill(squares_.begin(), squares_.end(), 0.f);
  std::fill(swing_.begin(), swing_.end(), 0.0);
  std::fill(drift_.begin(), drift_.end(), 0.0);
  has_before_ = false;
}

void SurveyTaker::close() {
  SurveyWindow w;
  w.first_us = first_us_;
  w.last_us = last_us_;
  w.frames = frames_;
  const auto n = static_cast<float>(frames_);
  w.mean.resize(sum_.size());
  w.noise.resize(sum_.size());
  for (std::size_t i = 0; i < sum_.size(); ++i) {
    w.mean[i] = sum_[i] / n;
    w.noise[i] = std::sqrt(squares_[i] / (2.f * n));
  }
  // A touched column or a stepping line must not pass for a swing of all rows: the middle pair of
  // quarters, the middle row.
  std::vector<double> of_rows;
  for (int r = 0; r < survey_.shape.rows; ++r) {
    double* pairs = swing_.data() + static_cast<std::ptrdiff_t>(r) * kPairs;
    // A supply that sinks steadily is no swing: products of the mean steps go.
    const double* drift = drift_.data() + static_cast<std::ptrdiff_t>(r) * kQuarters;
    for (int p = 0; p < kPairs; ++p) pairs[p] -= drift[kPair[p][0]] * drift[kPair[p][1]] / frames_;
    std::sort(pairs, pairs + kPairs);
    of_rows.push_back((pairs[2] + pairs[3]) / 2 / (2.0 * frames_));
  }
  const auto middle = of_rows.begin() + static_cast<std::ptrdiff_t>(of_rows.size() / 2);
  std::nth_element(of_rows.begin(), middle, of_rows.end());
  w.row_swing = static_cast<float>(std::sqrt(std::max(0.0, *middle)));
  std::fill(sum_.begin(), sum_.end(), 0.f);
  std::fill(squares_.begin(), squares_.end(), 0.f);
  std::fill(swing_.begin(), swing_.end(), 0.0);
  std::fill(drift_.begin(), drift_.end(), 0.0);
  frames_ = 0;
  survey_.windows.push_back(std::move(w));
  if (survey_.windows.size() >= Survey::kMaxWindows) merge_pairs();
}

/// Bounded memory: neighbouring windows become one, and those to come are as long.
void SurveyTaker::merge_pairs() {
  std::vector<SurveyWindow>& all = survey_.windows;
  std::size_t kept = 0;
  for (std::size_t k = 0; k < all.size(); k += 2) {
    SurveyWindow& into = all[kept];
    if (kept != k) into = std::move(all[k]);
    ++kept;
    if (k + 1 == all.size()) break;
    const SurveyWindow& more = all[k + 1];
    const auto frames = static_cast<float>(into.frames + more.frames);
    const float a = static_cast<float>(into.frames) / frames;
    const float b = static_cast<float>(more.frames) / frames;
    for (std::size_t i = 0; i < into.mean.size(); ++i) {
      into.mean[i] = a * into.mean[i] + b * more.mean[i];
      into.noise[i] =
          std::sqrt(a * into.noise[i] * into.noise[i] + b * more.noise[i] * more.noise[i]);
    }
    into.row_swing =
        std::sqrt(a * into.row_swing * into.row_swing + b * more.row_swing * more.row_swing);
    into.frames += more.frames;
    into.last_us = more.last_us;
  }
  all.resize(kept);
  window_frames_ *= 2;
}

Survey SurveyTaker::finish() {
  if (frames_ >= (window_frames_ + 1) / 2 || survey_.windows.empty()) {
    if (frames_ > 0) close();
  }
  return std::move(survey_);
}

}  // namespace bareglass::host
