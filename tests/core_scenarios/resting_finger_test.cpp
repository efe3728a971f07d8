// Where the core puts a finger, on frames of the simulated panel: the shipped glass of 1.1 mm, an
// 8 mm fingertip, swept over a pitch.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <vector>

#include "bareglass/core/contacts.hpp"
#include "bareglass/panel/player.hpp"
#include "support/simulated_records.hpp"

namespace bareglass {
namespace {

constexpr int kRow = 7, kCol = 5;
constexpr int kSteps = 32;  // to a pitch

/// The shipped bare panel, without noise.
class SimulatedPanelWithoutNoise : public ::testing::Test {
 protected:
  SimulatedPanelWithoutNoise() : scenario_(support::scenario_named("bare-glass")) {
    scenario_.setup.front_end.noise_ff = 0;
    scenario_.things.clear();
    scenario_.events.clear();
    bare_ = scan();
  }

  std::vector<std::uint16_t> scan() const {
    panel::SimulatedPanel simulated(
        scenario_.panel, panel::kernels_of(scenario_.panel, scenario_.panel_path), scenario_.setup);
    panel::Timeline timeline(scenario_);
    std::vector<std::uint16_t> raw;
    simulated.scan(raw, timeline.at(1.0), 1000000);
    return raw;
  }

  /// Position found for a fingertip at (row, col), in pitches from there: rows, then columns.
  std::pair<double, double> error_at(double row, double col) {
    panel::ThingSpec finger;
    finger.name = "finger";
    finger.shape = "disc";
    finger.outline = panel::Outline::disc(8);
    finger.earth_pf = 150;
    finger.place = {col * scenario_.panel.columns.pitch_mm, row * scenario_.panel.rows.pitch_mm};
    panel::Event put;
    put.word = "put";
    scenario_.things = {finger};
    scenario_.events = {put};
    const std::vector<std::uint16_t> raw = scan();
    Settings settings;
    settings.shape = {scenario_.setup.rows, scenario_.setup.columns};
    std::vector<std::int16_t> difference(raw.size());
    Peak peak;
    for (std::size_t i = 0; i < raw.size(); ++i) {
      difference[i] = static_cast<std::int16_t>(bare_[i] - raw[i]);
      if (difference[i] <= peak.strength) continue;
      peak.strength = difference[i];
      peak.row = static_cast<std::uint8_t>(static_cast<int>(i) / settings.shape.cols);
      peak.col = static_cast<std::uint8_t>(static_cast<int>(i) % settings.shape.cols);
    }
    locate(peak, {difference.data(), difference.size()}, settings);
    return {peak.y_q8 / 256.0 - row, peak.x_q8 / 256.0 - col};
  }

 private:
  panel::Scenario scenario_;
  std::vector<std::uint16_t> bare_;
};

struct Worst {
  double error = 0, step = 0;

  void take(double e, double before, bool first) {
    error = std::max(error, std::abs(e));
    if (!first) step = std::max(step, std::abs(e - before));
  }
};

TEST_F(SimulatedPanelWithoutNoise, LocatesAFingerSweptOverAPitchWithoutAJump) {
  Worst along_rows;
  Worst along_cols;
  std::pair<double, double> before;
  for (int k = 0; k <= kSteps; ++k) {
    const double part = static_cast<double>(k) / kSteps;
    const double y = error_at(kRow + part, kCol).first;
    const double x = error_at(kRow, kCol + part).second;
    along_rows.take(y, before.first, k == 0);
    along_cols.take(x, before.second, k == 0);
    before = {y, x};
  }
  RecordProperty("rows_permille_of_pitch", static_cast<int>(along_rows.error * 1000));
  RecordProperty("columns_permille_of_pitch", static_cast<int>(along_cols.error * 1000));
  // Measured: 0.008 and 0.036 pitch, 0.04 and 0.18 mm; a step of 1/32 pitch is shown 0.008 too long
  // or too short at most. (A centroid of three lines jumps by 0.13 half way between two rows.)
  EXPECT_LT(along_rows.error, 0.010);
  EXPECT_LT(along_cols.error, 0.040);
  EXPECT_LT(along_rows.step, 0.010);
  EXPECT_LT(along_cols.step, 0.010);
}

TEST_F(SimulatedPanelWithoutNoise, PutsAFingerHalfWayBetweenTwoLinesHalfWay) {
  const auto [y, x] = error_at(kRow + 0.5, kCol + 0.5);
  EXPECT_NEAR(y, 0, 0.01);
  EXPECT_NEAR(x, 0, 0.01);
}

}  // namespace
}  // namespace bareglass
