// Dumps that hold several runs of a unit, and what comes late in a dump.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <utility>
#include <vector>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/replay/replay.hpp"
#include "bareglass/words/text.hpp"
#include "support/record_list.hpp"

namespace bareglass::host {
namespace {

using support::RecordListReader;
using ::testing::HasSubstr;
using ::testing::Not;

constexpr int kRows = 12;
constexpr int kCols = 8;
constexpr int kNodes = kRows * kCols;

/// A dump made by hand: a level panel of 12 x 8 nodes with a little noise.
class HandMadeDump {
 public:
  HandMadeDump& description(std::optional<std::uint64_t> power_up_us) {
    PanelDescription panel = support::described_panel(kRows, kCols, 3000);
    panel.power_up_us = power_up_us;
    records.emplace_back(panel);
    return *this;
  }
  HandMadeDump& reference(std::size_t values, std::uint16_t level = 20000) {
    ReferenceRecord r;
    r.rows = kRows;
    r.cols = static_cast<int>(values) / kRows;
    r.raw.assign(values, level);
    records.emplace_back(r);
    return *this;
  }
  /// `n` frames 8 ms apart, with something on the middle of the glass if `covered` counts are gone.
  HandMadeDump& frames(int n, std::uint32_t sequence, std::uint64_t t_us, int covered = 0) {
    for (int k = 0; k < n; ++k, t_us += 8000)
      records.emplace_back(frame(sequence++, t_us, covered));
    return *this;
  }
  FrameRecord frame(std::uint32_t sequence, std::uint64_t t_us, int covered) {
    FrameRecord f;
    f.rows = kRows;
    f.cols = kCols;
    f.sequence = sequence;
    f.t_us = t_us;
    for (int r = 0; r < kRows; ++r)
      for (int c = 0; c < kCols; ++c) {
        const bool under = r >= 4 && r <= 7 && c >= 2 && c <= 5;
        f.raw.push_back(static_cast<std::uint16_t>(20000 + static_cast<int>(random_() % 9) - 4 +
                                                   (under ? covered : 0)));
      }
    return f;
  }
  Account account() const {
    RecordListReader reader(records);
    return replay(reader, "test", {});
  }
  std::string told(bool all = false) const {
    const Account a = account();
    TextOptions options;
    options.all_events = all;
    return explanation_text("x.frames", a, diagnose(a), options);
  }

  std::vector<Record> records;

