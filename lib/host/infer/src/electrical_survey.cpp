#include "electrical_survey.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "line_looks.hpp"
#include "line_mending.hpp"

namespace bareglass::host {

namespace {

// Gains follow temperature by up to a few hundred ppm a kelvin (common practice, no source): 20 K
// make less than 1 %. From here on it is the drive.
constexpr double kSagShare = 0.02;
// A single lithium cell is called empty at about 3.0 V (common practice, no source); regulators
// behind it lose their headroom there.
constexpr int kEmptyMillivolts = 3000;
// The core takes the swing of whole rows off every scan. What is weaker than the noise of single
// nodes is in every front end (common practice, no source) and no cause of anything. Both from one
// frame to the next: a swing a third larger than the noise is 0.8 of both together.
constexpr double kSwingOverNoise = 0.8;
// A reference may be off by 2 % as a whole, with age and with the temperature of a room (common
// practice, no source).
constexpr double kLevelShare = 0.025;
// Raw score of a level within that range, and of a swing that is no matter of the range (chosen).
constexpr double kWithinRange = 0.6;
constexpr double kFarSwing = 0.85;
constexpr double kSwingShare = 0.0003;  ///< and of the reading
// What the drive may change by over two windows, share, to be called steady.
constexpr float kSteadyGain = 0.006f;
// A swing of all columns can't be larger than the noise of the quietest.
constexpr double kOverQuiet = 1.3;
// Noise of a touched column over that of the others, second least of kNoiseRun windows. Fingers in
// use that pass over one column in turns make 1.5.
constexpr double kColumnNoise = 1.7;
constexpr std::size_t kNoiseRun = 4;
// A pattern that stands still must be this much larger than that of the other columns.
constexpr double kStandingPattern = 5.0;
// And turn its sign so often along the column, at least.
constexpr int kLeastTurns = 5;

/// Lowest and highest gain of windows whose loss all nodes share.
void find_sag(std::vector<ElectricalFound>& out, const Reading& reading, const Account& a) {
  const auto& mv = a.lowest_millivolts;
  if (mv && *mv > kGoodMillivolts) return;
  float best = 0.f;
  for (std::size_t k = 0; k < reading.windows(); ++k) best = std::max(best, reading.gain(k));
  const float full = reading.has_reference() ? 1.f : best;
  ElectricalFound f;
  f.cause = Cause::supply_sag;
  f.limit = kSagShare;
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    std::vector<float> ratios;
    for (std::size_t i = 0; i < reading.base().size(); ++i)
      if (!reading.masked(i)) ratios.push_back(reading.ratio(k, i));
    // A film over most of the glass leaves some nodes out; the drive leaves none.
    const double spread = static_cast<double>(quantile(std::move(ratios), 0.97)) - 1.0;
    const double lost = 1.0 - static_cast<double>(reading.gain(k) / full);
    if (lost < kSagShare || (reading.has_reference() && spread > 0.6 * lost + 0.01)) continue;
    if (f.first_us == 0) f.first_us = reading.window(k).first_us;
    f.last_us = reading.window(k).last_us;
    f.value = std::max(f.value, lost);
  }
  const bool empty = mv && *mv < kEmptyMillivolts;
  if (f.value == 0 && !empty) return;
  f.score = f.value == 0 ? 0.6 : empty ? 1.0 : 0.7;
  out.push_back(f);
}

/// All nodes read off by the same part all along, though the supply is good: more than references
/// are off by, or enough for the device to refuse the glass.
void find_level(std::vector<ElectricalFound>& out, const Reading& reading, const Account& a) {
  if (!reading.has_reference() || reading.empty()) return;
  std::vector<float> gains;
  for (std::size_t k = 0; k < reading.windows(); ++k) gains.push_back(reading.gain(k));
  const double off = static_cast<double>(quantile(std::move(gains), 0.5)) - 1.0;
  const double level = std::max(1.0, static_cast<double>(quantile(reading.base(), 0.5)));
  const bool refused = first_event(a, JournalCode::glass_not_bare) != nullptr &&
                       a.decisive.against == DecisiveMoment::Against::reference &&
                       a.decisive.limit > 0;
  const double limit = refused ? std::min(kLevelShare, a.decisive.limit / level) : kLevelShare;
  if (std::abs(off) < limit) return;
  ElectricalFound f;
  f.cause = Cause::temperature;
  f.or_else = Cause::aged_reference;
  f.value = off;
  f.limit = limit;
  f.first_us = reading.window(0).first_us;
  f.last_us = reading.window(reading.windows() - 1).last_us;
  // What is within the range of references says why the device refused, if nothing else does.
  const double beyond = (std::abs(off) - kLevelShare) / kLevelShare;
  f.score = beyond < 0 ? kWithinRange : 0.6 + 0.4 * std::min(1.0, beyond);
  out.push_back(f);
}

/// Noise of the quieter columns, counts: what swings a whole row moves them, too, while what comes
/// through a finger leaves them alone.
double quiet_noise(const Reading& reading, std::size_t k) {
  std::vector<float> of_columns;
  const LineAxis columns{reading, false};
  for (int c = 0; c < columns.count(); ++c) {
    std::vector<float> line;
    for (int r = 0; r < columns.crossings(); ++r)
      line.push_back(reading.window(k).noise[columns.node(c, r)]);
    of_columns.push_back(quantile(std::move(line), 0.5));
  }
  return static_cast<double>(quantile(std::move(of_columns), 0.2));
}

void find_swing(std::vector<ElectricalFound>& out, const Reading& reading) {
  const double level = static_cast<double>(quantile(reading.base(), 0.5));
  const double limit =
      std::max(kSwingOverNoise * static_cast<double>(reading.noise()), kSwingShare * level);
  const LineYardstick yardstick =
      reading.has_reference() ? LineYardstick::bare(reading) : LineYardstick::beginning(reading);
  std::vector<char> masked(reading.base().size());
  for (std::size_t i = 0; i < masked.size(); ++i) masked[i] = reading.masked(i);
  ElectricalFound f;
  f.cause = Cause::common_mode;
  f.limit = limit;
  std::size_t windows = 0;
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    auto swing = static_cast<double>(reading.window(k).row_swing);
    // A supply that steps is no swing.
    const float next = reading.gain(std::min(k + 1, reading.windows() - 1));
    const float last = reading.gain(k == 0 ? 0 : k - 1);
    if (std::abs(next - last) > kSteadyGain * reading.gain(k)) swing = 0;
    if (swing >= limit && swing > kOverQuiet * quiet_noise(reading, k)) swing = 0;
    swing =
        std::max(swing, level * standing_swing(line_levels({reading, true}, yardstick, k, masked)));
    if (swing < limit) continue;
    ++windows;
    if (f.first_us == 0) f.first_us = reading.window(k).first_us;
    f.last_us = reading.window(k).last_us;
    f.value = std::max(f.value, swing);
  }
  if (windows < 3 || windows * 6 < reading.windows()) return;
  f.score = std::clamp(0.6 + 0.1 * f.value / limit, 0.0, 1.0);
  out.push_back(f);
}

