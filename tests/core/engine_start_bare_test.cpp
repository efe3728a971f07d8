// When a start may call its glass bare: nothing beyond the limit, nothing lost in a full table,
// nothing hidden by the panel's own spread, and frames that can be used.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <functional>
#include <memory>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::engine_panel;
using support::PanelSpec;
using support::policy;

std::size_t node(int row, int col) { return static_cast<std::size_t>(row * 16 + col); }

Device locked(bool with_reference = true, const PanelSpec& spec = engine_panel(41)) {
  return Device(spec, with_reference, policy(StartPolicy::lock));
}

/// The one entry of `code`; fails if there is none or another.
JournalEntry only(const Device& device, JournalCode code) {
  const auto found = device.entries(code);
  EXPECT_EQ(found.size(), 1u) << "code " << static_cast<int>(code);
  return found.empty() ? JournalEntry{} : found[0];
}

// --- single nodes --------------------------------------------------------------------------------

// An isolated 8 mm disc on a node of 0.7 mm glass: +108.4 fF there (field solution), little beside
// it; a finger takes 205.
TEST(PanelWithASingleNodeAtPowerUp, IsRefusedSinceASmallThingOnThinGlassLooksLikeThat) {
  for (const double change_ff : {-80.0, 108.4}) {
    Device device = locked();
    device.scene.add_node(8, 5, change_ff);
    device.power_up();
    EXPECT_TRUE(device.run_until(InputState::off, 1000));
    const JournalEntry off = only(device, JournalCode::input_off);
    EXPECT_EQ(off.detail, static_cast<int>(FindingKind::lone_node));
    EXPECT_EQ(off.row, 8);
    EXPECT_EQ(off.col, 5);
    EXPECT_NEAR(off.value, -change_ff * 20, 100);
    EXPECT_TRUE(device.entries(JournalCode::glass_bare).empty());
  }
}

TEST(PanelWithASingleNodeAtPowerUp, StartsUnderPolicyAdoptAndKnowsIt) {
  Device device(engine_panel(41), true, policy(StartPolicy::adopt));
  device.scene.add_node(8, 5, -80);
  device.power_up();
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
  EXPECT_EQ(only(device, JournalCode::adopted).detail, static_cast<int>(FindingKind::lone_node));
  device.run_ms(3000);
  ASSERT_EQ(device.engine.findings().size, 1u);
  EXPECT_TRUE(device.engine.findings()[0].in_baseline);
  EXPECT_TRUE(device.entries(JournalCode::finding_ended).empty()) << "it is still there";
}

TEST(BareGlassAtPowerUp, IsToldWithTheLargestDepartureOfAll) {
  for (int row = 0; row < 24; row += 3) {
    Device device = locked();
    device.scene.add_node(row, 7, -11);  // 220 counts of 280
    device.power_up();
    EXPECT_TRUE(device.run_until(InputState::running, 1000));
    EXPECT_NEAR(only(device, JournalCode::glass_bare).value, 220, 40);
  }
}

/// A unit whose reference an integrator has changed at some nodes.
class UnitWithAMarkedReference : public ::testing::Test {
 protected:
  UnitWithAMarkedReference()
      : scene_(engine_panel(41)), storage_(std::make_unique<Storage<24, 16>>()) {}

  /// Marks nodes with a reading of 0, then powers up on frames in which `change` alters each.
  InputState start(const std::vector<std::size_t>& marked,
                   const std::function<void(std::vector<std::uint16_t>&, int)>& change) {
    reference_ = scene_.reference();
    for (const std::size_t i : marked) reference_[i] = 0;
    Settings settings = support::settings_for(scene_.spec());
    EXPECT_EQ(engine_.configure(settings, {reference_.data(), reference_.size()}),
              SettingsField::none);
    engine_.power_up(0);
    for (int n = 1; n <= 80; ++n) step(n, change);
    return engine_.state();
  }
  void step(int n, const std::function<void(std::vector<std::uint16_t>&, int)>& change) {
    std::vector<std::uint16_t> raw = scene_.frame();
    change(raw, n);
    engine_.step({raw.data(),
                  {24, 16},
                  static_cast<std::uint32_t>(n),
                  static_cast<std::uint64_t>(n) * 20000});
  }

  support::EffectScene scene_;
  std::unique_ptr<Storage<24, 16>> storage_;
  Engine engine_{storage_->memory()};
  std::vector<std::uint16_t> reference_;
};

