// Line faults in frames of known size. Sizes are the results of a field solution of a panel of bars
// and stripes under 1.1 mm glass; each is named where it is used.
#include "bareglass/core/lines.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/device.hpp"
#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::PanelSpec;

/// A device whose lines can be broken: every frame of the scene is changed before it is fed.
class PanelWithLines : public ::testing::TestWithParam<bool> {
 protected:
  PanelWithLines() : device(PanelSpec{}, GetParam()) {}

  void keep(bool of_rows, int line, int from, double share) {
    for (int k = from; k < (of_rows ? 10 : 16); ++k)
      share_[static_cast<std::size_t>(of_rows ? line * 10 + k : k * 10 + line)] *= share;
  }
  void run(int frames) {
    for (int n = 0; n < frames; ++n) {
      std::vector<std::uint16_t> raw = device.scene.frame();
      for (std::size_t i = 0; i < raw.size(); ++i)
        raw[i] = static_cast<std::uint16_t>(std::lround(raw[i] * share_[i]));
      if (bridge_ >= 0)
        for (int c = 0; c < 10; ++c) {
          auto& a = raw[static_cast<std::size_t>(bridge_ * 10 + c)];
          auto& b = raw[static_cast<std::size_t>(bridge_ * 10 + 10 + c)];
          a = b = static_cast<std::uint16_t>((a + b) / 2);
        }
      device.step(raw);
    }
  }
  /// Power-up, and frames enough for the look to end.
  void power_up_and_look() {
    device.power_up();
    run(30);
  }
  void start_bare() {
    power_up_and_look();
    ASSERT_EQ(device.engine.state(), InputState::running);
  }
  const Finding* present(FindingKind kind) const {
    for (const Finding& f : device.engine.findings())
      if (f.kind == kind && f.confirmed && !f.gone) return &f;
    return nullptr;
  }
  int present_findings() const {
    int n = 0;
    for (const Finding& f : device.engine.findings()) n += f.confirmed && !f.gone ? 1 : 0;
    return n;
  }

  /// The one present finding of `kind`; fails if it is not on the lines first..last.
  const Finding* expect_on_lines(FindingKind kind, int first, int last) const {
    const Finding* f = present(kind);
    EXPECT_NE(f, nullptr) << name_of(kind);
    if (f == nullptr) return nullptr;
    EXPECT_EQ(f->lines.first, first);
    EXPECT_EQ(f->lines.last, last);
    return f;
  }

  Device device;
  int bridge_ = -1;

 private:
  std::vector<double> share_ = std::vector<double>(160, 1.0);
};
INSTANTIATE_TEST_SUITE_P(WithAndWithoutReference, PanelWithLines, ::testing::Bool(),
                         support::reference_name);

// Row tail open: -100 %, its neighbours +7.8 %.
TEST_P(PanelWithLines, FindsAnOpenRowAtPowerUpAndAlone) {
  keep(true, 6, 0, 0.0);
  keep(true, 5, 0, 1.078);
  keep(true, 7, 0, 1.078);
  power_up_and_look();
  const Finding* f = present(FindingKind::open_line);
  ASSERT_NE(f, nullptr);
  EXPECT_TRUE(f->lines.of_rows);
  EXPECT_EQ(f->lines.first, 6);
  EXPECT_EQ(f->lines.last, 6);
  EXPECT_GE(f->measured, 950);
  EXPECT_EQ(present_findings(), 1) << "its neighbours' rise is no film";
  EXPECT_EQ(device.engine.state(), InputState::off);
}

TEST_P(PanelWithLines, FindsAnOpenColumnWhileRunning) {
  start_bare();
  keep(false, 4, 0, 0.0);
  run(110);
  const Finding* f = present(FindingKind::open_line);
  ASSERT_NE(f, nullptr);
  EXPECT_FALSE(f->lines.of_rows);
  EXPECT_EQ(f->lines.first, 4);
  EXPECT_EQ(present_findings(), 1);
  EXPECT_EQ(device.touches, 0);
}

