#include "bareglass/panel/player.hpp"

#include <cmath>

namespace bareglass::panel {

void play(const Scenario& scenario, const SendRecord& send, const PlayProgress& progress) {
  LiveUnit unit(scenario);
  unit.announce(send, scenario.record_from_s <= 0.0);
  const double period_s = scenario.frame_period_us * 1e-6;
  const auto frames = static_cast<std::uint32_t>(std::floor(scenario.duration_s / period_s));
  for (std::uint32_t n = 1; n <= frames; ++n) {
    const double t_s = static_cast<double>(std::uint64_t{scenario.frame_period_us} * n) * 1e-6;
    if (!unit.heard() && t_s >= scenario.record_from_s) unit.listen(send);
    unit.step();
    if (progress) progress(n * period_s, scenario.duration_s);
  }
}

}  // namespace bareglass::panel
