// Contacts far weaker than a finger although as wide as one: the device has no good way to earth.

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "electrical_survey.hpp"

namespace bareglass::host {

namespace {

// A fingertip from 6.5 mm on moves its 5 x 5 nodes together by 2.2 nominal fingers or more,
// wherever between the lines it lies; 8 mm: 2.9. On a device with 1 to 4.5 pF to earth 1.1 to 2.0
// are left (this simulator, 1.1 mm glass).
constexpr double kLeastVolume = 2.1;
// A small fingertip is narrow, squared pitches; one this weak would be too small to be seen.
constexpr double kNarrow = 0.7;
constexpr double kFarTooWeak = 0.45;
constexpr double kWeak = 0.62;
// A larger fingertip on such a device: weak in its middle, yet wide. An earthed one of that sum
// reaches 0.6 of a finger or more at its middle.
constexpr double kFlatVolume = 3.0;
constexpr double kFlatPeak = 0.5;
constexpr double kFlatWidth = 0.85;

/// A contact of one window, in shares of the panel's nominal finger.
struct WeakContact {
  double peak = 0;
  double volume = 0;  ///< sum over 5 x 5 nodes
  double width = 0;   ///< second moment about the centroid, squared pitches
  int row = 0, col = 0;
};

bool measure(WeakContact& out, const Reading& reading, const std::vector<float>& map,
             double finger) {
  const Shape shape = reading.shape();
  std::size_t at = 0;
  for (std::size_t i = 0; i < map.size(); ++i)
    if (map[i] > map[at]) at = i;
  out.row = static_cast<int>(at) / shape.cols;
  out.col = static_cast<int>(at) % shape.cols;
  out.peak = static_cast<double>(map[at]) / finger;
  if (out.row < 1 || out.col < 1 || out.row > shape.rows - 2 || out.col > shape.cols - 2)
    return false;
  double x = 0;
  double y = 0;
  double xx = 0;
  double volume = 0;
  for (int dr = -2; dr <= 2; ++dr)
    for (int dc = -2; dc <= 2; ++dc) {
      const int row = out.row + dr;
      const int col = out.col + dc;
      if (row < 0 || col < 0 || row >= shape.rows || col >= shape.cols) continue;
      const double v = std::max(0.0, static_cast<double>(map[reading.node_at(row, col)])) / finger;
      volume += v;
      x += v * dc;
      y += v * dr;
      xx += v * (dc * dc + dr * dr);
    }
  if (volume <= 0) return false;
  out.volume = volume;
  out.width = xx / volume - (x * x + y * y) / (volume * volume);
  return true;
}

}  // namespace

void find_weak_contacts(std::vector<ElectricalFound>& out, const Reading& reading,
                        const Account& account) {
  const double finger = std::max<int>(16, account.settings.finger_counts);
  const double floor =
      std::max(0.06, 6.0 * static_cast<double>(reading.noise()) / std::sqrt(12.0) / finger);
  ElectricalFound f;
  f.cause = Cause::floating_ground;
  f.limit = kLeastVolume;
  int steady = 0;
  WeakContact before;
  bool strong = false;
  bool onset = false;
  for (std::size_t k = 2; k < reading.windows(); ++k) {
    const std::vector<float> map =
        reading.has_reference() ? reading.departure(k) : reading.change(1, k);
    WeakContact c;
    const bool there = measure(c, reading, map, finger) && c.peak > floor;
    const double deepest = static_cast<double>(-*std::min_element(map.begin(), map.end())) / finger;
    const bool contact = there && deepest < 0.4 * c.peak;
    // A contact that comes or goes within a window is seen diluted: it must last.
    const bool lasts = contact && before.peak > 0 && std::abs(before.row - c.row) <= 1 &&
                       std::abs(before.col - c.col) <= 1 &&
                       std::abs(before.volume - c.volume) < 0.15 * c.volume;
    strong = strong || (lasts && c.volume >= kLeastVolume);
    const bool wide = c.width > kNarrow || c.peak < kFarTooWeak;
    // A hand comes at once, a film dries slowly.
    onset = onset || (contact && (before.peak == 0 || before.volume < 0.5 * c.volume));
    const bool small_sum = c.volume < kLeastVolume && c.peak < kWeak && wide;
    const bool flat = c.volume < kFlatVolume && c.peak < kFlatPeak && c.width > kFlatWidth;
    if (lasts && (small_sum || flat)) {
      if (++steady == 1) f.first_us = reading.window(k - 1).first_us;
      f.last_us = reading.window(k).last_us;
      f.value = std::max(f.value, c.peak);
      f.has_box = true;
      f.box = {static_cast<std::uint8_t>(c.row - 1), static_cast<std::uint8_t>(c.row + 1),
               static_cast<std::uint8_t>(c.col - 1), static_cast<std::uint8_t>(c.col + 1)};
    }
    before = contact ? c : WeakContact{};
  }
  if (steady < 3 || !onset) return;
  // The same hand at full strength later (docked) makes it certain.
  f.score = std::clamp(0.6 + 0.05 * steady + (strong ? 0.1 : 0.0), 0.0, 0.95);
  out.push_back(f);
}

}  // namespace bareglass::host
