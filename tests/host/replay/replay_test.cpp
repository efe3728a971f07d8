#include "bareglass/replay/replay.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <ostream>
#include <utility>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/present/explanation.hpp"
#include "support/how_many.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

using panel::Scenario;
using support::RecordListReader;
using support::records_of;
using support::scenario_named;
using ::testing::HasSubstr;

Account account_of(std::vector<Record> records, const ReplayOptions& options = {}) {
  RecordListReader reader(std::move(records));
  return replay(reader, "test", options);
}

template <typename T>
void drop(std::vector<Record>& records) {
  records.erase(std::remove_if(records.begin(), records.end(),
                               [](const Record& r) { return std::holds_alternative<T>(r); }),
                records.end());
}

// Turns raw frames into what a device sends that keeps its baseline to itself.
void make_differences(std::vector<Record>& records) {
  std::vector<std::uint16_t> baseline;
  for (Record& record : records) {
    auto* frame = std::get_if<FrameRecord>(&record);
    if (frame == nullptr) continue;
    if (baseline.empty()) baseline = frame->raw;
    frame->kind = FrameKind::difference;
    for (std::size_t i = 0; i < frame->raw.size(); ++i)
      frame->difference.push_back(static_cast<std::int16_t>(baseline[i] - frame->raw[i]));
    frame->raw.clear();
  }
  drop<ReferenceRecord>(records);
}

struct Story {
  const char* name;
  Cause cause;
};
void PrintTo(const Story& s, std::ostream* out) { *out << s.name; }

class EveryStory : public ::testing::TestWithParam<Story> {};

// The stories again with other panels and other noise: the answer must not hang on one seed. Of 4
// seeds, a defect by which half of all panels are told wrong is seen in 94 % of all cases, of 12
// one by which a fifth are in 93 %.
TEST_P(EveryStory, FindsItsCauseOverManySeeds) {
  const auto tried = static_cast<std::uint64_t>(support::how_many(4, 12));
  for (std::uint64_t seed = 7000; seed < 7000 + tried; ++seed) {
    Scenario scenario = scenario_named(GetParam().name);
    scenario.setup.seed = seed;
    const Diagnosis d = diagnose(account_of(records_of(scenario)));
    EXPECT_EQ(d.causes.front().cause, GetParam().cause) << "seed " << seed;
    EXPECT_EQ(d.causes.size(), 1u) << "seed " << seed;
  }
}

INSTANTIATE_TEST_SUITE_P(Stories, EveryStory,
                         ::testing::Values(Story{"bare-glass", Cause::bare_glass},
                                           Story{"finger-at-power-up", Cause::touch_at_power_up},
                                           Story{"damp-note-peeled", Cause::isolated_film},
                                           Story{"wet-film-drying", Cause::drying_film},
                                           Story{"wet-bezel", Cause::wet_bezel},
                                           Story{"isolated-streak", Cause::isolated_streak},
                                           Story{"starts-late", Cause::touch_held}),
                         [](const auto& one) { return support::test_name(one.param.name); });

class BarePanels : public ::testing::TestWithParam<bool> {};

// One in n panels told faulty passes unseen with (1 - 1/n)^tried: of 6 tried, a defect of one in
// three is seen in 91 % of all cases, of 60 one of one in twenty in 95 %. score.healthy tries
// others.
TEST_P(BarePanels, AreNeverCalledFaulty) {
  const auto tried = static_cast<std::uint64_t>(support::how_many(6, 60));
  for (std::uint64_t seed = 1; seed <= tried; ++seed) {
    Scenario scenario = scenario_named("bare-glass");
    scenario.setup.seed = seed;
    scenario.factory_reference = GetParam();
    const Account a = account_of(records_of(scenario));
    const Diagnosis d = diagnose(a);
    ASSERT_EQ(d.causes.front().cause, Cause::bare_glass) << "seed " << seed;
    ASSERT_EQ(a.final_state, InputState::running) << "seed " << seed;
    ASSERT_EQ(a.touches, 2u) << "seed " << seed;
  }
}

INSTANTIATE_TEST_SUITE_P(Knowledge, BarePanels, ::testing::Bool(), [](const auto& one) {
  return one.param ? "with_reference" : "without_reference";
});

TEST(WetBezelWithoutReference, IsNotGivenAFalseCertainty) {
  const auto tried = static_cast<std::uint64_t>(support::how_many(6, 20));
  for (std::uint64_t seed = 1; seed <= tried; ++seed) {
    Scenario scenario = scenario_named("wet-bezel");
    scenario.factory_reference = false;
    scenario.setup.seed = seed;
    // Only in the gap: the first row sees it with less than the panel's own smoothness tells.
    scenario.things.at(0).place.y -= 4.5;
    scenario.events.resize(1);
    const Diagnosis d = diagnose(account_of(records_of(scenario)));
    for (const CauseFound& c : d.causes) {
      // What so little of it is may be told as a finger at the edge or as something else.
      EXPECT_TRUE(c.cause == Cause::bare_glass || c.sureness != Sureness::sure)
          << name_of(c.cause) << ", seed " << seed;
    }
  }
}

