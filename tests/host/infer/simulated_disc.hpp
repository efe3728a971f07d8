#pragma once
// One round contact on the simulated panel, without noise.

#include <cstdint>
#include <string>
#include <vector>

#include "bareglass/panel/player.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {

inline constexpr double kPersonPf = 150;

/// A disc on a panel of 11 x 11 lines, whose middle node 60 lies at (25, 25) mm: counts that it
/// takes from each node. `glass`: of a shipped panel, "1_1". `bare`: what node 60 reads without it.
inline std::vector<float> disc_on(const std::string& glass, double mm, field::Point place,
                                  double device_earth_pf, float& bare,
                                  double earth_pf = kPersonPf) {
  panel::Scenario s = support::scenario_named("bare-glass");
  s.panel_path = BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_" + glass + ".toml";
  s.panel = field::load_panel(s.panel_path);
  s.setup.rows = s.setup.columns = 11;
  s.setup.front_end.noise_ff = s.setup.front_end.spread_ff = 0;
  s.things.clear();
  s.events.clear();
  s.device.earth_pf = device_earth_pf;
  panel::ThingSpec disc;
  disc.name = "disc";
  disc.shape = "disc";
  disc.outline = panel::Outline::disc(mm);
  disc.place = place;
  disc.earth_pf = earth_pf;
  s.things.push_back(disc);
  panel::Event put;
  put.at_s = 0.5;
  put.word = "put";
  s.events.push_back(put);
  panel::SimulatedPanel simulated(s.panel, panel::kernels_of(s.panel, s.panel_path), s.setup);
  panel::Timeline timeline(s);
  std::vector<std::uint16_t> before;
  std::vector<std::uint16_t> after;
  simulated.scan(before, timeline.at(0.1), 100000);
  simulated.scan(after, timeline.at(0.8), 800000);
  std::vector<float> taken;
  for (std::size_t i = 0; i < before.size(); ++i)
    taken.push_back(static_cast<float>(before[i]) - static_cast<float>(after[i]));
  bare = before[60];
  return taken;
}

}  // namespace bareglass::host
