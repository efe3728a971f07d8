// What comes by wire, and drops: each stage by itself, then through the engine on scenes of known
// size.
#include "bareglass/core/electrical.hpp"

#include <gtest/gtest.h>

#include <cstdint>
#include <random>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/device.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::PanelSpec;

constexpr Shape kPanel{16, 10};
constexpr int kFinger = 3500;

/// A frame of differences, all zero at first.
struct Differences {
  std::vector<std::int16_t> d = std::vector<std::int16_t>(160, 0);
  std::int16_t& at(int r, int c) { return d[static_cast<std::size_t>(r * kPanel.cols + c)]; }
  View<const std::int16_t> view() const { return {d.data(), d.size()}; }
};

// --- noise along a column ------------------------------------------------------------------------

class ColumnWithATouch : public ::testing::Test {
 protected:
  ColumnWithATouch() {
    for (int r = 4; r <= 8; ++r) frame.at(r, 3) = 3000;
  }
  std::int32_t noise(std::int32_t least) {
    return column_noise(frame.view(), kPanel, 6, 3, least, {sort_, 16});
  }
  /// Nine rows vote: 0..2 and 10..15.
  void fill(int size, int sign_of_odd) {
    for (int r = 0; r < kPanel.rows; ++r)
      if (r < 3 || r > 9)
        frame.at(r, 3) = static_cast<std::int16_t>(r % 2 ? sign_of_odd * size : size);
  }
  Differences frame;

 private:
  std::int16_t sort_[16] = {};
};

TEST_F(ColumnWithATouch, HasNoNoiseWhereOnlyTheTouchIs) { EXPECT_EQ(noise(1), 0); }

TEST_F(ColumnWithATouch, ShowsTheMedianOfWhatHasBothSigns) {
  fill(100, -1);
  EXPECT_EQ(noise(70), 100);
  EXPECT_EQ(noise(100), 100);
  EXPECT_EQ(noise(101), 0) << "below the least that counts";
}

TEST_F(ColumnWithATouch, IsNotNoisyWhereAllHasOneSignAsUnderAFilm) {
  fill(100, 1);
  EXPECT_EQ(noise(70), 0);
}

// A hand can have both signs: dips beside the touch, a skirt farther off. White noise changes from
// row to row by sqrt(2) of its mean size, a sine of eight rows by 0.8 of it (pi/4 of the peak
// against 2/pi), a slope or a broad wave by less.
TEST_F(ColumnWithATouch, IsNotNoisyWhereBothSignsPassSmoothlyIntoEachOther) {
  const int slope[] = {120, 110, 100};
  const int skirt[] = {-80, -90, -100, -110, -120, -130};
  for (int r = 0; r < 3; ++r) frame.at(r, 3) = static_cast<std::int16_t>(slope[r]);
  for (int r = 10; r < 16; ++r) frame.at(r, 3) = static_cast<std::int16_t>(skirt[r - 10]);
  EXPECT_EQ(noise(70), 0);
  // The same sizes with signs that alternate are noise.
  for (int r = 1; r < 16; r += 2)
    if (r < 3 || r > 9) frame.at(r, 3) = static_cast<std::int16_t>(-frame.at(r, 3));
  for (int r = 10; r < 16; ++r) frame.at(r, 3) = static_cast<std::int16_t>(r % 2 ? 100 : -100);
  EXPECT_NE(noise(70), 0);
}

TEST_F(ColumnWithATouch, IsNoisyFromAChangeOfEightTenthsOfTheMeanSizeOn) {
  // Six rows in a run below the touch, three above; from row to row 0 or 200 counts of 100.
  // Changes within 0..2 and 10..15: seven pairs; the sum of sizes of both sides is 1,400.
  const auto set = [&](const std::vector<int>& signs) {
    for (std::size_t k = 0; k < 9; ++k)
      frame.at(static_cast<int>(k < 3 ? k : k + 7), 3) = static_cast<std::int16_t>(100 * signs[k]);
  };
  set({1, 1, -1, -1, -1, 1, 1, -1, -1});  // three changes of seven: 600 of 1,400, 0.86
  EXPECT_EQ(noise(70), 100);
  set({1, 1, 1, -1, -1, 1, 1, -1, -1});  // two of seven: 0.57
  EXPECT_EQ(noise(70), 0);
}

TEST_F(ColumnWithATouch, NeedsHalfOfItsRowsLoud) {
  fill(100, -1);
  for (int r = 10; r <= 14; ++r) frame.at(r, 3) = 5;  // five of nine are quiet
  EXPECT_EQ(noise(70), 0);
  frame.at(10, 3) = -100;
  EXPECT_EQ(noise(70), 100);
}

TEST_F(ColumnWithATouch, IsNotJudgedByFewerThanFourRows) {
  Differences small;
  std::int16_t sort[10] = {};
  for (int r = 0; r < 10; ++r) small.at(r, 3) = r % 2 ? -100 : 100;
  const Shape ten{10, 10};
  EXPECT_EQ(column_noise(small.view(), ten, 5, 3, 70, {sort, 10}), 0) << "rows 0, 1 and 9 vote";
  EXPECT_NE(column_noise(small.view(), ten, 6, 3, 70, {sort, 10}), 100) << "rows 0, 1, 2";
  EXPECT_EQ(column_noise(small.view(), ten, 7, 3, 70, {sort, 10}), 100) << "rows 0 to 3";
}

