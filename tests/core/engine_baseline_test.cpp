// When the baseline was taken with something on the glass: adopted objects, phantoms, the audit.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <functional>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::PanelSpec;

PanelSpec panel() {
  PanelSpec p;
  p.shape = {24, 16};
  p.seed = 71;
  return p;
}

/// Runs with `put` in the baseline.
Device adopted(bool with_reference, const std::function<void(support::EffectScene&)>& put) {
  Device device(panel(), with_reference, [](Settings& s) { s.policy = StartPolicy::adopt; });
  put(device.scene);
  device.power_up();
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
  device.run_ms(1000);
  EXPECT_EQ(device.entries(JournalCode::adopted).size(), 1u);
  EXPECT_EQ(device.touches, 0);
  return device;
}

/// A damp note that raises its nodes by more than a touch threshold: 66 fF, as an isolated 24 mm
/// disc does in its middle (field solution, 1.1 mm glass).
void put_damp_note(support::EffectScene& s) { s.add_film(6, 11, 4, 7, 66); }

class PanelThatAdoptedADampNote : public ::testing::TestWithParam<bool> {
 protected:
  JournalCode expected_code() const {
    return GetParam() ? JournalCode::baseline_disproved : JournalCode::object_lifted;
  }
};

TEST_P(PanelThatAdoptedADampNote, LiftedNoteIsReportedAsPhantomNotAsContact) {
  Device device = adopted(GetParam(), put_damp_note);
  device.scene.clear();
  device.step();
  int strongest = 0;
  for (const std::int16_t d : device.engine.difference()) strongest = std::max<int>(strongest, d);
  ASSERT_GT(strongest, device.engine.limits().touch_on) << "threshold logic would see a touch";
  device.run_ms(3000);
  EXPECT_EQ(device.touches, 0);
  const auto held = device.entries(JournalCode::phantom_held_back);
  ASSERT_EQ(held.size(), 1u);
  EXPECT_GE(held[0].value, held[0].limit);
  EXPECT_EQ(held[0].limit, 700);
  const auto lifted = device.entries(expected_code());
  ASSERT_EQ(lifted.size(), 1u);
  EXPECT_GE(std::abs(lifted[0].value), lifted[0].limit);
  // The baseline was taken anew, and the panel works where the note lay.
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_EQ(device.entries(JournalCode::input_on).size(), 2u);
  device.scene.add_finger(8, 6);
  device.run_ms(300);
  EXPECT_GT(device.touches, 0);
  EXPECT_EQ(device.broken_promises, 0);
}

// A look at the glass would find the finger.
TEST_P(PanelThatAdoptedADampNote, LiftOfTheNoteIsFollowedByALookWhenNobodyTouchesAnyMore) {
  Device device = adopted(GetParam(), put_damp_note);
  device.scene.add_finger(20, 12);
  device.run_ms(500);
  ASSERT_EQ(device.engine.contacts().size, 1u);
  device.scene.clear();
  device.scene.add_finger(20, 12);
  device.run_ms(5000);
  EXPECT_EQ(device.entries(JournalCode::phantom_held_back).size(), 1u);
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_EQ(device.engine.contacts().size, 1u) << "the finger, not the phantom";
  device.scene.clear();
  ASSERT_TRUE(device.run_until(InputState::looking, 2000));
  EXPECT_TRUE(device.run_until(InputState::running, 2000));
  EXPECT_EQ(device.lifts, 1);
  EXPECT_EQ(device.broken_promises, 0);
}

TEST_P(PanelThatAdoptedADampNote, TouchOnTheNoteIsAContact) {
  // Three times what the note's removal could show.
  Device device = adopted(GetParam(), put_damp_note);
  device.scene.add_finger(8, 6);
  device.run_ms(1500);
  EXPECT_GT(device.touches, 50);
  EXPECT_TRUE(device.entries(JournalCode::phantom_held_back).empty());
  EXPECT_TRUE(device.engine.input_on());
}