TEST(DevicePolicy, ComesFromItsJournalUnlessOverridden) {
  const std::vector<Record> records = records_of("wet-bezel");
  EXPECT_EQ(account_of(records).settings.policy, StartPolicy::service);
  ReplayOptions options;
  options.policy = StartPolicy::lock;
  EXPECT_EQ(account_of(records, options).settings.policy, StartPolicy::lock);
}

TEST(DevicePolicy, IsAssumedAndSaidSoWhenNothingTellsIt) {
  std::vector<Record> records = records_of("bare-glass");
  drop<JournalRecord>(records);
  const Account a = account_of(records);
  EXPECT_EQ(a.settings.policy, StartPolicy::lock);
  EXPECT_THAT(a.assumptions, ::testing::Contains(HasSubstr("start policy")));
}

TEST(DevicePolicy, IsNotAssumedWhereNoStartIsReplayed) {
  const Account a = account_of(records_of("starts-late"));
  ASSERT_EQ(a.kind, DumpKind::raw_midway);
  EXPECT_THAT(a.assumptions, ::testing::Not(::testing::Contains(HasSubstr("start policy"))));
}

TEST(BrokenLineThatTurnedInputOff, IsNotSaidToLeaveTheRestWorking) {
  const auto evidence = [](const char* scenario) {
    const Diagnosis d = diagnose(account_of(records_of(scenario)));
    std::string all;
    for (const std::string& line : d.causes.front().speaks_for) all += line + "\n";
    return all;
  };
  for (const char* off : {"impact-crack", "bridged-lines"}) {
    EXPECT_THAT(evidence(off), HasSubstr("held back every contact")) << off;
    EXPECT_THAT(evidence(off), ::testing::Not(HasSubstr("goes on working"))) << off;
  }
  EXPECT_THAT(evidence("touch-test-cut-row"), HasSubstr("goes on working"));
}

TEST(AdoptedNote, LeavesNoPhantomBehindAndTheLiftIsTold) {
  Scenario scenario = scenario_named("damp-note-peeled");
  scenario.policy = StartPolicy::adopt;
  const Account a = account_of(records_of(scenario));
  EXPECT_EQ(a.touches, 0u);
  EXPECT_EQ(a.final_state, InputState::running);
  EXPECT_TRUE(std::any_of(a.events.begin(), a.events.end(), [](const JournalEntry& e) {
    return e.code == JournalCode::baseline_disproved || e.code == JournalCode::object_lifted;
  }));
}

TEST(DifferencesOnly, AreExplainedAsFarAsTheyGo) {
  std::vector<Record> records = records_of("isolated-streak");
  make_differences(records);
  const Account a = account_of(records);
  EXPECT_EQ(a.kind, DumpKind::differences_only);
  const Diagnosis d = diagnose(a);
  EXPECT_EQ(d.causes.front().cause, Cause::isolated_streak);
  EXPECT_EQ(d.causes.front().sureness, Sureness::possible);
  EXPECT_THAT(d.answer, HasSubstr("differences"));
}

TEST(SecondPowerUp, IsReplayedFromItsDescription) {
  const Account a = account_of(records_of("power-cycled"));
  EXPECT_EQ(a.power_ups, 2u);
  EXPECT_EQ(a.final_state, InputState::running);
  const Diagnosis d = diagnose(a);
  ASSERT_EQ(d.causes.size(), 2u);
  EXPECT_EQ(d.causes[0].cause, Cause::bare_glass) << "the last start-up heads";
  EXPECT_EQ(d.causes[1].cause, Cause::touch_at_power_up) << "the first is history";
}

TEST(SecondPowerUp, LeavesNoGapAndEndsTheFingerWithTheBareLook) {
  const Account a = account_of(records_of("power-cycled"));
  EXPECT_LE(a.longest_gap_us, 2u * a.settings.frame_period_us);
  const auto bare = std::find_if(a.events.begin(), a.events.end(), [](const JournalEntry& e) {
    return e.code == JournalCode::glass_bare;
  });
  ASSERT_NE(bare, a.events.end());
  const Diagnosis d = diagnose(a);
  EXPECT_TRUE(d.causes.back().ended);
  EXPECT_LE(d.causes.back().ended_us, bare->t_us);
  const std::string told = explanation_text("x.frames", a, d, {});
  EXPECT_THAT(told, HasSubstr("Nothing missing, nothing damaged."));
  EXPECT_THAT(told, HasSubstr("powered up 2 times"));
  EXPECT_THAT(told, HasSubstr("from the power-up of each run."));
}