// Row cut: the far part -99.8 %, the near part unchanged.
TEST_P(PanelWithLines, FindsWhereARowIsCut) {
  keep(true, 9, 6, 0.002);
  power_up_and_look();
  const Finding* f = present(FindingKind::cut_line);
  ASSERT_NE(f, nullptr);
  EXPECT_EQ(f->lines.first, 9);
  EXPECT_EQ(f->lines.at, 6);
  EXPECT_EQ(present_findings(), 1);
}

// A corner broken off takes two nodes of each of two rows: 2.5 % of the nodes at the end of the
// converter's range, where 2 % spoil a frame.
TEST_P(PanelWithLines, ReportsContactsElsewhereWhileACornerIsDead) {
  start_bare();
  keep(true, 14, 8, 0.0);
  keep(true, 15, 8, 0.0);
  device.scene.add_finger(4, 3);
  int ok = 0;
  for (int n = 0; n < 30; ++n) {
    run(1);
    ok += device.engine.contacts().size == 1 ? 1 : 0;
  }
  EXPECT_GE(ok, 28);
  EXPECT_TRUE(device.entries(JournalCode::frame_saturated).empty());
}

// A worn tail of 20 kOhm takes 28 % of a row, 10 kOhm 6 %.
TEST_P(PanelWithLines, TellsOneLineOfRaisedResistanceFromAGroup) {
  for (const double share : {0.72, 0.94}) {
    SCOPED_TRACE(share);
    PanelWithLines::keep(true, 5, 0, share);
    power_up_and_look();
    const Finding* f = present(FindingKind::raised_resistance);
    ASSERT_NE(f, nullptr);
    EXPECT_EQ(f->lines.first, 5);
    keep(true, 5, 0, 1 / share);
  }
  for (int r = 8; r <= 11; ++r) keep(true, r, 0, 0.94);
  power_up_and_look();
  const Finding* f = expect_on_lines(FindingKind::tail_group, 8, 11);
  ASSERT_NE(f, nullptr);
  EXPECT_NEAR(f->measured, 60, 12);
}

// A worn tail of unequal contacts: the weaker loss alone could be a film's skirt, but nothing on
// the glass takes half of a reading.
TEST_P(PanelWithLines, CallsUnequalNeighboursATailGroupIfOneLosesMoreThanAnyFilm) {
  keep(true, 8, 0, 0.5);
  keep(true, 9, 0, 0.85);
  power_up_and_look();
  const Finding* f = expect_on_lines(FindingKind::tail_group, 8, 9);
  ASSERT_NE(f, nullptr);
  EXPECT_EQ(present_findings(), 1);
}

// Two rows bridged, the idle one low: both read the same, their mean.
TEST_P(PanelWithLines, FindsABridgeAtPowerUpAndWhileRunning) {
  bridge_ = 8;
  power_up_and_look();
  const Finding* f = expect_on_lines(FindingKind::bridged_lines, 8, 9);
  ASSERT_NE(f, nullptr);
  bridge_ = -1;
  start_bare();
  EXPECT_EQ(present_findings(), 0);
  bridge_ = 3;
  run(150);
  f = present(FindingKind::bridged_lines);
  ASSERT_NE(f, nullptr);
  EXPECT_EQ(f->lines.first, 3);
}

// A broken column takes one crossing of every pair of rows, whichever column it is.
TEST_P(PanelWithLines, FindsABridgeOfRowsBesideAnOpenColumn) {
  for (const int open : {0, 1, 5, 9}) {
    keep(false, open, 0, 1e-9);
    bridge_ = 8;
    power_up_and_look();
    expect_on_lines(FindingKind::bridged_lines, 8, 9);
    expect_on_lines(FindingKind::open_line, open, open);
    EXPECT_EQ(present_findings(), 2) << "column " << open;
    keep(false, open, 0, 1e9);
  }
}