TEST_P(PanelThatAdoptedADampNote, SecondNoteOverItsEdgeIsANewFinding) {
  Device device = adopted(GetParam(), put_damp_note);
  device.scene.add_film(11, 15, 4, 7, 30);
  device.run_ms(2500);
  const auto off = device.entries(JournalCode::input_off);
  ASSERT_EQ(off.size(), 1u) << "it must not hide behind the one in the baseline";
  EXPECT_EQ(off[0].detail, static_cast<int>(FindingKind::raised_plateau));
}

INSTANTIATE_TEST_SUITE_P(WithAndWithoutReference, PanelThatAdoptedADampNote, ::testing::Bool(),
                         support::reference_name);

class PanelThatAdoptedAFinger : public ::testing::TestWithParam<bool> {};

TEST_P(PanelThatAdoptedAFinger, LiftLeavesAPlateauThatIsNeverAbsorbedInSilence) {
  Device device = adopted(GetParam(), [](support::EffectScene& s) { s.add_finger(10, 7); });
  device.scene.clear();
  device.step();
  const auto at = static_cast<std::size_t>(10 * 16 + 7);
  EXPECT_LT(device.engine.difference()[at], -3000);
  device.run_ms(900);
  EXPECT_LT(device.engine.difference()[at], -3000) << "not tracked away";
  device.run_ms(2000);
  const auto lifted =
      device.entries(GetParam() ? JournalCode::baseline_disproved : JournalCode::object_lifted);
  ASSERT_EQ(lifted.size(), 1u);
  EXPECT_LE(lifted[0].value, -3000);
  EXPECT_EQ(lifted[0].row, 10);
  EXPECT_EQ(lifted[0].col, 7);
  EXPECT_EQ(device.touches, 0);
  EXPECT_TRUE(device.engine.input_on());
  device.scene.add_finger(10, 7);
  device.run_ms(300);
  EXPECT_GT(device.touches, 0) << "the dead area lives again";
}

INSTANTIATE_TEST_SUITE_P(WithAndWithoutReference, PanelThatAdoptedAFinger, ::testing::Bool(),
                         support::reference_name);

class PanelThatAdoptedAStreak : public ::testing::TestWithParam<bool> {};

TEST_P(PanelThatAdoptedAStreak, LiftMakesNoTouchesAndJournalsThePhantom) {
  Device device =
      adopted(GetParam(), [](support::EffectScene& s) { s.add_diagonal_streak(5, 2, 5); });
  device.scene.clear();
  device.step();
  int strongest = 0;
  for (const std::int16_t d : device.engine.difference()) strongest = std::max<int>(strongest, d);
  device.run_ms(3000);
  EXPECT_EQ(device.touches, 0);
  const auto held = device.entries(JournalCode::phantom_held_back);
  ASSERT_EQ(held.size(), 1u) << "off the streak its lift looks like touches";
  EXPECT_EQ(held[0].value, strongest);
  EXPECT_TRUE(device.engine.input_on());
}

INSTANTIATE_TEST_SUITE_P(WithAndWithoutReference, PanelThatAdoptedAStreak, ::testing::Bool(),
                         support::reference_name);

TEST(PanelWhoseAdoptedNoteLeftBeforeAnotherLook, ForgetsItsWitness) {
  Device device = adopted(false, put_damp_note);
  device.scene.add_film(15, 20, 9, 12, 66);  // something else makes it look again
  ASSERT_TRUE(device.run_until(InputState::looking, 4000));
  device.scene.clear();  // and before it does, the note is gone
  device.scene.add_film(15, 20, 9, 12, 66);
  ASSERT_TRUE(device.run_until(InputState::running, 2000));
  int in_baseline = 0;
  for (const Finding& f : device.engine.findings()) {
    if (!f.in_baseline) continue;
    ++in_baseline;
    EXPECT_GE(f.box.row0, 13) << "only what lies there now is in the baseline";
  }
  EXPECT_EQ(in_baseline, 1);
}

