// What the engine does before it trusts a baseline: settling, looking, and the four policies.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <functional>
#include <memory>
#include <ostream>
#include <string>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::engine_panel;
using support::policy;

void expect_limit_passed(const JournalEntry& e) {
  EXPECT_GE(std::abs(e.value), e.limit) << "code " << static_cast<int>(e.code);
}

class BarePanel : public ::testing::TestWithParam<bool> {};

TEST_P(BarePanel, ComesOnAfterSettlingAndOneLook) {
  Device device(engine_panel(41), GetParam());
  ASSERT_EQ(device.configured, SettingsField::none);
  EXPECT_EQ(device.engine.state(), InputState::unpowered);
  device.power_up();
  EXPECT_EQ(device.engine.state(), InputState::settling);
  int settling = 0;
  int looking = 0;
  for (int frame = 0; !device.engine.input_on() && frame < 100; ++frame) {
    device.step();
    settling += device.engine.state() == InputState::settling;
    looking += device.engine.state() == InputState::looking;
  }
  EXPECT_EQ(settling, 2);  // the first frame and the next; 40 ms after the first the look begins
  EXPECT_EQ(looking, 15);  // and the sixteenth ends it
  const auto settled = device.entries(JournalCode::settled);
  ASSERT_EQ(settled.size(), 1u);
  EXPECT_EQ(settled[0].value, 2);
  EXPECT_EQ(settled[0].limit, 40);
  const auto bare = device.entries(JournalCode::glass_bare);
  ASSERT_EQ(bare.size(), 1u);
  EXPECT_LT(bare[0].value, bare[0].limit);
  EXPECT_EQ(bare[0].limit, GetParam() ? 280 : 700);
  ASSERT_EQ(device.entries(JournalCode::input_on).size(), 1u);
  EXPECT_EQ(device.entries(JournalCode::input_on)[0].value, 1);
  // From the look's ranges: 1.5 fF of each node and 0.6 fF of its row, 20 counts per fF.
  EXPECT_NEAR(device.engine.panel_sigma_q4() / 16.0, 32.3, 2.0);
}

INSTANTIATE_TEST_SUITE_P(WithAndWithoutReference, BarePanel, ::testing::Bool(),
                         support::reference_name);

TEST(PanelPoweredUp, LearnsNothingFromTheFramesItDrops) {
  Device device(engine_panel(41));
  device.power_up();
  std::vector<std::uint16_t> wild(24 * 16, 12000);
  device.step(wild);  // while settling
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
  EXPECT_LT(device.entries(JournalCode::sampled)[0].value, 300);
}

TEST(PanelPoweredUp, DoesNotTakeAFrameFromBeforePowerUpForASettledOne) {
  Device device(engine_panel(41), true, [](Settings& s) { s.settle_ms = 1000; });
  device.power_up();
  device.t_us -= 500000;  // a frame that was still in the pipe
  device.step();
  EXPECT_EQ(device.engine.state(), InputState::settling);
}

class PanelPoweredUpWithOneSpoiledFrame : public ::testing::TestWithParam<StartPolicy> {};

TEST_P(PanelPoweredUpWithOneSpoiledFrame, TellsOfItLooksAgainAndStarts) {
  Device device(engine_panel(41), true, policy(GetParam()));
  device.power_up();
  device.run_ms(100);
  std::vector<std::uint16_t> spoiled = device.scene.frame();
  for (auto& v : spoiled) v = static_cast<std::uint16_t>(v - 3000);
  device.step(spoiled);
  EXPECT_TRUE(device.run_until(InputState::running, 1000)) << "the second look is clean";
  EXPECT_TRUE(device.entries(JournalCode::glass_not_bare).empty()) << "no trace in the mean";
  ASSERT_EQ(device.entries(JournalCode::unsteady).size(), 1u);
  expect_limit_passed(device.entries(JournalCode::unsteady)[0]);
  EXPECT_TRUE(device.entries(JournalCode::input_off).empty());
  EXPECT_EQ(device.entries(JournalCode::input_on)[0].value, 2) << "looks taken";
}