TEST_P(PanelWithLines, CallsALooseLineIntermittentAndKeepsInputOn) {
  start_bare();
  for (int n = 0; n < 4; ++n) {
    keep(false, 6, 0, 1e-9);
    run(8);
    keep(false, 6, 0, 1e9);
    run(20);
  }
  const Finding* f = present(FindingKind::intermittent_line);
  ASSERT_NE(f, nullptr);
  EXPECT_EQ(f->lines.first, 6);
  EXPECT_TRUE(device.engine.input_on());
  EXPECT_EQ(device.touches, 0);
  EXPECT_GE(device.entries(JournalCode::line_held_back).size(), 1u);
  device.scene.add_finger(8, 6);
  run(30);
  EXPECT_EQ(device.touches, 0) << "a contact on that line is not reported";
}

TEST_P(PanelWithLines, SeesNoLineFaultInWhatLiesOnTheGlass) {
  const auto none = [&](const char* what) {
    for (const Finding& f : device.engine.findings())
      EXPECT_FALSE(is_line_kind(f.kind) && !f.gone)
          << what << ": " << name_of(f.kind) << " " << int{f.lines.of_rows} << " "
          << int{f.lines.first} << " to " << int{f.lines.last} << ", " << f.measured;
  };
  for (std::uint64_t thing = 0; thing < 6; ++thing) {
    SCOPED_TRACE(thing);
    device.scene.clear();
    start_bare();
    if (thing == 1) device.scene.add_finger(5, 5);
    if (thing == 2) device.scene.add_film(4, 7, 0, 9, -175);  // earthed, over whole rows
    if (thing == 3) device.scene.add_film(5, 5, 0, 9, 19);    // a streak along one row
    if (thing == 4) device.scene.add_wet_top_bezel(0, 9, -28);
    if (thing == 5) device.scene.add_diagonal_streak(5, 2, 5);
    run(150);
    none("running");
    power_up_and_look();
    none("at power-up");
  }
}

// The drive falls with the supply: all nodes in proportion.
TEST_P(PanelWithLines, FindsAFallOfTheSupplyUnlessTheDeviceKnowsBetter) {
  start_bare();
  for (int r = 0; r < 16; ++r) keep(true, r, 0, 0.9);
  run(60);
  EXPECT_NE(present(FindingKind::supply_sag), nullptr);
  device.power_up();
  device.engine.note_supply(3700, 3000, device.t_us);
  run(60);
  EXPECT_EQ(present(FindingKind::supply_sag), nullptr);
  device.engine.note_supply(2700, 3000, device.t_us);
  ASSERT_EQ(device.entries(JournalCode::supply_low).size(), 1u);
  EXPECT_EQ(device.entries(JournalCode::supply_low)[0].value, 2700);
}

TEST(ScoreOfAFinding, GrowsWithTheMarginAndFallsWithNoiseAndDoubt) {
  EXPECT_EQ(score_of(100, 100, 0, 1000), 490);  // m = 1/2, z = 100: 1/2 * 100/102
  EXPECT_GT(score_of(300, 100, 0, 1000), score_of(200, 100, 0, 1000));
  EXPECT_LT(score_of(300, 100, 100, 1000), score_of(300, 100, 10, 1000));
  EXPECT_EQ(score_of(-300, 100, 10, 1000), score_of(300, 100, 10, 1000));
  EXPECT_EQ(score_of(300, 100, 10, 0), 0);
}

TEST(ConfidenceOfAFinding, IsAShareForEveryKindAndGrowsWithTheScore) {
  for (int n = 1; n < 132; ++n) {
    const auto kind = static_cast<FindingKind>(n);
    if ((n >= 10 && n < 64) || (n >= 70 && n < 128)) continue;
    EXPECT_LE(confidence_of(kind, 0), confidence_of(kind, 1000)) << name_of(kind);
    EXPECT_GT(confidence_of(kind, 1000), 0) << name_of(kind);
    EXPECT_LE(confidence_of(kind, 1000), 1000) << name_of(kind);
    EXPECT_NEAR(confidence_of(kind, 500), (confidence_of(kind, 0) + confidence_of(kind, 1000)) / 2,
                1)
        << name_of(kind);
  }
  EXPECT_EQ(confidence_of(FindingKind::supply_sag, 1000), 1000);
  EXPECT_EQ(confidence_of(FindingKind::supply_sag, 0), 940);
  EXPECT_EQ(confidence_of(FindingKind::held_touch, 0), 200);
}

}  // namespace
}  // namespace bareglass
