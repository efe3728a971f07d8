// Before against after on made-up states, where every number is known, and on recorded dumps.
#include "bareglass/compare/comparison.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "bareglass/answer/cause_group.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

// A sound 4 x 4 panel whose finger is 1000 counts: 10 counts are 1 %.
StateOfUnit sound(const std::string& file) {
  StateOfUnit s;
  s.file = file;
  s.account.kind = DumpKind::from_power_up;
  s.account.panel.unit_id = "bay1-pump-01";
  s.account.settings.shape = {4, 4};
  s.account.settings.finger_counts = 1000;
  s.mean.assign(16, 20000.0);
  s.noise.assign(16, 10.0);
  s.reference.assign(16, 20000);
  s.frames = 50;
  s.start_ups = s.start_ups_on = 1;
  CauseFound bare;
  bare.cause = Cause::bare_glass;
  s.diagnosis.causes = {bare};
  return s;
}

CauseFound film(int measured, Box box = {1, 2, 1, 2}) {
  CauseFound c;
  c.cause = Cause::isolated_film;
  c.headline = "A film.";
  c.has_place = true;
  c.box = box;
  c.measured = measured;
  return c;
}

CauseFound cut(int first, int last) {
  CauseFound c;
  c.cause = Cause::crack;
  c.headline = "A crack.";
  c.lines = LinesFound{true, first, last, 2};
  c.measured = -900;
  return c;
}

const AcceptCheck& check(const Comparison& c, const std::string& start) {
  for (const AcceptCheck& k : c.checks)
    if (k.name.rfind(start, 0) == 0) return k;
  throw std::runtime_error("no check " + start);
}

Change only_change(const CauseFound& before, const CauseFound& after) {
  StateOfUnit b = sound("b"), a = sound("a");
  b.diagnosis.causes = {before};
  a.diagnosis.causes = {after};
  const Comparison c = compare(b, {a}, {});
  EXPECT_EQ(c.changes.size(), 1u);
  return c.changes.front().change;
}

TEST(TwoSoundStates, AreAcceptedWithNothingChanged) {
  const Comparison c = compare(sound("b"), {sound("a")}, {});
  EXPECT_TRUE(c.accepted);
  EXPECT_THAT(c.changes, IsEmpty());
  EXPECT_THAT(c.remarks, IsEmpty());
  EXPECT_THAT(comparison_text(c, false), AllOf(HasSubstr("ACCEPTED"), Not(HasSubstr("FAILED"))));
}

TEST(FindingBeforeAndAfter, IsGoneNewWeakerStrongerOrStillThere) {
  const CauseFound none = sound("x").diagnosis.causes[0];
  EXPECT_EQ(only_change(film(-110), none), Change::gone);
  EXPECT_EQ(only_change(none, film(-110)), Change::fresh);
  EXPECT_EQ(only_change(film(-110), film(-60)), Change::weaker);
  EXPECT_EQ(only_change(film(-110), film(-150)), Change::stronger);
  EXPECT_EQ(only_change(film(-110), film(-115)), Change::still_there);
  EXPECT_EQ(only_change(film(-12), film(-20)), Change::still_there)
      << "0.8 % of a finger is no change";
}

TEST(FindingBeforeAndAfter, IsToldWithItsNumbers) {
  StateOfUnit b = sound("b"), a = sound("a");
  b.diagnosis.causes = {film(-110)};
  a.diagnosis.causes = {film(-60)};
  const Comparison c = compare(b, {a}, {});
  EXPECT_DOUBLE_EQ(c.changes[0].before_percent, -11.0);
  EXPECT_DOUBLE_EQ(c.changes[0].after_percent, -6.0);
  EXPECT_THAT(comparison_text(c, false),
              AllOf(HasSubstr("weaker"), HasSubstr("-11.0 %"), HasSubstr("-6.0 %")));
}