TEST(PanelPoweredUp, IsRefusedWhenTwoLooksInARowAreUnsteady) {
  Device device(engine_panel(41), true, policy(StartPolicy::lock));
  device.power_up();
  for (int n = 0; n < 36; ++n) {  // two looks of 16 frames, one or two spoiled frames in each
    std::vector<std::uint16_t> raw = device.scene.frame();
    if (n % 12 == 9)
      for (auto& v : raw) v = static_cast<std::uint16_t>(v - 3000);
    device.step(raw);
  }
  EXPECT_EQ(device.engine.state(), InputState::off);
  ASSERT_EQ(device.entries(JournalCode::input_off).size(), 1u);
  expect_limit_passed(device.entries(JournalCode::input_off)[0]);
}

INSTANTIATE_TEST_SUITE_P(EveryPolicy, PanelPoweredUpWithOneSpoiledFrame,
                         ::testing::Values(StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt,
                                           StartPolicy::service),
                         support::policy_name);

/// A thing on the glass before power-up, and what each policy makes of it.
struct ThingCase {
  const char* name;
  void (*put)(support::EffectScene&);
  FindingKind kind;
  bool reference;  ///< whether the unit holds a factory reference
};

void PrintTo(const ThingCase& c, std::ostream* out) {
  *out << c.name << (c.reference ? ", with" : ", without") << " reference";
}

void put_finger(support::EffectScene& s) { s.add_finger(6, 4); }
void put_grounded_film(support::EffectScene& s) { s.add_film(6, 13, 4, 8, -175); }
void put_damp_note(support::EffectScene& s) { s.add_film(3, 8, 2, 6, 18.5); }
void put_wet_bezel(support::EffectScene& s) { s.add_wet_top_bezel(1, 8, -28); }
void put_streak(support::EffectScene& s) { s.add_diagonal_streak(5, 2, 5); }

const ThingCase kThings[] = {
    {"finger", put_finger, FindingKind::held_touch, true},
    {"finger", put_finger, FindingKind::held_touch, false},
    {"wet film to ground", put_grounded_film, FindingKind::lowered_plateau, true},
    {"wet film to ground", put_grounded_film, FindingKind::lowered_plateau, false},
    {"isolated streak", put_streak, FindingKind::two_sign_conductor, true},
    {"isolated streak", put_streak, FindingKind::two_sign_conductor, false},
    // Below smooth_permille: not to be seen without a reference.
    {"damp note", put_damp_note, FindingKind::raised_plateau, true},
    {"wet bezel", put_wet_bezel, FindingKind::border_band, true},
};

class PanelWithAThingAtPowerUp : public ::testing::TestWithParam<ThingCase> {
 protected:
  static Device start(const std::function<void(Settings&)>& change) {
    Device device(engine_panel(41), GetParam().reference, change);
    GetParam().put(device.scene);
    device.power_up();
    return device;
  }
  static void expect_evidence(const Device& device, JournalCode code) {
    const auto found = device.entries(code);
    ASSERT_EQ(found.size(), 1u);
    expect_limit_passed(found[0]);
    EXPECT_EQ(found[0].detail, static_cast<int>(GetParam().kind));
    EXPECT_LT(found[0].row, 24);
    EXPECT_LT(found[0].col, 16);
  }
};

TEST_P(PanelWithAThingAtPowerUp, LockKeepsInputOffUntilTheNextPowerUp) {
  Device device = start(policy(StartPolicy::lock));
  EXPECT_TRUE(device.run_until(InputState::off, 1000));
  expect_evidence(device, JournalCode::glass_not_bare);
  expect_evidence(device, JournalCode::input_off);
  device.scene.clear();
  const std::uint32_t before = device.engine.journal().end();
  device.run_ms(5000);
  EXPECT_EQ(device.engine.state(), InputState::off);
  EXPECT_GT(device.engine.journal().end(), before) << "it goes on looking, for the record";
  EXPECT_EQ(device.entries(JournalCode::glass_bare).size(), 1u) << "one entry, not one per look";
  EXPECT_TRUE(device.reports.empty());
  device.power_up();
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
}