// A finger swipes by some 40 mm in a window (common practice, no source), eight rows.
constexpr std::size_t kShortColumn = 12;

/// Noise of each column over that of the typical one, per window.
std::vector<double> column_noise(const Reading& reading, std::size_t k) {
  const Shape shape = reading.shape();
  std::vector<float> of_columns;
  for (int c = 0; c < shape.cols; ++c) {
    std::vector<float> line;
    for (int r = 0; r < shape.rows; ++r) {
      const std::size_t i = reading.node_at(r, c);
      if (!reading.masked(i)) line.push_back(reading.window(k).noise[i]);
    }
    // The quieter rows: a finger that swipes along a column passes over many of its nodes, on a
    // short one over nearly all.
    const double quieter = line.size() < kShortColumn ? 0.12 : 0.25;
    of_columns.push_back(line.size() < 3 ? 0.f : quantile(std::move(line), quieter));
  }
  std::vector<float> known;
  std::copy_if(of_columns.begin(), of_columns.end(), std::back_inserter(known),
               [](float v) { return v > 0.f; });
  const auto typical = std::max(0.3, static_cast<double>(quantile(std::move(known), 0.4)));
  std::vector<double> out;
  for (const float v : of_columns) out.push_back(v > 0.f ? static_cast<double>(v) / typical : 1.0);
  return out;
}

/// Interference whose period divides the frame's stands still from frame to frame: along a touched
/// column the rows then differ by what no thing does, to both sides, from one end to the other.
std::vector<double> column_pattern(const Reading& reading, std::size_t k) {
  const Shape shape = reading.shape();
  const std::vector<float> map =
      reading.has_reference() ? reading.departure(k) : reading.change(0, k);
  std::vector<float> of_columns;
  for (int c = 0; c < shape.cols; ++c) {
    std::vector<float> sizes;
    float sum = 0.f;
    for (int r = 0; r < shape.rows; ++r) {
      sizes.push_back(std::abs(map[reading.node_at(r, c)]));
      sum += sizes.back();
    }
    // The mean is six tenths of the size or more; below that it can't reach what counts.
    if (sum < 0.6f * static_cast<float>(kStandingPattern * shape.rows) * reading.noise() / 2.f) {
      of_columns.push_back(0.f);
      continue;
    }
    const float size = quantile(std::move(sizes), 0.4);
    // A thing changes its sign along a column two or three times and leaves nodes alone.
    int up = 0;
    int down = 0;
    int turns = 0;
    bool was_up = false;
    for (int r = 0; r < shape.rows; ++r) {
      const float v = map[reading.node_at(r, c)];
      if (std::abs(v) < 0.4f * size) continue;
      const bool is_up = v < 0.f;
      turns += up + down > 0 && is_up != was_up;
      was_up = is_up;
      ++(is_up ? up : down);
    }
    const bool swings =
        turns >= std::max(kLeastTurns, shape.rows / 4) && 4 * std::min(up, down) >= up + down;
    of_columns.push_back(swings ? size : 0.f);
  }
  const auto typical = std::max(static_cast<double>(reading.noise()) / 2,
                                static_cast<double>(quantile(of_columns, 0.4)));
  std::vector<double> out;
  for (const float v : of_columns) out.push_back(static_cast<double>(v) / typical);
  return out;
}