// --- weak coupling -------------------------------------------------------------------------------

Peak peak_at(int row, int col, int strength) {
  Peak p;
  p.row = static_cast<std::uint8_t>(row);
  p.col = static_cast<std::uint8_t>(col);
  p.strength = static_cast<std::int16_t>(strength);
  p.x_q8 = static_cast<std::int16_t>(col * 256);
  p.y_q8 = static_cast<std::int16_t>(row * 256);
  return p;
}

class TouchOnANode : public ::testing::Test {
 protected:
  bool weak(int strength, int neighbour_percent, const Peak* other = nullptr) {
    Differences f;
    f.at(6, 4) = static_cast<std::int16_t>(strength);
    const auto beside = static_cast<std::int16_t>(strength * neighbour_percent / 100);
    f.at(5, 4) = f.at(7, 4) = f.at(6, 3) = f.at(6, 5) = beside;
    const Peak peak = other != nullptr ? *other : peak_at(6, 4, strength);
    return is_weak_and_wide(peak, f.view(), kPanel, kFinger);
  }
};

// Field solution, 1.1 mm glass: an 8 mm disc on 3 pF to earth shows 39 % of a finger and 55 % of
// that beside it; a grounded 6 mm disc 94 %.
TEST_F(TouchOnANode, IsWeakAndWideOnAnUngroundedDeviceOnly) {
  EXPECT_TRUE(weak(kFinger * 39 / 100, 55));
  EXPECT_FALSE(weak(kFinger * 94 / 100, 30));
  EXPECT_TRUE(weak(kFinger * 65 / 100, 31));
  EXPECT_FALSE(weak(kFinger * 66 / 100, 31));
  EXPECT_FALSE(weak(kFinger * 39 / 100, 29)) << "as narrow as a stylus";
}

TEST_F(TouchOnANode, IsNotJudgedOffANodeAsAPalmOrAtABorder) {
  Peak p = peak_at(6, 4, kFinger / 3);
  p.x_q8 = static_cast<std::int16_t>(p.x_q8 + 65);
  EXPECT_FALSE(weak(kFinger / 3, 55, &p));
  p.x_q8 = static_cast<std::int16_t>(4 * 256 + 64);
  EXPECT_TRUE(weak(kFinger / 3, 55, &p));
  p.palm = true;
  EXPECT_FALSE(weak(kFinger / 3, 55, &p));
  const Peak border = peak_at(0, 4, kFinger / 3);
  EXPECT_FALSE(weak(kFinger / 3, 55, &border));
}

// --- through the engine --------------------------------------------------------------------------

class RunningDevice : public ::testing::Test {
 protected:
  RunningDevice() : device(PanelSpec{}) {
    device.power_up();
    EXPECT_TRUE(device.run_until(InputState::running, 2000));
  }
  const Finding* present(FindingKind kind) const {
    for (const Finding& f : device.engine.findings())
      if (f.kind == kind && f.confirmed && !f.gone) return &f;
    return nullptr;
  }
  /// Feeds frames in which `change(row, col)` counts are taken from each node.
  template <typename Change>
  void run(int frames, Change change) {
    for (int n = 0; n < frames; ++n) {
      std::vector<std::uint16_t> raw = device.scene.frame();
      for (int r = 0; r < kPanel.rows; ++r)
        for (int c = 0; c < kPanel.cols; ++c) {
          auto& v = raw[static_cast<std::size_t>(r * kPanel.cols + c)];
          v = static_cast<std::uint16_t>(v - change(r, c));
        }
      device.step(raw);
    }
  }
  /// 39 % of a finger, as wide as one: 55 % beside it, field solution of 3 pF to earth.
  void put_wide_faint_touch() {
    for (const auto& [r, c] : {std::pair{-1, 0}, {1, 0}, {0, -1}, {0, 1}})
      device.scene.add_node(8 + r, 5 + c, -0.39 * 0.55 * 175);
    device.scene.add_node(8, 5, -0.39 * 175);
  }
  Device device;
  std::mt19937 random{20};
};

TEST_F(RunningDevice, FindsInterferenceAlongTheTouchedColumnAndMakesNoTouchOfIt) {
  std::normal_distribution<double> noise(0, 500);
  const auto charger = [&](int, int c) { return c == 4 ? static_cast<int>(noise(random)) : 0; };
  run(20, charger);
  device.scene.add_finger(8, 4);
  device.touches = 0;
  run(40, charger);
  const Finding* f = present(FindingKind::interference);
  ASSERT_NE(f, nullptr);
  EXPECT_EQ(f->box.col0, 4);
  EXPECT_EQ(f->box.col1, 4);
  // Median of |x| of normal noise: 0.67 sigma, 337 counts; what tracking and common mode leave.
  EXPECT_NEAR(f->measured, 337, 200);
  EXPECT_GT(f->measured, f->limit);
  for (const Contact& c : device.reports) {
    if (!c.tip) continue;
    EXPECT_NEAR(c.y_q8, 8 * 256, 256) << "only where the finger is";
  }
  EXPECT_GT(device.touches, 0) << "the finger stands six times above the noise";
  EXPECT_GE(device.entries(JournalCode::interference_held_back).size(), 1u);
  EXPECT_TRUE(device.engine.input_on());
}