TEST_P(PanelWithAThingAtPowerUp, ServiceAsksForATechnician) {
  Device device = start(policy(StartPolicy::service));
  EXPECT_TRUE(device.run_until(InputState::service, 1000));
  expect_evidence(device, JournalCode::service_entered);
  device.scene.clear();
  device.run_ms(5000);
  EXPECT_EQ(device.engine.state(), InputState::service);
  EXPECT_TRUE(device.reports.empty());
}

TEST_P(PanelWithAThingAtPowerUp, WaitComesOnWhenItIsTakenAway) {
  Device device = start(policy(StartPolicy::wait));
  EXPECT_TRUE(device.run_until(InputState::waiting, 1000));
  device.run_ms(5000);
  EXPECT_EQ(device.engine.state(), InputState::waiting);
  EXPECT_EQ(device.entries(JournalCode::waiting).size(), 1u);
  EXPECT_EQ(device.entries(JournalCode::sampled).size(), 1u) << "repeated verdicts are one entry";
  device.scene.clear();
  EXPECT_TRUE(device.run_until(InputState::running, 3000));
  const std::size_t began = device.entries(JournalCode::finding_began).size();
  EXPECT_GE(began, 1u);
  EXPECT_EQ(device.entries(JournalCode::finding_ended).size(), began);
  EXPECT_GT(device.entries(JournalCode::input_on)[0].value, 3);
  EXPECT_TRUE(device.reports.empty());
}

TEST_P(PanelWithAThingAtPowerUp, WaitGivesUpAfterItsTime) {
  Device device = start([](Settings& s) {
    s.policy = StartPolicy::wait;
    s.wait_ms = 4000;
  });
  EXPECT_TRUE(device.run_until(InputState::off, 8000));
  EXPECT_NEAR(static_cast<double>(device.t_us) / 1000, 1000 + 360 + 4000, 1700);
  ASSERT_EQ(device.entries(JournalCode::wait_over).size(), 1u);
  EXPECT_EQ(device.entries(JournalCode::wait_over)[0].limit, 4000);
  expect_evidence(device, JournalCode::input_off);
  device.scene.clear();
  device.run_ms(3000);
  EXPECT_EQ(device.engine.state(), InputState::off);
}

TEST_P(PanelWithAThingAtPowerUp, AdoptGoesOnWithItInTheBaseline) {
  Device device = start(policy(StartPolicy::adopt));
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
  expect_evidence(device, JournalCode::adopted);
  bool in_baseline = false;
  for (const Finding& f : device.engine.findings()) in_baseline = in_baseline || f.in_baseline;
  EXPECT_TRUE(in_baseline);
  device.run_ms(5000);
  EXPECT_EQ(device.engine.state(), InputState::running);
  EXPECT_TRUE(device.reports.empty());
}

INSTANTIATE_TEST_SUITE_P(EveryThing, PanelWithAThingAtPowerUp, ::testing::ValuesIn(kThings),
                         [](const auto& one) {
                           std::string name = one.param.name;
                           std::replace(name.begin(), name.end(), ' ', '_');
                           return name + (one.param.reference ? "_with" : "_without") +
                                  "_reference";
                         });

TEST(PanelWithADampNoteAndNoReference, ComesOnBecauseTheNoteIsBelowTheSmoothnessLimit) {
  Device device(engine_panel(41), false, policy(StartPolicy::lock));
  put_damp_note(device.scene);
  device.power_up();
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
  const auto bare = device.entries(JournalCode::glass_bare);
  ASSERT_EQ(bare.size(), 1u);
  EXPECT_GT(bare[0].value, 300) << "the entry tells how near it was";
  EXPECT_LT(bare[0].value, bare[0].limit);
}

TEST(PanelWithMoreRegionsThanTheTableHolds, IsNotBareThoughTheObjectFoundNoPlace) {
  Device device(engine_panel(41), true, policy(StartPolicy::lock));
  for (int k = 0; k < 20; ++k) device.scene.add_node(1 + 3 * (k / 5), 1 + 3 * (k % 5), -80);
  device.scene.add_finger(20, 8);
  device.power_up();
  EXPECT_TRUE(device.run_until(InputState::off, 1000));
  const auto off = device.entries(JournalCode::input_off);
  ASSERT_EQ(off.size(), 1u);
  EXPECT_EQ(off[0].detail, static_cast<int>(FindingKind::unknown));
  EXPECT_EQ(off[0].row, 20);
  EXPECT_EQ(off[0].col, 8);
  expect_limit_passed(off[0]);
}