TEST(FindingBeforeAndAfter, IsMatchedByPlaceEvenUnderAnotherName) {
  CauseFound residue = film(-90);
  residue.cause = Cause::unknown_object;
  StateOfUnit b = sound("b"), a = sound("a");
  b.diagnosis.causes = {film(-100)};
  a.diagnosis.causes = {residue};
  const Comparison c = compare(b, {a}, {});
  ASSERT_EQ(c.changes.size(), 1u);
  const std::string told = comparison_text(c, false);
  EXPECT_THAT(told, HasSubstr("otherwise: Damp note or wet patch."));
  EXPECT_THAT(told, Not(HasSubstr("isolated_film")));
  EXPECT_THAT(told, Not(HasSubstr("unknown_object")));
}

TEST(FindingBeforeAndAfter, ElsewhereIsAnotherOne) {
  StateOfUnit b = sound("b"), a = sound("a");
  b.diagnosis.causes = {film(-100, {0, 0, 0, 0})};
  a.diagnosis.causes = {film(-100, {3, 3, 3, 3})};
  const Comparison c = compare(b, {a}, {});
  ASSERT_EQ(c.changes.size(), 2u);
  EXPECT_EQ(c.changes[0].change, Change::fresh) << "what is left over comes first";
  EXPECT_EQ(c.changes[1].change, Change::gone);
}

TEST(FindingBeforeAndAfter, InAnyDumpAfterIsNotGone) {
  StateOfUnit b = sound("b"), again = sound("again");
  b.diagnosis.causes = {film(-100)};
  again.diagnosis.causes = {film(-100)};
  const Comparison c = compare(b, {again, sound("clean")}, {});
  ASSERT_EQ(c.changes.size(), 1u);
  EXPECT_EQ(c.changes[0].change, Change::still_there);
  EXPECT_FALSE(c.accepted);
}

TEST(LineFaults, AreMatchedByTheirLines) {
  EXPECT_EQ(only_change(cut(2, 3), cut(3, 3)), Change::still_there);
  EXPECT_FALSE(same_thing(cut(0, 0), cut(2, 3)));
  EXPECT_FALSE(same_thing(cut(1, 2), film(100)));
}

TEST(MapOfTheDifference, IsSignedAsATouchAndFreeOfTheWholePanelsShift) {
  StateOfUnit b = sound("b"), a = sound("a");
  for (double& m : a.mean) m -= 30.0;  // 3 % of a finger everywhere
  a.mean[5] -= 200.0;                  // touched-like there
  Comparison c = compare(b, {a}, {});
  EXPECT_NEAR(c.shift_percent, 3.0, 1e-9);
  EXPECT_EQ(c.map.counts[5], 200);
  EXPECT_EQ(c.map.counts[6], 0);
  b.account.settings.counts_rise = a.account.settings.counts_rise = true;
  EXPECT_EQ(compare(b, {a}, {}).map.counts[5], -200);
}

TEST(MapOfTheDifference, IsLeftOutForUnlikeDumps) {
  StateOfUnit a = sound("a");
  a.account.kind = DumpKind::differences_only;
  const Comparison c = compare(sound("b"), {a}, {});
  EXPECT_THAT(c.map.counts, IsEmpty());
  EXPECT_THAT(comparison_text(c, false), HasSubstr("No map"));
}

TEST(Acceptance, NoiseIsHeldAgainstItsLimits) {
  StateOfUnit a = sound("a");
  a.noise.assign(16, 25.0);
  Comparison c = compare(sound("b"), {a}, {});
  EXPECT_FALSE(check(c, "noise, typical").passed) << "2.5 % of a finger against 2";
  EXPECT_THAT(check(c, "noise, typical").by, HasSubstr("1.2 times"));
  AcceptLimits wide;
  wide.max_noise_percent = 2.5;
  EXPECT_TRUE(check(compare(sound("b"), {a}, wide), "noise, typical").passed)
      << "the limit itself is kept";
  a = sound("a");
  a.noise[3] = 61.0;
  c = compare(sound("b"), {a}, {});
  EXPECT_TRUE(check(c, "noise, typical").passed);
  EXPECT_FALSE(check(c, "noise, worst").passed);
}

