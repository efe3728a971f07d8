// Noise and tracking take turns by row (kRowTurns): what that must not change.
#include <gtest/gtest.h>

#include <memory>
#include <random>
#include <vector>

#include "bareglass/core/conditioning.hpp"
#include "bareglass/core/engine.hpp"
#include "support/effect_scene.hpp"

namespace bareglass {
namespace {

TEST(RowBetweenItsTurns, IsLevelledExactlyAsAtItsTurn) {
  constexpr std::uint32_t kSeed = 4711;
  std::mt19937 random(kSeed);
  for (int round = 0; round < 500; ++round) {
    std::vector<std::int16_t> at_turn(24), between(24), kept(24);
    std::vector<std::uint16_t> previous(24, 32768), roughness(24, 100), kept_previous(24, 1);
    for (std::size_t i = 0; i < 24; ++i)
      at_turn[i] = between[i] = kept[i] = static_cast<std::int16_t>(random() % 65535 - 32767);
    const auto fluctuation = static_cast<std::int32_t>(random() % 400) - 200;
    const RowExtremes a = clean_row({at_turn.data(), 24}, {previous.data(), 24},
                                    {roughness.data(), 24}, fluctuation, 210);
    const RowExtremes b = level_row({between.data(), 24}, fluctuation);
    const RowExtremes c = keep_row({kept.data(), 24}, {kept_previous.data(), 24}, fluctuation);
    ASSERT_EQ(at_turn, between) << "seed " << kSeed << ", round " << round;
    ASSERT_EQ(at_turn, kept);
    ASSERT_EQ(previous, kept_previous);
    ASSERT_EQ(a.highest, b.highest);
    ASSERT_EQ(a.lowest, b.lowest);
    ASSERT_EQ(a.highest, c.highest);
    ASSERT_EQ(a.lowest, c.lowest);
  }
}

class PanelThatRuns : public ::testing::Test {
 protected:
  PanelThatRuns()
      : scene_(spec()),
        storage_(std::make_unique<Storage<16, 10>>()),
        engine_(storage_->memory()) {}

  static support::PanelSpec spec() {
    support::PanelSpec s;
    s.common_ff = 0;
    s.frame_period_us = 8000;
    return s;
  }
  void start(std::uint32_t track_ms) {
    Settings settings = support::settings_for(scene_.spec());
    settings.track_ms = track_ms;
    settings.slew_permille_s = 2000;
    ASSERT_EQ(engine_.configure(settings), SettingsField::none);
    engine_.power_up(0);
  }
  void run(int frames) {
    for (int k = 0; k < frames; ++k) {
      const std::vector<std::uint16_t> raw = scene_.frame();
      engine_.step({raw.data(), {16, 10}, ++sequence_, 8000ull * sequence_});
    }
  }
  double mean_difference() const {
    double sum = 0;
    for (const std::int16_t d : engine_.difference()) sum += d;
    return sum / 160.0;
  }
  support::EffectScene scene_;
  std::unique_ptr<Storage<16, 10>> storage_;
  Engine engine_;
  std::uint32_t sequence_ = 0;
};

// 1.5 fF at 20 counts/fF: 30 counts. mean |d| / 1.128 = sigma (control-chart constant d2 for n = 2,
// Montgomery). Taking out the mean of a row of ten nodes takes a tenth of the variance with it:
// 30 * sqrt(0.9) = 28.5. 160 nodes with an average over some 60 differences each: 2 % is three of
// its sigmas.
TEST_F(PanelThatRuns, MeasuresTheNoiseThatIsThere) {
  start(0);
  run(2000);
  ASSERT_TRUE(engine_.input_on());
  double sum = 0;
  for (const std::uint16_t r : engine_.roughness_q4()) sum += sigma_q4(r) / 16.0;
  EXPECT_NEAR(sum / 160.0, 28.5, 0.02 * 28.5);
  EXPECT_NEAR(engine_.panel_sigma_q4() / 16.0, 28.5, 0.06 * 28.5);
}

// A step of the whole panel by 100 counts, below the quiet limit of 210: after one time constant
// the baseline has gone 63 % of the way. (Row offsets are a signal while they last, so the
// common-mode removal hides none of it after its own, far shorter, average.)
TEST_F(PanelThatRuns, FollowsWithTheTimeConstantOfTheSettings) {
  start(8000);
  run(400);
  ASSERT_TRUE(engine_.input_on());
  const double before = mean_difference();
  for (int r = 0; r < 16; ++r)
    for (int c = 0; c < 10; ++c) scene_.add_node(r, c, -5.0);
  double baseline_before = 0;
  for (const BaselineQ8 b : engine_.baseline_q8()) baseline_before += b / 256.0 / 160.0;
  run(1000);  // 8 s
  double baseline_after = 0;
  for (const BaselineQ8 b : engine_.baseline_q8()) baseline_after += b / 256.0 / 160.0;
  EXPECT_NEAR(before, 0.0, 3.0);
  EXPECT_NEAR(baseline_before - baseline_after, 100.0 * (1.0 - 0.3679), 6.0);
}

}  // namespace
}  // namespace bareglass
