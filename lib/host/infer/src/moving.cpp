#include "moving.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "bareglass/infer/search.hpp"

namespace bareglass::host {

namespace {

constexpr double kOdds = 1e-4;  // of noise alone
// A fingertip that passes over a node changes it by a tenth of a finger from frame to frame for a
// while; averaged over the quarter of a second a third of that.
constexpr double kRestless = 0.015;
constexpr int kRestlessNodes = 3;
constexpr double kMoved = 0.06;  // of a finger, averaged over a window

}  // namespace

bool moves_at_power_up(const Reading& reading, const Account& account) {
  if (account.kind != DumpKind::from_power_up || reading.windows() < 2) return false;
  const double finger = std::max<int>(16, account.settings.finger_counts);
  const SurveyWindow& first = reading.window(0);
  // The noise of n frames has a relative standard deviation of 1 / sqrt(2 n).
  const double nodes = reading.shape().nodes();
  const double noise = static_cast<double>(reading.noise());
  const auto limit_of_noise = static_cast<double>(infer::noise_limit(nodes, kOdds));
  const double restless =
      noise * (1.0 + limit_of_noise / std::sqrt(2.0 * std::max(1, first.frames))) +
      kRestless * finger;
  int restless_nodes = 0;
  for (std::size_t i = 0; i < first.noise.size(); ++i)
    restless_nodes += !reading.masked(i) && static_cast<double>(first.noise[i]) > restless;
  if (restless_nodes < kRestlessNodes) return false;
  const std::vector<float> map = reading.change(0, 1);
  const double limit = std::max(
      kMoved * finger, limit_of_noise * noise * std::sqrt(2.0 / std::max(1, first.frames)));
  const auto [away, come] = std::minmax_element(map.begin(), map.end());
  if (static_cast<double>(*come) < limit || static_cast<double>(-*away) < limit) return false;
  const int cols = reading.shape().cols;
  const auto from = static_cast<int>(away - map.begin());
  const auto to = static_cast<int>(come - map.begin());
  return std::max(std::abs(from / cols - to / cols), std::abs(from % cols - to % cols)) >= 2;
}

}  // namespace bareglass::host