TEST(PanelWithAFilmThatDries, IsNotBareAgainBeforeItIsClearlyBelowTheLimit) {
  // The limit is 280 counts, 14 fF; a refused glass needs less than three quarters of it.
  Device device(engine_panel(41), true, policy(StartPolicy::wait));
  device.scene.add_film(3, 8, 2, 6, 18.5);
  device.power_up();
  EXPECT_TRUE(device.run_until(InputState::waiting, 1000));
  device.scene.clear();
  device.scene.add_film(3, 8, 2, 6, 12.5);
  device.run_ms(5000);
  EXPECT_EQ(device.engine.state(), InputState::waiting);
  device.scene.clear();
  device.scene.add_film(3, 8, 2, 6, 5);
  EXPECT_TRUE(device.run_until(InputState::running, 3000));
}

class PanelTouchedWhileItLooks : public ::testing::TestWithParam<StartPolicy> {
 protected:
  /// A finger taps at every other frame, so that the mean alone is not the whole story.
  static void look_at_a_tremble(Device& device) {
    for (int k = 0; k < 20; ++k) {
      device.scene.clear();
      if (k % 2) device.scene.add_finger(6, 4);
      device.step();
    }
    device.scene.clear();
  }
};

TEST_P(PanelTouchedWhileItLooks, NeverTakesAnUnsteadyMeanForABaseline) {
  Device device(engine_panel(41), true, policy(GetParam()));
  device.power_up();
  look_at_a_tremble(device);
  EXPECT_FALSE(device.engine.input_on());
  EXPECT_EQ(device.entries(JournalCode::unsteady).size(), 1u);
  expect_limit_passed(device.entries(JournalCode::unsteady)[0]);
  EXPECT_TRUE(device.entries(JournalCode::adopted).empty());
  const bool looks_again = GetParam() == StartPolicy::wait || GetParam() == StartPolicy::adopt;
  EXPECT_EQ(device.run_until(InputState::running, 3000), looks_again);
  EXPECT_EQ(device.entries(JournalCode::waiting).size(), looks_again ? 1u : 0u);
}

INSTANTIATE_TEST_SUITE_P(EveryPolicy, PanelTouchedWhileItLooks,
                         ::testing::Values(StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt,
                                           StartPolicy::service),
                         support::policy_name);

TEST(EngineConfiguration, NamesWhatIsWrongAndChangesNothing) {
  auto storage = std::make_unique<Storage<8, 8>>();
  Engine engine(storage->memory());
  Settings s;
  s.shape = {8, 8};
  const std::vector<std::uint16_t> reference(64, 1000);
  EXPECT_EQ(engine.configure(s, {reference.data(), 63}), SettingsField::shape);
  EXPECT_EQ(engine.configure(s, {reference.data(), 64}), SettingsField::none);
  EXPECT_TRUE(engine.has_reference());
  Settings wrong = s;
  wrong.shape = {8, 9};  // larger than the memory
  EXPECT_EQ(engine.configure(wrong), SettingsField::shape);
  wrong.shape = {9, 7};  // 63 nodes would fit, nine rows do not
  EXPECT_EQ(engine.configure(wrong), SettingsField::shape);
  wrong = s;
  wrong.held_ms = 0;
  EXPECT_EQ(engine.configure(wrong), SettingsField::held_ms);
  EXPECT_TRUE(engine.has_reference());
  EXPECT_EQ(engine.settings().shape, (Shape{8, 8}));
  EXPECT_EQ(engine.settings().held_ms, 60000u);
}

TEST(StateNames, AreDistinctAsciiText) {
  EXPECT_STREQ(name_of(InputState::unpowered), "unpowered");
  EXPECT_STREQ(name_of(InputState::running), "running");
  EXPECT_STREQ(name_of(InputState::paused), "paused");
}

}  // namespace
}  // namespace bareglass