TEST(LockedPanelThatIsPaused, IsNotBroughtBackByTheAudit) {
  // A reference that disagrees with the baseline by less than the limit, then an object, then a
  // region the reference explains: only a power-up may bring input back.
  PanelSpec spec = panel();
  Device device(spec, true, [](Settings& s) { s.policy = StartPolicy::lock; });
  device.scene.add_film(4, 7, 2, 5, 13.0);  // 260 counts: just not seen at power-up
  device.power_up();
  ASSERT_TRUE(device.run_until(InputState::running, 1000));
  device.scene.add_film(14, 20, 6, 12, 40);
  ASSERT_TRUE(device.run_until(InputState::paused, 4000));
  device.scene.clear();
  device.scene.add_film(4, 7, 2, 5, -8.0);  // 420 counts below the baseline, 260 of them its fault
  device.run_ms(2500);
  device.scene.clear();
  device.run_ms(3000);
  EXPECT_FALSE(device.engine.input_on());
}

// Every node has moved by 21 % of a finger since the factory, as on a panel that has warmed up; the
// baseline has followed.
TEST(PanelThatWarmedUp, TakesATouchForATouch) {
  Device device(panel(), true, [](Settings& s) { s.policy = StartPolicy::lock; });
  device.power_up();
  ASSERT_TRUE(device.run_until(InputState::running, 1000));
  const Shape shape = device.scene.spec().shape;
  double drift = 0;
  const auto warm = [&] {
    for (int r = 0; r < shape.rows; ++r)
      for (int c = 0; c < shape.cols; ++c) device.scene.add_node(r, c, drift);
  };
  for (; drift > -37; drift -= 0.008) {
    device.scene.clear();
    warm();
    device.step();
  }
  ASSERT_TRUE(device.engine.input_on());
  device.scene.clear();
  warm();
  device.scene.add_finger(10, 7, -62);  // 35 % of a finger: light
  device.run_ms(5000);
  EXPECT_TRUE(device.entries(JournalCode::phantom_held_back).empty());
  EXPECT_TRUE(device.engine.input_on());
  ASSERT_EQ(device.engine.contacts().size, 1u);
  EXPECT_TRUE(device.engine.contacts()[0].tip);
}

// Policy lock is about what lies there at power-up; whoever uses the panel now may touch it.
TEST(PanelThatLooksAnewInUse, WaitsForAHandToLeaveInsteadOfLocking) {
  Device device(panel(), true, [](Settings& s) { s.policy = StartPolicy::lock; });
  std::vector<std::uint16_t> baseline = device.scene.reference();
  for (int r = 5; r < 9; ++r)
    for (int c = 5; c < 9; ++c)
      baseline[static_cast<std::size_t>(r * device.scene.spec().shape.cols + c)] =
          static_cast<std::uint16_t>(
              baseline[static_cast<std::size_t>(r * device.scene.spec().shape.cols + c)] + 2000);
  device.engine.join_midway({baseline.data(), baseline.size()}, device.t_us);
  ASSERT_TRUE(device.run_until(InputState::looking, 3000));
  device.scene.add_finger(15, 4);
  ASSERT_TRUE(device.run_until(InputState::waiting, 2000));
  device.run_ms(5000);
  EXPECT_EQ(device.engine.state(), InputState::waiting);
  EXPECT_EQ(device.touches, 0);
  device.scene.clear();
  EXPECT_TRUE(device.run_until(InputState::running, 3000));
}

TEST(PanelWithAReference, DisprovesABaselineThatItJoinedWith) {
  Device device(panel(), true);
  std::vector<std::uint16_t> baseline = device.scene.reference();
  for (int r = 6; r < 9; ++r)
    for (int c = 4; c < 7; ++c) baseline[static_cast<std::size_t>(r * 16 + c)] += 1500;
  device.engine.join_midway({baseline.data(), baseline.size()}, device.t_us);
  EXPECT_EQ(device.entries(JournalCode::joined_midway).size(), 1u);
  device.run_ms(500);
  EXPECT_EQ(device.touches, 0);
  device.run_ms(2000);
  ASSERT_EQ(device.entries(JournalCode::baseline_disproved).size(), 1u);
  EXPECT_NEAR(device.entries(JournalCode::baseline_disproved)[0].value, 1500, 60);
  EXPECT_TRUE(device.engine.input_on());
}

}  // namespace
}  // namespace bareglass