TEST(Acceptance, DepartureIgnoresTheWholePanelsShift) {
  StateOfUnit a = sound("a");
  for (double& m : a.mean) m += 500.0;
  EXPECT_TRUE(check(compare(sound("b"), {a}, {}), "off the reference").passed);
  a.mean[7] += 81.0;  // 8.1 % of a finger
  EXPECT_FALSE(check(compare(sound("b"), {a}, {}), "off the reference").passed);
}

// A wet cloth from edge to edge takes a tenth of every node; no node differs from the others.
StateOfUnit covered(const std::string& file) {
  StateOfUnit s = sound(file);
  for (double& m : s.mean) m *= 0.89;
  return s;
}

TEST(CoverOverAllOfTheGlass, IsNeverAcceptedAsRepaired) {
  const Comparison c = compare(sound("b"), {covered("a")}, {});
  EXPECT_FALSE(c.accepted);
  EXPECT_TRUE(c.whole_panel_off);
  EXPECT_THAT(check(c, "whole panel").value, HasSubstr("-11.0 %"));
  EXPECT_THAT(check(c, "whole panel").by, HasSubstr("cover over all of the glass"));
  EXPECT_THAT(comparison_text(c, false),
              AllOf(HasSubstr("REJECTED"), HasSubstr("would not show on it")));
  EXPECT_FALSE(compare(covered("b"), {covered("a")}, {}).accepted) << "nothing changed";
}

TEST(CoverOverAllOfTheGlass, TakenOffIsAcceptedByTheReference) {
  EXPECT_TRUE(compare(covered("b"), {sound("a")}, {}).accepted);
}

TEST(CoverOverAllOfTheGlass, WithoutAReferenceEitherDumpMayBeTheCoveredOne) {
  StateOfUnit bare = sound("a"), under = covered("b");
  bare.reference.clear();
  under.reference.clear();
  for (const Comparison& c : {compare(under, {bare}, {}), compare(bare, {under}, {})}) {
    EXPECT_FALSE(c.accepted);
    EXPECT_THAT(check(c, "whole panel").by, HasSubstr("either dump"));
  }
  EXPECT_TRUE(compare(bare, {bare}, {}).accepted);
}

TEST(CoverOverAllOfTheGlass, InAnyDumpAfterTheRepairIsSeen) {
  EXPECT_FALSE(compare(sound("b"), {covered("1"), sound("2")}, {}).accepted);
}

TEST(CoverOverAllOfTheGlass, IsNotWhatATemperatureOrTheAgeOfAReferenceDoes) {
  StateOfUnit a = sound("a");
  for (double& m : a.mean) m *= 1.015;
  EXPECT_TRUE(compare(sound("b"), {a}, {}).accepted);
  AcceptLimits strict;
  strict.max_whole_shift_percent = 1.0;
  EXPECT_FALSE(compare(sound("b"), {a}, strict).accepted);
}

TEST(Acceptance, NonUniformityIsRelativeToTheReference) {
  StateOfUnit a = sound("a");
  for (std::size_t i = 0; i < 4; ++i) a.mean[i] = a.reference[i] = 10000;  // a panel made so
  EXPECT_TRUE(check(compare(sound("b"), {a}, {}), "non-uniformity").passed);
  a.reference.clear();
  const Comparison c = compare(sound("b"), {a}, {});
  EXPECT_FALSE(check(c, "non-uniformity").passed);
  EXPECT_THAT(check(c, "non-uniformity").value, HasSubstr("50.0"));
}