// An isolated drop raises its inner nodes and lowers those under its rim.
TEST(IsolatedDropWithItsRim, IsAFilmAndNoStreak) {
  Scenario scenario = scenario_named("damp-note-peeled");
  scenario.things.at(0).outline = panel::Outline::disc(18.0);
  scenario.things.at(0).place = {22.5, 32.5};
  const Diagnosis d = diagnose(account_of(records_of(scenario)));
  ASSERT_EQ(d.causes.size(), 1u);
  EXPECT_EQ(d.causes[0].cause, Cause::isolated_film);
  EXPECT_LT(d.causes[0].measured, 0);
  EXPECT_THAT(d.causes[0].speaks_for, ::testing::Contains(HasSubstr("rim")));
}

TEST(DumpWithSpoiledFrames, IsNotSureOfAnything) {
  std::vector<Record> records = records_of("finger-at-power-up");
  ASSERT_EQ(diagnose(account_of(records)).causes[0].sureness, Sureness::sure);
  int n = 0;
  for (Record& record : records)
    if (auto* f = std::get_if<FrameRecord>(&record))
      if (++n > 40 && n % 3 == 0)  // scattered: two rows that read nothing would be dead lines
        for (std::size_t i = 0; i < f->raw.size(); i += 8) f->raw[i] = 0;
  const Account a = account_of(records);
  EXPECT_GT(a.frames_saturated, 50u);
  const Diagnosis d = diagnose(a);
  EXPECT_EQ(d.causes[0].sureness, Sureness::possible);
  EXPECT_THAT(d.cannot_tell, ::testing::Contains(HasSubstr("spoiled")));
}

TEST(ClockThatStartsAgain, IsTakenForARestartAndSaidSo) {
  std::vector<Record> records = records_of("starts-late");
  const std::size_t n = records.size();
  for (std::size_t i = 0; i < n; ++i) {
    if (auto* f = std::get_if<FrameRecord>(&records[i])) {
      FrameRecord again = *f;
      again.sequence -= 500;
      again.t_us -= 11000000;
      records.emplace_back(again);
    }
  }
  const Account a = account_of(records);
  EXPECT_EQ(a.clock_restarts, 1u);
  EXPECT_EQ(a.frames, 302u) << "151 frames, twice";
  EXPECT_THAT(a.assumptions, ::testing::Contains(HasSubstr("restart")));
}

TEST(LongDump, KeepsTheAccountBounded) {
  const std::vector<Record> records = records_of("bare-glass");
  std::vector<Record> longer = records;
  // Every other stamp lies before the one it follows: thousands of journal entries.
  std::uint64_t t = 20000000;
  std::uint32_t sequence = 5000;
  const FrameRecord last = std::get<FrameRecord>(records.back());
  for (int k = 0; k < 12000; ++k) {
    FrameRecord f = last;
    f.t_us = k % 2 ? t - 20000 : t += 40000;
    f.sequence = ++sequence;
    longer.emplace_back(f);
  }
  const Account a = account_of(longer);
  EXPECT_EQ(a.events.size(), Account::kMaxEvents);
  EXPECT_GT(a.events_left_out, 1000u);
}

TEST(DumpWithoutFrames, IsAnError) {
  EXPECT_THROW(account_of({PanelDescription{}}), CaptureError);
  EXPECT_THROW(account_of({}), CaptureError);
}

TEST(ReferenceOfAnotherShape, IsAnError) {
  std::vector<Record> records = records_of("bare-glass");
  for (Record& record : records)
    if (auto* r = std::get_if<ReferenceRecord>(&record)) r->raw.pop_back();
  EXPECT_THROW(account_of(records), CaptureError);
}

TEST(PanelBeyondTheCore, IsAnErrorThatSaysTheLimit) {
  FrameRecord frame;
  frame.rows = 2;
  frame.cols = 129;
  frame.raw.assign(258, 20000);
  try {
    account_of({frame});
    FAIL() << "accepted";
  } catch (const CaptureError& e) {
    EXPECT_THAT(e.what(), HasSubstr("128"));
    EXPECT_THAT(e.what(), HasSubstr("129"));
  }
}

TEST(JsonAnswer, ListsWhatMakesTheSameSignals) {
  const Account a = account_of(records_of("finger-at-power-up"));
  Diagnosis d = diagnose(a);
  d.causes.front().or_else = {Cause::drops, Cause::isolated_film};
  const std::string json = explanation_json("x.frames", a, d);
  EXPECT_LT(json.find("\"or_else\""), json.find("\"drops\""));
  EXPECT_LT(json.find("\"drops\""), json.find("\"isolated_film\""));
  EXPECT_THAT(json, HasSubstr("\"isolated_film\""));
}

TEST(JsonAnswer, HoldsTheSameFacts) {
  const Account a = account_of(records_of("finger-at-power-up"));
  const Diagnosis d = diagnose(a);
  const std::string json = explanation_json("x.frames", a, d);
  EXPECT_THAT(json, HasSubstr("\"cause\": \"touch_at_power_up\""));
  EXPECT_THAT(json, HasSubstr("\"measured_counts\": " + std::to_string(d.causes[0].measured)));
  EXPECT_THAT(json, HasSubstr("\"input_on\": false"));
}

}  // namespace
}  // namespace bareglass::host