TEST_F(UnitWithAMarkedReference, StartsWithADeadOrARestlessNodeThatIsMarked) {
  const auto dead = [](std::vector<std::uint16_t>& raw, int) { raw[node(8, 5)] = 0; };
  const auto hot = [](std::vector<std::uint16_t>& raw, int n) {
    raw[node(8, 5)] = static_cast<std::uint16_t>(n % 2 ? 9000 : 31000);
  };
  EXPECT_EQ(start({}, dead), InputState::off);
  EXPECT_EQ(start({}, hot), InputState::off);
  EXPECT_EQ(start({node(8, 5)}, dead), InputState::running);
  EXPECT_EQ(start({node(8, 5)}, hot), InputState::running);
}

TEST_F(UnitWithAMarkedReference, SeesWhatLiesBesideAMarkedNodeAndOnOthers) {
  const auto beside = [](std::vector<std::uint16_t>& raw, int) {
    raw[node(8, 5)] = 0;
    raw[node(8, 6)] = static_cast<std::uint16_t>(raw[node(8, 6)] - 1200);
  };
  EXPECT_EQ(start({node(8, 5)}, beside), InputState::off);
}

TEST_F(UnitWithAMarkedReference, TakesNodesSideBySideForAFaultAndNotForMarks) {
  const auto both = [](std::vector<std::uint16_t>& raw, int) {
    raw[node(8, 5)] = raw[node(9, 6)] = 0;
  };
  EXPECT_EQ(start({node(8, 5), node(9, 6)}, both), InputState::off);
  EXPECT_EQ(start({node(8, 5), node(12, 9)}, [](std::vector<std::uint16_t>& raw,
                                                int) { raw[node(8, 5)] = raw[node(12, 9)] = 0; }),
            InputState::running);
  std::vector<std::size_t> all;
  for (std::size_t i = 0; i < 24 * 16; ++i) all.push_back(i);
  EXPECT_EQ(start(all, [](std::vector<std::uint16_t>&, int) {}), InputState::off)
      << "an empty reference excuses nothing";
}

TEST_F(UnitWithAMarkedReference, ReportsTouchesAtAMarkedNodeThatStillReads) {
  ASSERT_EQ(start({node(8, 5)}, [](std::vector<std::uint16_t>&, int) {}), InputState::running);
  scene_.add_finger(8, 5);
  for (int n = 81; n <= 200; ++n) step(n, [](std::vector<std::uint16_t>&, int) {});
  EXPECT_EQ(engine_.contacts().size, 1u);
  EXPECT_TRUE(engine_.input_on()) << "its reference says nothing about its baseline";
}

// --- what finds no place -------------------------------------------------------------------------

// Films and nodes apart from each other, more than any table holds, and a damp note among them.
TEST(PanelWithMoreThanItsTablesHold, IsNeverBareAndKeepsTheWeightiestFinding) {
  for (int singles = 0; singles <= 40; ++singles) {
    Device device = locked();
    for (int k = 0; k < singles; ++k)
      device.scene.add_node(3 * (k / 5), 3 * (k % 5), k % 2 ? 40.0 : -40.0);
    device.scene.add_film(19, 22, 8, 12, 18.5);  // the note, +10.6 % of a finger
    device.power_up();
    ASSERT_TRUE(device.run_until(InputState::off, 1000)) << singles;
    ASSERT_TRUE(device.entries(JournalCode::glass_bare).empty()) << singles;
    if (singles > 5 && singles < 15) {
      EXPECT_EQ(only(device, JournalCode::findings_overflow).limit, FindingTable::kMaxFindings);
      EXPECT_EQ(device.entries(JournalCode::findings_overflow)[0].value, singles - 5);
      EXPECT_EQ(only(device, JournalCode::input_off).detail,
                static_cast<int>(FindingKind::raised_plateau))
          << "the note outweighs the nodes";
    }
    if (singles <= 16) continue;
    EXPECT_EQ(only(device, JournalCode::regions_overflow).limit, RegionTable::kMaxRegions);
  }
}

TEST(PanelWithMoreFaultyLinesThanItsTableHolds, SaysSoAndIsRefused) {
  for (int open = 5; open <= 7; ++open) {
    Device device = locked();
    device.power_up();
    for (int n = 0; n < 40; ++n) {
      std::vector<std::uint16_t> raw = device.scene.frame();
      for (int k = 0; k < open; ++k)
        for (int c = 0; c < 16; ++c) raw[node(2 + 3 * k, c)] = 100;
      device.step(raw);
    }
    EXPECT_EQ(device.engine.state(), InputState::off);
    const auto overflow = device.entries(JournalCode::lines_overflow);
    ASSERT_EQ(overflow.size(), open > LineFaults::kMaxFaults ? 1u : 0u);
    if (overflow.empty()) continue;
    EXPECT_EQ(overflow[0].value, open - LineFaults::kMaxFaults);
  }
}