TEST_F(RunningDevice, FindsNoInterferenceInAQuietColumn) {
  device.scene.add_finger(8, 4);
  device.run_ms(1500);
  EXPECT_EQ(present(FindingKind::interference), nullptr);
  EXPECT_GT(device.touches, 0);
}

TEST_F(RunningDevice, FindsRowsThatSwingAndKeepsThemOutOfTheContacts) {
  std::normal_distribution<double> swing(0, 260);
  std::vector<int> shift(16);
  for (int n = 0; n < 60; ++n) {
    for (int& s : shift) s = static_cast<int>(swing(random));
    run(1, [&](int r, int) { return shift[static_cast<std::size_t>(r)]; });
  }
  const Finding* f = present(FindingKind::common_mode);
  ASSERT_NE(f, nullptr);
  // Mean of |x| of normal noise is 0.8 sigma, 207 counts; a good third of the rows swing beyond the
  // quiet limit of 210.
  EXPECT_NEAR(f->measured, 207, 40);
  EXPECT_EQ(f->limit, 105) << "3 % of a finger";
  EXPECT_EQ(device.touches, 0);
  EXPECT_TRUE(device.engine.input_on());
}

TEST_F(RunningDevice, FindsNoSwingInItsOrdinaryNoise) {
  device.run_ms(3000);
  EXPECT_EQ(present(FindingKind::common_mode), nullptr);
}

TEST_F(RunningDevice, FindsWeakCouplingOfAWideFaintTouchAndStillReportsIt) {
  put_wide_faint_touch();
  device.run_ms(600);
  const Finding* f = present(FindingKind::weak_coupling);
  ASSERT_NE(f, nullptr);
  EXPECT_NEAR(f->measured, 390, 30);
  EXPECT_EQ(f->limit, 650);
  EXPECT_EQ(f->box.row0, 8);
  EXPECT_EQ(f->box.col0, 5);
  EXPECT_GT(device.touches, 0);
}

// Noise along a column makes its peaks wide: what is told is the noise, and nothing of the way to
// earth, whatever the touch.
TEST_F(RunningDevice, FindsNoWeakCouplingInANoisyColumn) {
  std::normal_distribution<double> noise(0, 300);
  const auto charger = [&](int, int c) { return c == 5 ? static_cast<int>(noise(random)) : 0; };
  run(20, charger);
  put_wide_faint_touch();
  run(100, charger);
  EXPECT_EQ(present(FindingKind::weak_coupling), nullptr);
  ASSERT_NE(present(FindingKind::interference), nullptr);
  EXPECT_EQ(present(FindingKind::interference)->box.col0, 5);
  device.run_ms(2000);
  EXPECT_NE(present(FindingKind::weak_coupling), nullptr) << "the noise is gone, the touch is not";
}

TEST_F(RunningDevice, FindsNoWeakCouplingUnderAGroundedFinger) {
  device.scene.add_finger(8, 5);
  device.run_ms(600);
  EXPECT_EQ(present(FindingKind::weak_coupling), nullptr);
}

// An isolated 8 mm disc of water raises its node by 49.2 fF and lowers its rim by 9.5 (field
// solution, 1.1 mm glass).
class SplashedDevice : public RunningDevice {
 protected:
  void put_drop(int row, int col) {
    device.scene.add_node(row, col, 49.2);
    for (const auto& [r, c] : {std::pair{-1, 0}, {1, 0}, {0, -1}, {0, 1}})
      device.scene.add_node(row + r, col + c, -9.5);
  }
};

TEST_F(SplashedDevice, CallsThreeDropsOneFindingAndPauses) {
  put_drop(3, 2);
  put_drop(7, 7);
  put_drop(12, 4);
  device.run_ms(2500);
  const Finding* f = present(FindingKind::drops);
  ASSERT_NE(f, nullptr);
  EXPECT_LE(f->box.row0, 3);
  EXPECT_GE(f->box.row1, 12);
  EXPECT_LT(f->measured, -f->limit);
  int all = 0;
  for (const Finding& g : device.engine.findings()) all += g.confirmed && !g.gone ? 1 : 0;
  EXPECT_EQ(all, 1);
  EXPECT_EQ(device.engine.state(), InputState::paused);
  EXPECT_EQ(device.touches, 0);
}

TEST_F(SplashedDevice, CallsTwoDropsNoSplash) {
  put_drop(3, 2);
  put_drop(12, 7);
  device.run_ms(2500);
  EXPECT_EQ(present(FindingKind::drops), nullptr);
  EXPECT_EQ(device.engine.state(), InputState::paused)
      << "they are things on the glass all the same";
}

}  // namespace
}  // namespace bareglass