void find_column_noise(std::vector<ElectricalFound>& out, const Reading& reading) {
  const auto cols = static_cast<std::size_t>(reading.shape().cols);
  std::vector<std::vector<double>> noise;
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    noise.push_back(column_noise(reading, k));
    const std::vector<double> pattern = column_pattern(reading, k);
    for (std::size_t c = 0; c < cols; ++c)
      if (pattern[c] > kStandingPattern)
        noise.back()[c] = std::max(noise.back()[c], pattern[c] / 2);
  }
  const std::size_t run = kNoiseRun;
  ElectricalFound f;
  f.cause = Cause::interference;
  f.limit = kColumnNoise;
  std::vector<double> peak(cols, 0.0);
  for (std::size_t k = 0; k + run <= noise.size(); ++k)
    for (std::size_t c = 0; c < cols; ++c) {
      // The second least of the run: one thing put down or lifted is one window's noise.
      double least = noise[k][c];
      double mean = std::numeric_limits<double>::max();
      for (std::size_t w = k + 1; w < k + run; ++w) {
        mean = std::min(mean, std::max(least, noise[w][c]));
        least = std::min(least, noise[w][c]);
      }
      peak[c] = std::max(peak[c], mean);
      if (mean < kColumnNoise) continue;
      if (f.first_us == 0) f.first_us = reading.window(k).first_us;
      f.last_us = reading.window(k + run - 1).last_us;
      f.value = std::max(f.value, mean);
    }
  if (f.value == 0) return;
  const auto top = static_cast<int>(std::max_element(peak.begin(), peak.end()) - peak.begin());
  int noisy = 0;
  for (const double p : peak) noisy += p >= kColumnNoise;
  if (2 * noisy > static_cast<int>(cols)) return;  // not the columns of some fingers
  f.columns = {false, top, top, -1};
  const auto noisy_at = [&](int c) {
    return c >= 0 && c < static_cast<int>(cols) &&
           peak[static_cast<std::size_t>(c)] >= kColumnNoise;
  };
  while (noisy_at(f.columns.first - 1)) --f.columns.first;
  while (noisy_at(f.columns.last + 1)) ++f.columns.last;
  f.has_columns = true;
  f.score = std::clamp(0.5 + 0.3 * (f.value - 1.0), 0.0, 1.0);
  out.push_back(f);
}

}  // namespace

// Defined in weak_contacts.cpp.
void find_weak_contacts(std::vector<ElectricalFound>& out, const Reading& reading,
                        const Account& account);

std::vector<ElectricalFound> find_electrical(Reading& reading, const Account& account) {
  std::vector<ElectricalFound> out;
  if (reading.empty()) return out;
  find_sag(out, reading, account);
  if (out.empty() && account.kind != DumpKind::differences_only) find_level(out, reading, account);
  // A drive that sinks and comes back moves whole rows as well, those of one scan unlike.
  const bool sags = !out.empty() && out.front().cause == Cause::supply_sag;
  if (!sags) find_swing(out, reading);
  // Rows that swing far move what most nodes have in common, too.
  const bool swings = std::any_of(out.begin(), out.end(), [](const ElectricalFound& f) {
    return f.cause == Cause::common_mode && f.score > kFarSwing;
  });
  out.erase(std::remove_if(out.begin(), out.end(),
                           [&](const ElectricalFound& f) {
                             return swings && f.cause == Cause::temperature &&
                                    f.score == kWithinRange;
                           }),
            out.end());
  // Without a reference rows differ by construction, by about as much as they swing: what is taken
  // off in one window and not in the next would be a thing of its own.
  if (!out.empty() && reading.has_reference()) mend_rows(reading);
  find_column_noise(out, reading);
  // A drive that was low from the start makes fingers weak too, and only a reference tells.
  if (out.empty() || out.front().cause != Cause::supply_sag || reading.has_reference())
    find_weak_contacts(out, reading, account);
  std::stable_sort(out.begin(), out.end(), [](const ElectricalFound& a, const ElectricalFound& b) {
    return a.score > b.score;
  });
  return out;
}

}  // namespace bareglass::host
