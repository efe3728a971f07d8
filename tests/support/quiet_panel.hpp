#pragma once
// Shared by the tests of the simulated panel: one solved reference panel for all of them.

#include <cmath>
#include <cstdint>
#include <memory>
#include <vector>

#include "bareglass/panel/simulated_panel.hpp"

namespace bareglass::test {

constexpr double kPitch = 5.0;  // mm, both ways

inline field::Point node_at(double row, double column) { return {kPitch * column, kPitch * row}; }

/// A front end without noise, spread and rounding to speak of: 40 counts per fF.
inline panel::PanelSetup quiet_setup(int rows = 14, int columns = 12) {
  panel::PanelSetup setup;
  setup.rows = rows;
  setup.columns = columns;
  setup.front_end.spread_ff = 0.0;
  setup.front_end.noise_ff = 0.0;
  setup.front_end.counts_per_ff = 40.0;
  return setup;
}

/// Frames of a situation, in fF against the same panel with nothing on it.
class QuietPanel {
 public:
  explicit QuietPanel(double glass_mm = 1.1, panel::PanelSetup setup = quiet_setup())
      : panel_(field::reference_panel(glass_mm),
               panel::kernels_of(field::reference_panel(glass_mm), path_of(glass_mm)), setup),
        reference_(panel_.reference()) {}

  panel::NodeMatrix change(const panel::Situation& situation) {
    std::vector<std::uint16_t> counts;
    panel_.scan(counts, situation, 20000);
    const panel::PanelSetup& s = panel_.setup();
    panel::NodeMatrix out(s.rows, s.columns);
    for (std::size_t k = 0; k < counts.size(); ++k)
      out.data()[k] = (counts[k] - reference_[k]) / s.front_end.counts_per_ff;
    return out;
  }
  panel::NodeMatrix change(const panel::Conductor& thing,
                           double device_earth_pf = panel::kConnected) {
    panel::Situation s;
    s.conductors = {thing};
    s.device.earth_pf = device_earth_pf;
    return change(s);
  }
  panel::SimulatedPanel& panel() { return panel_; }
  /// Raw change in per cent of the bare reading.
  panel::NodeMatrix percent(const panel::Situation& situation) {
    const panel::NodeMatrix ff = change(situation);
    panel::NodeMatrix out = ff;
    for (Eigen::Index k = 0; k < out.size(); ++k)
      out.data()[k] = 100.0 * ff.data()[k] * panel_.setup().front_end.counts_per_ff /
                      reference_[static_cast<std::size_t>(k)];
    return out;
  }

 private:
  // The kernels that ship with the panel of that glass.
  static std::string path_of(double glass_mm) {
    std::string digits = std::to_string(static_cast<int>(std::lround(10.0 * glass_mm)) + 100);
    return std::string(BAREGLASS_SOURCE_DIR) + "/fixtures/panels/bars_and_stripes_" +
           digits.substr(1, 1) + "_" + digits.substr(2) + ".toml";
  }

  panel::SimulatedPanel panel_;
  std::vector<std::uint16_t> reference_;
};

/// The reference panel of 1.1 mm glass, solved once for all tests of a program.
inline QuietPanel& reference_glass() {
  static QuietPanel panel;
  return panel;
}

}  // namespace bareglass::test
