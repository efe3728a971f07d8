// Scenarios played whole: every file that ships runs, twice the same, with its truth told.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>

#include "bareglass/core/journal.hpp"
#include "bareglass/panel/player.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::panel {
namespace {

using ::testing::HasSubstr;
using ::testing::StartsWith;

const std::filesystem::path kFolder =
    std::filesystem::path(BAREGLASS_SOURCE_DIR) / "fixtures" / "scenarios";

/// What a played scenario sent.
struct Played {
  std::vector<host::PanelDescription> descriptions;
  std::vector<host::FrameRecord> frames;
  std::vector<host::JournalRecord> journal;
  std::vector<host::SupplyRecord> supply;
  std::vector<host::ReferenceRecord> references;
  std::vector<std::string> notes;

  void take(const host::PanelDescription& r) { descriptions.push_back(r); }
  void take(const host::FrameRecord& r) { frames.push_back(r); }
  void take(const host::JournalRecord& r) { journal.push_back(r); }
  void take(const host::SupplyRecord& r) { supply.push_back(r); }
  void take(const host::ReferenceRecord& r) { references.push_back(r); }
  void take(const host::NoteRecord& r) { notes.push_back(r.text); }
  void take(const host::ContactsRecord&) {}

  bool has(JournalCode code) const {
    return std::any_of(journal.begin(), journal.end(),
                       [&](const host::JournalRecord& j) { return j.code == code; });
  }
};

Scenario scenario_file(const std::string& name) {
  return support::without_dear_seconds(support::scenario_named(name), name);
}

Played play_file(const std::string& name) {
  Played out;
  play(scenario_file(name),
       [&](const host::Record& r) { std::visit([&](const auto& x) { out.take(x); }, r); });
  return out;
}

class EveryScenarioFile : public ::testing::TestWithParam<std::string> {};

TEST_P(EveryScenarioFile, RunsToItsEndAndTellsItsTruth) {
  const Played p = play_file(GetParam());
  const Scenario s = scenario_file(GetParam());
  ASSERT_FALSE(p.descriptions.empty());
  EXPECT_EQ(p.descriptions[0].power_up_us,
            s.record_from_s > 0 ? std::nullopt : std::optional<std::uint64_t>(0));
  // 175 fF on 1.1 mm of glass, 78 on 3 mm, at 20 counts each.
  const double glass_mm = s.panel.layers.front().thickness_mm;
  EXPECT_NEAR(p.descriptions[0].finger_counts, glass_mm > 2 ? 1550 : 3500, 175);
  ASSERT_FALSE(p.notes.empty());
  EXPECT_EQ(p.notes[0], "story: " + s.story);
  EXPECT_EQ(p.references.size(), s.factory_reference ? 1u : 0u);
  EXPECT_FALSE(p.supply.empty());
  // What the device decided before the recording began is not told.
  EXPECT_EQ(p.journal.empty(), s.record_from_s > 0);
  double off_s = 0;
  for (const Event& e : s.events) {
    if (e.action == Action::power_off) off_s -= e.at_s;
    if (e.action == Action::power_on) off_s += e.at_s;
  }
  const double all = (s.duration_s - s.record_from_s - off_s) * 1e6 / s.frame_period_us + 1;
  EXPECT_GE(static_cast<double>(p.frames.size()), 0.8 * all);
  EXPECT_LE(static_cast<double>(p.frames.size()), all);
  std::size_t truths = 0;
  for (const std::string& n : p.notes)
    if (n.rfind("truth: ", 0) == 0) ++truths;
  EXPECT_GE(truths + 1, std::min<std::size_t>(2, s.events.size()));
}

TEST_P(EveryScenarioFile, SaysFirstWhatATechnicianWouldSee) {
  std::ifstream in(kFolder / (GetParam() + ".toml"));
  std::string line;
  std::getline(in, line);
  EXPECT_THAT(line, StartsWith("# "));
  EXPECT_GT(line.size(), 40u);
}

INSTANTIATE_TEST_SUITE_P(Shipped, EveryScenarioFile, ::testing::ValuesIn(support::scenario_names()),
                         [](const auto& one) { return support::test_name(one.param); });

TEST(ScenarioPlayedTwice, SendsTheSameFrames) {
  const Played one = play_file("intermittent-line");
  const Played two = play_file("intermittent-line");
  ASSERT_EQ(one.frames.size(), two.frames.size());
  for (std::size_t k = 0; k < one.frames.size(); ++k)
    ASSERT_EQ(one.frames[k].raw, two.frames[k].raw) << "frame " << k;
}

TEST(ScenarioOfBareGlass, TurnsInputOn) {
  const Played p = play_file("bare-glass");
  EXPECT_TRUE(p.has(JournalCode::input_on));
  EXPECT_FALSE(p.has(JournalCode::input_off));
}

TEST(ScenarioOfAFingerAtPowerUp, KeepsInputOff) {
  const Played p = play_file("finger-at-power-up");
  EXPECT_TRUE(p.has(JournalCode::glass_not_bare));
  EXPECT_FALSE(p.has(JournalCode::input_on));
  EXPECT_THAT(p.notes,
              ::testing::Contains(HasSubstr("truth: lies thing=finger kind=conductor shape=disc")));
  EXPECT_THAT(p.notes, ::testing::Contains(HasSubstr("truth: lift thing=finger")));
}

TEST(ScenarioOfDryTape, ChangesNothing) {
  const Played p = play_file("dry-tape");
  EXPECT_TRUE(p.has(JournalCode::input_on));
  EXPECT_FALSE(p.has(JournalCode::glass_not_bare));
  EXPECT_FALSE(p.has(JournalCode::finding_began));
}

TEST(ScenarioOfAWetWipeDown, TurnsInputOnWhenItHasDried) {
  const Played p = play_file("wet-wipe-down");
  EXPECT_TRUE(p.has(JournalCode::glass_not_bare));
  EXPECT_TRUE(p.has(JournalCode::input_on));
}

TEST(ScenarioOfAPowerCycle, StartsTheDeviceAnew) {
  const Played p = play_file("power-cycled");
  ASSERT_EQ(p.descriptions.size(), 2u);
  EXPECT_EQ(p.descriptions[1].power_up_us, std::optional<std::uint64_t>(4480000));
  int jumps = 0;
  for (std::size_t k = 1; k < p.frames.size(); ++k)
    if (p.frames[k].t_us - p.frames[k - 1].t_us > 900000) ++jumps;
  EXPECT_EQ(jumps, 1);
  EXPECT_TRUE(p.has(JournalCode::input_on));
}

TEST(ScenarioRecordedLate, BeginsWithWhatLiesThere) {
  Scenario s = load_scenario((kFolder / "finger-at-power-up.toml").string());
  s.record_from_s = 1.0;
  s.factory_reference = false;
  Played p;
  play(s, [&](const host::Record& r) { std::visit([&](const auto& x) { p.take(x); }, r); });
  EXPECT_FALSE(p.descriptions.at(0).power_up_us.has_value());
  EXPECT_EQ(p.frames.front().t_us, 1000000u);
  EXPECT_TRUE(p.references.empty());
  EXPECT_THAT(p.notes, ::testing::Contains(HasSubstr("truth: lies thing=finger")));
}

}  // namespace
}  // namespace bareglass::panel
