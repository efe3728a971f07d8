// Damaged lines, against the line table of an independent field solution of a panel of 14 rows and
// 24 columns (row 45.3 pF, column 16.2 pF, trace 8 pF, idle rows at 0 V), raw changes in per cent.
#include <gtest/gtest.h>

#include "support/quiet_panel.hpp"

namespace bareglass::test {
namespace {

using panel::LineFault;
using panel::NodeMatrix;
using panel::Outline;
using panel::Situation;
using Kind = LineFault::Kind;

constexpr int kRows = 14;
constexpr int kColumns = 24;

QuietPanel& wide_panel() {
  static QuietPanel panel(1.1, quiet_setup(kRows, kColumns));
  return panel;
}

LineFault fault(Kind kind, bool of_rows, int first, int last, int at = 1, double ohm = 0.0) {
  return {kind, of_rows, first, last, at, ohm, 0.0, 0.0};
}

NodeMatrix percent_with(const LineFault& f, QuietPanel& panel = wide_panel()) {
  Situation s;
  s.faults = {f};
  return panel.percent(s);
}

TEST(PanelWithRowCut, KeepsTheNearPartAndLosesTheFarPart) {
  const NodeMatrix p = percent_with(fault(Kind::cut, true, 6, 6, 12));
  for (int c = 0; c < 12; ++c) EXPECT_NEAR(p(6, c), 0.0, 0.2);
  for (int c = 12; c < kColumns; ++c) EXPECT_NEAR(p(6, c), -99.8, 0.3);
  for (const int beside : {5, 7}) {
    for (int c = 0; c < 12; ++c) EXPECT_NEAR(p(beside, c), 0.0, 0.2);
    for (int c = 12; c < kColumns; ++c) EXPECT_NEAR(p(beside, c), 7.8, 0.3);
  }
  for (int c = 0; c < kColumns; ++c) EXPECT_NEAR(p(4, c), 0.1, 0.3);
}

TEST(PanelWithRowCut, LosesTheOtherPartWhenDrivenFromTheOtherSide) {
  panel::PanelSetup setup = quiet_setup(6, 8);
  setup.lines.driven_at = panel::RowEnd::right;
  QuietPanel panel(1.1, setup);
  const NodeMatrix p = percent_with(fault(Kind::cut, true, 2, 2, 3), panel);
  for (int c = 0; c < 3; ++c) EXPECT_LT(p(2, c), -99.0);
  for (int c = 3; c < 8; ++c) EXPECT_NEAR(p(2, c), 0.0, 0.2);
}

TEST(PanelWithOpenRowTail, LosesTheRowAndRaisesItsNeighbours) {
  const NodeMatrix p = percent_with(fault(Kind::open_tail, true, 6, 6));
  for (int c = 0; c < kColumns; ++c) {
    EXPECT_NEAR(p(6, c), -100.0, 0.3);
    EXPECT_NEAR(p(5, c), 7.8, 0.3);
    EXPECT_NEAR(p(7, c), 7.8, 0.3);
  }
}

TEST(PanelWithOpenColumnTail, LosesTheColumnAndBarelyTouchesOthers) {
  const NodeMatrix p = percent_with(fault(Kind::open_tail, false, 9, 9));
  for (int r = 0; r < kRows; ++r) {
    EXPECT_NEAR(p(r, 9), -100.0, 0.1);
    EXPECT_NEAR(p(r, 8), 0.0, 1.0);
    EXPECT_NEAR(p(r, 7), 0.0, 0.1);
  }
}

TEST(PanelWithColumnCut, LosesThePartBeyondTheCut) {
  const NodeMatrix p = percent_with(fault(Kind::cut, false, 9, 9, 5));
  for (int r = 0; r < 5; ++r) EXPECT_NEAR(p(r, 9), -100.0, 0.1);  // sensed at the bottom
  for (int r = 5; r < kRows; ++r) EXPECT_NEAR(p(r, 9), 0.0, 0.2);
}

TEST(PanelWithBridgedRows, HidesTheBridgeUntilItIsTouched) {
  const LineFault bridge = fault(Kind::bridged, true, 6, 7);
  const NodeMatrix bare = percent_with(bridge);
  for (int c = 0; c < kColumns; ++c) {
    EXPECT_NEAR(bare(6, c), 0.0, 0.3);
    EXPECT_NEAR(bare(7, c), 0.0, 0.3);
  }
  Situation s;
  s.conductors = {{Outline::disc(8.0), node_at(6, 9), 100.0, 0.0, {}}};
  const NodeMatrix whole = wide_panel().change(s);
  s.faults = {bridge};
  const NodeMatrix halved = wide_panel().change(s);
  EXPECT_NEAR(halved(6, 9), halved(7, 9), 0.1);
  EXPECT_NEAR(halved(6, 9), 0.5 * (whole(6, 9) + whole(7, 9)), 0.5);
}

TEST(PanelWithBridgedRowsAndFloatingIdleRows, DoublesBoth) {
  panel::PanelSetup setup = quiet_setup(kRows, 8);
  setup.lines.idle = panel::IdleRows::floating;
  setup.front_end.counts_per_ff = 20.0;
  QuietPanel panel(1.1, setup);
  Situation s;
  s.faults = {fault(Kind::bridged, true, 6, 7)};
  const NodeMatrix change = panel.change(s);
  // Floating neighbours ride along with or without the bridge: what comes in is one more node.
  const double node = panel.panel().glass().numbers().node;
  EXPECT_NEAR(change(6, 4), node, 0.02 * node);
  EXPECT_NEAR(change(7, 4), node, 0.02 * node);
}

TEST(PanelWithBridgedColumns, SharesATouchBetweenThem) {
  const LineFault bridge = fault(Kind::bridged, false, 9, 10);
  Situation s;
  s.conductors = {{Outline::disc(8.0), node_at(6, 9), 100.0, 0.0, {}}};
  const NodeMatrix whole = wide_panel().change(s);
  s.faults = {bridge};
  const NodeMatrix halved = wide_panel().change(s);
  EXPECT_NEAR(halved(6, 9), halved(6, 10), 0.1);
  EXPECT_NEAR(halved(6, 9), 0.5 * (whole(6, 9) + whole(6, 10)), 0.5);
}

TEST(PanelWithBridgedColumnsReadOneAtATime, DoublesBoth) {
  panel::PanelSetup setup = quiet_setup(6, 8);
  setup.lines.amplifiers = panel::Amplifiers::one_at_a_time;
  setup.front_end.counts_per_ff = 20.0;
  QuietPanel panel(1.1, setup);
  const NodeMatrix p = percent_with(fault(Kind::bridged, false, 2, 3), panel);
  EXPECT_NEAR(p(3, 2), 100.0, 1.0);
  EXPECT_NEAR(p(3, 3), 100.0, 1.0);
  EXPECT_NEAR(p(3, 4), 0.0, 0.1);
}

TEST(PanelWithRaisedTailResistance, LosesTheWholeLineAlmostEqually) {
  // Square wave, half period 2 us: row +10 kohm -6 %, +20 kohm -28 %, +50 kohm -64 %; column
  // +20 kohm -4 %, +50 kohm -33 %; the far end 0.1 to 2 % more.
  const struct {
    bool of_rows;
    double ohm, expected;
  } cases[] = {{true, 10e3, -6},
               {true, 20e3, -28},
               {true, 50e3, -64},
               {false, 20e3, -4},
               {false, 50e3, -33}};
  for (const auto& c : cases) {
    const NodeMatrix p = percent_with(fault(Kind::raised_resistance, c.of_rows, 6, 6, 1, c.ohm));
    const double near = c.of_rows ? p(6, 0) : p(kRows - 1, 6);
    const double far = c.of_rows ? p(6, kColumns - 1) : p(0, 6);
    EXPECT_NEAR(near, c.expected, 2.0) << c.ohm << (c.of_rows ? " row" : " column");
    EXPECT_LT(far, near + 0.05);
    EXPECT_NEAR(far, near, 2.5) << c.ohm;
    EXPECT_NEAR(c.of_rows ? p(5, 3) : p(3, 5), 0.0, 0.1);
  }
}

TEST(PanelWithIntermittentRow, ComesAndGoesAsOftenAsItIsTold) {
  panel::PanelSetup setup = quiet_setup(6, 8);
  setup.seed = 7;
  QuietPanel panel(1.1, setup);
  Situation s;
  LineFault f = fault(Kind::open_tail, true, 2, 2);
  f.mean_there_s = 0.2;
  f.mean_away_s = 0.6;
  s.faults = {f};
  std::vector<std::uint16_t> counts;
  int there = 0;
  int changes = 0;
  bool before = false;
  constexpr int kFrames = 20000;
  for (int n = 1; n <= kFrames; ++n) {
    panel.panel().scan(counts, s, 20000ull * static_cast<unsigned>(n));
    const bool open = counts[2 * 8 + 4] < 1000;
    EXPECT_EQ(open, panel.panel().faults_there()[0]);
    there += open ? 1 : 0;
    changes += open != before ? 1 : 0;
    before = open;
  }
  // 400 s: about 500 cycles of 0.8 s; the share of time has a standard error of about
  // 0.25 * 0.75 * sqrt(2 / 500) = 1.2 %; within 4 of them.
  EXPECT_NEAR(there / static_cast<double>(kFrames), 0.25, 0.05) << "seed 7";
  EXPECT_NEAR(changes, 2 * 400 / 0.8, 200) << "seed 7";
}

TEST(PanelWithFaultBeyondItsLines, RefusesIt) {
  Situation s;
  s.faults = {fault(Kind::open_tail, true, 13, 14)};
  EXPECT_THROW(wide_panel().change(s), std::invalid_argument);
  s.faults = {fault(Kind::cut, true, 3, 3, kColumns)};
  EXPECT_THROW(wide_panel().change(s), std::invalid_argument);
  s.faults.clear();
  EXPECT_NO_THROW(wide_panel().change(s));
}

}  // namespace
}  // namespace bareglass::test