 private:
  std::mt19937 random_{4711};
};

// A unit that found a wet note, was reset, and found its glass bare: both on a clock from zero.
HandMadeDump reset_unit(bool described) {
  HandMadeDump dump;
  dump.description(0).reference(kNodes).frames(300, 1, 8000, 900);
  if (described) dump.description(0);
  dump.frames(200, 1, 8000);
  return dump;
}

TEST(UnitThatResets, HasTwoRunsEachWithTimesOfItsOwn) {
  for (const bool described : {true, false}) {
    const Account a = reset_unit(described).account();
    ASSERT_EQ(a.runs.size(), 2u) << described;
    EXPECT_EQ(a.runs[0].frames, 300u);
    EXPECT_EQ(a.runs[1].frames, 200u);
    EXPECT_EQ(a.power_ups, described ? 2u : 1u);
    EXPECT_EQ(a.clock_restarts, described ? 0u : 1u);
    EXPECT_EQ(a.frames_backward, 0u);
    EXPECT_LE(a.longest_gap_us, 8000u);
    EXPECT_EQ(a.final_state, InputState::running);
    std::uint64_t before = 0;
    for (const JournalEntry& e : a.events) {
      EXPECT_GE(e.t_us, before) << "on one line of time";
      EXPECT_GE(e.t_us, zero_time(a, e.t_us)) << "nothing is negative";
      EXPECT_LE(e.t_us - zero_time(a, e.t_us), 2400000u) << "within the run";
      before = e.t_us;
    }
    EXPECT_GE(a.decisive.t_us, a.runs[1].zero_us) << "the last run is what is opened";
  }
}

TEST(UnitThatResets, IsToldWithTheLastRunFirst) {
  const std::string told = reset_unit(true).told();
  EXPECT_THAT(told, Not(::testing::ContainsRegex("-[0-9.]+ s[ \n]")));
  EXPECT_THAT(told, HasSubstr("powered up 2 times"));
  ASSERT_THAT(told, HasSubstr("Run 2 of 2, the last:"));
  EXPECT_LT(told.find("Run 2 of 2"), told.find("Run 1 of 2:"));
  EXPECT_THAT(told, HasSubstr("of run 1"));
  EXPECT_THAT(told, HasSubstr("power-up of each run"));
}

TEST(UnitThatResets, GivesProgramsTheStampsOfItsOwnClock) {
  const Account a = reset_unit(true).account();
  const std::string json = explanation_json("x", a, diagnose(a));
  EXPECT_THAT(json, HasSubstr("\"run\": 2"));
  EXPECT_THAT(json, HasSubstr("\"runs\": ["));
  EXPECT_THAT(json, Not(HasSubstr("\"t_us\": 24")));  // 2.4 s: a run ends before 2.41 s
  EXPECT_THAT(json, HasSubstr("\"last_us\": 1600000"));
}

TEST(UnitWithOneRun, IsToldWithoutRuns) {
  HandMadeDump dump;
  const std::string told = dump.description(0).reference(kNodes).frames(200, 1, 8000).told();
  EXPECT_THAT(told, Not(HasSubstr("un 1")));
  EXPECT_THAT(told, HasSubstr("Times count from the power-up."));
}

TEST(DescriptionWithoutATime, IsNoPowerUp) {
  HandMadeDump dump;
  dump.description(0).reference(kNodes).frames(100, 1, 8000);
  dump.description(std::nullopt).frames(100, 101, 808000);
  dump.description(0).frames(100, 201, 1608000);
  const Account a = dump.account();
  EXPECT_EQ(a.power_ups, 1u);
  EXPECT_EQ(a.runs.size(), 1u);
  EXPECT_EQ(a.panel.power_up_us, 0u);
}

TEST(CounterOf32BitsInADump, WrapsWithoutATrace) {
  const std::uint64_t zero = 0xffffffffull - 500000;
  HandMadeDump dump;
  dump.description(zero).reference(kNodes).frames(62, 1, zero + 8000);
  const std::uint64_t wrapped = (zero + 63 * 8000) & 0xffffffffull;
  ASSERT_LT(wrapped, 10000u);
  dump.frames(200, 63, wrapped);
  const Account a = dump.account();
  EXPECT_EQ(a.runs.size(), 1u);
  EXPECT_EQ(a.frames_backward, 0u);
  EXPECT_LE(a.longest_gap_us, 8000u);
  EXPECT_EQ(a.final_state, InputState::running);
}

TEST(ClockThatJumps, IsFollowedAsTheDeviceFollowsIt) {
  HandMadeDump dump;
  dump.description(0).reference(kNodes).frames(200, 1, 8000).frames(200, 201, 900000000);
  const Account a = dump.account();
  EXPECT_EQ(a.runs.size(), 1u);
  EXPECT_EQ(a.clock_jumps, 1u);
  EXPECT_EQ(a.frames_ahead, 8u);
  EXPECT_EQ(a.final_state, InputState::running);
  EXPECT_LT(a.last_us, 4000000u);
  EXPECT_THAT(dump.told(), HasSubstr("8 frames left out whose time jumps ahead"));
  EXPECT_TRUE(std::any_of(a.events.begin(), a.events.end(), [](const JournalEntry& e) {
    return e.code == JournalCode::clock_restarted;
  }));
}

// The core keeps looking at the reference it was started with: with the sanitizers, these would
// stop at the first frame after it.
TEST(LaterReference, NeverMovesTheOneInUse) {
  for (const std::size_t values : {std::size_t{24}, std::size_t{kNodes}, std::size_t{12 * 1000}}) {
    HandMadeDump dump;
    dump.description(0).reference(kNodes).frames(100, 1, 8000);
    dump.reference(values, 15000).frames(300, 101, 808000, 900);
    const Account a = dump.account();
    EXPECT_EQ(a.frames, 400u);
    EXPECT_TRUE(a.has_reference);
    EXPECT_EQ(a.survey.reference, std::vector<std::uint16_t>(kNodes, 20000)) << values;
    EXPECT_THAT(a.assumptions, ::testing::Contains(HasSubstr("reference"))) << values;
  }
}

TEST(LaterReference, HoldsFromTheNextPowerUpOn) {
  HandMadeDump dump;
  dump.description(0).reference(kNodes).frames(100, 1, 8000);
  dump.reference(kNodes, 15000).description(2000000).frames(100, 1, 2008000);
  const Account a = dump.account();
  EXPECT_EQ(a.survey.reference, std::vector<std::uint16_t>(kNodes, 15000));
  EXPECT_NE(a.final_state, InputState::running) << "5000 counts from what it is held against";
}

TEST(ReferenceThatIsSentAgain, IsNothingToTell) {
  HandMadeDump dump;
  dump.description(0).reference(kNodes).frames(100, 1, 8000).reference(kNodes);
  dump.frames(100, 101, 808000);
  EXPECT_THAT(dump.account().assumptions, Not(::testing::Contains(HasSubstr("reference"))));
}

// Forty of a hundred frames carry a stamp from before and a picture of something that is not there.
TEST(FramesThatTheCoreRefused, AreInNoAverage) {
  HandMadeDump dump;
  dump.description(0).reference(kNodes);
  HandMadeDump clean = dump;
  std::uint64_t t_us = 8000;
  std::uint32_t sequence = 1;
  int refused = 0;
  for (int k = 0; k < 400; ++k) {
    dump.frames(1, sequence, t_us);
    if (k > 50 && k % 5 < 2) {
      FrameRecord lie = dump.frame(sequence + 1, t_us - 400000, 5000);
      dump.records.emplace_back(lie);
      ++refused;
    }
    if (k > 50 && k % 5 == 3) {
      FrameRecord lie = dump.frame(++sequence, t_us += 8000, 5000);
      for (std::size_t i = 0; i < lie.raw.size(); i += 5) lie.raw[i] = 65535;
      dump.records.emplace_back(lie);
    }
    ++sequence;
    t_us += 8000;
  }
  const Account a = dump.account();
  EXPECT_EQ(a.frames_backward, static_cast<std::uint64_t>(refused));
  EXPECT_GT(a.frames_saturated, 50u);
  ASSERT_FALSE(a.survey.windows.empty());
  for (const SurveyWindow& w : a.survey.windows)
    for (const float mean : w.mean) EXPECT_NEAR(mean, 20000.f, 10.f);
  const Diagnosis d = diagnose(a);
  EXPECT_EQ(d.causes.front().cause, Cause::bare_glass);
  const std::string told = dump.told();
  EXPECT_THAT(told, HasSubstr("left out whose time goes back"));
  EXPECT_THAT(told, HasSubstr("spoiled frames"));
}

}  // namespace
}  // namespace bareglass::host