TEST(Acceptance, FindingsAndFaultsAreToldApart) {
  StateOfUnit a = sound("a");
  a.diagnosis.causes = {cut(1, 2)};
  Comparison c = compare(sound("b"), {a}, {});
  EXPECT_TRUE(check(c, "findings on the glass").passed);
  EXPECT_FALSE(check(c, "faults of lines").passed);
  AcceptLimits lenient;
  lenient.sound_lines = false;
  EXPECT_TRUE(compare(sound("b"), {a}, lenient).accepted);
}

TEST(Acceptance, EveryStartUpMustComeOnAndThereMustBeEnough) {
  AcceptLimits three;
  three.start_ups = 3;
  Comparison c = compare(sound("b"), {sound("1"), sound("2")}, three);
  EXPECT_FALSE(c.accepted);
  EXPECT_THAT(check(c, "start-ups").by, HasSubstr("1 missing"));
  EXPECT_TRUE(compare(sound("b"), {sound("1"), sound("2"), sound("3")}, three).accepted);
  StateOfUnit off = sound("off");
  off.start_ups_on = 0;
  c = compare(sound("b"), {sound("1"), sound("2"), sound("3"), off}, three);
  EXPECT_THAT(check(c, "start-ups").value, HasSubstr("3 of 4"));
  EXPECT_FALSE(c.accepted);
}

TEST(Acceptance, WhatWasNotMeasuredIsNotAccepted) {
  StateOfUnit a = sound("a");
  a.frames = 0;
  const Comparison c = compare(sound("b"), {a}, {});
  EXPECT_FALSE(check(c, "noise, typical").passed);
  EXPECT_EQ(check(c, "noise, typical").value, "not measured");
}

TEST(DifferentPanels, AreToldByShapePitchAndUnit) {
  const StateOfUnit b = sound("b");
  StateOfUnit a = sound("a");
  EXPECT_EQ(mismatch(b, a).panel, "");
  a.account.panel.unit_id = "bay1-pump-02";
  EXPECT_EQ(mismatch(b, a).panel, "");
  EXPECT_THAT(mismatch(b, a).unit, HasSubstr("bay1-pump-02"));
  a.account.panel.unit_id.clear();
  EXPECT_EQ(mismatch(b, a).unit, "");
  a.account.settings.pitch_col_um = 4000;
  EXPECT_THAT(mismatch(b, a).panel, HasSubstr("pitches"));
  a.account.settings.shape = {4, 5};
  EXPECT_THAT(mismatch(b, a).panel, HasSubstr("4 x 5"));
}

TEST(RecordedDump, GivesStateStartUpsAndReference) {
  const std::string path = BAREGLASS_SOURCE_DIR "/fixtures/bare-glass.frames";
  const StateOfUnit s = read_state(*open_capture(path, {}), path, {});
  EXPECT_EQ(s.frames, StateOfUnit::kMostFrames);
  EXPECT_EQ(s.mean.size(), 160u);
  EXPECT_EQ(s.reference.size(), 160u);
  EXPECT_EQ(s.start_ups, 1);
  EXPECT_EQ(s.start_ups_on, 1);
  for (std::size_t i = 0; i < s.mean.size(); ++i) {
    EXPECT_NEAR(s.mean[i], s.reference[i], 0.02 * s.account.settings.finger_counts);
    EXPECT_GT(s.noise[i], 0.0);
  }
}

TEST(RecordedDump, JsonIsOneDocument) {
  const std::string path = BAREGLASS_SOURCE_DIR "/fixtures/damp-note-peeled.frames";
  const StateOfUnit s = read_state(*open_capture(path, {}), path, {});
  const auto j = nlohmann::json::parse(comparison_json(compare(s, {s}, {})));
  EXPECT_FALSE(j["accepted"].get<bool>());
  EXPECT_EQ(j["changes"][0]["change"], "still there");
  EXPECT_EQ(j["map"]["counts"].size(), 160u);
}

}  // namespace
}  // namespace bareglass::host
