// Contacts far weaker than a finger although as wide as one: the device has no good way to earth.

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "electrical_survey.hpp"

namespace bareglass::host {

namespace {

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
  if (out.row < 2 || out.col < 2 || out.row > shape.rows - 3 || out.col > shape.cols - 3)
    return false;
  double x = 0;
  double y = 0;
  double xx = 0;
  double volume = 0;
  for (int dr = -2; dr <= 2; ++dr)
    for (int dc = -2; dc <= 2; ++dc) {
      const double v =
          std::max(0.0, static_cast<double>(map[reading.node_at(out.row + dr, out.col + dc)])) /
          finger;
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
  if (getenv("BG_DEBUG"))
    for (std::size_t k = 1; k < reading.windows(); ++k) {
      WeakContact c;
      const std::vector<float> map =
          reading.has_reference() ? reading.departure(k) : reading.change(1, k);
      if (measure(c, reading, map, finger) && c.peak > floor)
        fprintf(stderr, "contact k %zu peak %.3f volume %.3f width %.3f\n", k, c.peak, c.volume,
                c.width);
    }
  (void)out;
}

}  // namespace bareglass::host