// --- what all nodes share ------------------------------------------------------------------------

TEST(PanelWarmerThanItsReference, StillShowsAThingThatDepartsTheOtherWay) {
  // The whole panel reads 200 counts high, the thing takes 330 at its nodes: 130 are left.
  for (const bool thing : {false, true}) {
    Device device = locked();
    device.power_up();
    for (int n = 0; n < 40; ++n) {
      std::vector<std::uint16_t> raw = device.scene.frame();
      for (auto& v : raw) v = static_cast<std::uint16_t>(v + 200);
      for (int r = 10; thing && r < 14; ++r)
        for (int c = 5; c < 9; ++c)
          raw[node(r, c)] = static_cast<std::uint16_t>(raw[node(r, c)] - 330);
      device.step(raw);
    }
    EXPECT_EQ(device.engine.state(), thing ? InputState::off : InputState::running);
    if (!thing) continue;
    EXPECT_NEAR(only(device, JournalCode::input_off).value, 330, 60);
  }
}

// --- the panel's own spread ----------------------------------------------------------------------

PanelSpec spread_of(double ff, std::uint64_t seed) {
  PanelSpec spec = engine_panel(seed);
  spec.spread_ff = ff;
  return spec;
}

TEST(PanelWithoutReferenceWhoseNodesDiffer, ComesOnAndSaysFromWhatSizeItSees) {
  int refused = 0;
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    Device device = locked(false, spread_of(13, seed));  // 1.1 % of a node, 7.4 % of a finger
    device.power_up();
    refused += device.run_until(InputState::running, 1000) ? 0 : 1;
    const JournalEntry seen = only(device, JournalCode::seen_from);
    // 4.8 and 3.5 standard deviations of 260 counts; the estimate from 24 rows is off by 10 %.
    EXPECT_NEAR(seen.limit, 4.8 * 260, 400) << "seed " << seed;
    EXPECT_NEAR(seen.value, 8.3 * 260, 700) << "seed " << seed;
  }
  EXPECT_LE(refused, 3) << "of 60";
}

TEST(PanelWithoutReferenceWhoseNodesDiffer, AlwaysSeesAFingerWhereverItRests) {
  // Up to the spread at which nothing is called bare any more, most of them just below it.
  for (std::uint64_t seed = 1; seed <= 400; ++seed)
    for (const double off : {0.0, 0.25, 0.5}) {
      Device device = locked(
          false, spread_of(static_cast<double>(seed % 4 ? 16 + seed % 12 : seed % 30), seed));
      device.scene.add_finger(9 + off, 6 + off);
      device.power_up();
      EXPECT_TRUE(device.run_until(InputState::off, 1000)) << "seed " << seed << ", off " << off;
    }
}

TEST(PanelWithoutReferenceWhoseNodesDiffer, IsNotCalledBareIfAFingerWouldNotShow) {
  int hidden = 0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    Device device = locked(false, spread_of(45, seed));  // 4 % of a node, 26 % of a finger
    device.power_up();
    EXPECT_TRUE(device.run_until(InputState::off, 1000));
    const auto told = device.entries(JournalCode::spread_hides);
    if (told.empty()) continue;
    ++hidden;
    EXPECT_GT(told[0].value, told[0].limit);
    EXPECT_EQ(told[0].limit, 1925) << "55 % of a finger";
    const JournalEntry off = only(device, JournalCode::input_off);
    EXPECT_EQ(off.detail, 0);
    EXPECT_EQ(off.row, kNoLine);
    EXPECT_EQ(off.value, told[0].value);
  }
  EXPECT_GE(hidden, 17) << "and the rest for a node that stands out";
}

TEST(PanelWithoutReferenceWhoseNodesDiffer, ComesOnIfItsIntegratorAcceptsWhatMayHide) {
  Device device(spread_of(45, 3), false, [](Settings& s) { s.smooth_most_permille = 2000; });
  device.power_up();
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
  EXPECT_GT(only(device, JournalCode::seen_from).value, 3500) << "more than a finger, as it says";
}

TEST(PanelWithoutReferenceWhoseNodesDiffer, WaitsNoLongerThanTheThingLies) {
  // The limit after a refusal is three quarters, but never within the spread.
  Device device(spread_of(13, 5), false, policy(StartPolicy::wait));
  device.scene.add_finger(9, 6);
  device.power_up();
  ASSERT_TRUE(device.run_until(InputState::waiting, 1000));
  device.scene.clear();
  EXPECT_TRUE(device.run_until(InputState::running, 3000));
}

}  // namespace
}  // namespace bareglass
