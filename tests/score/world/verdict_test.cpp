// Answers made by hand, held against cases made by hand.

#include "verdict.hpp"

#include <gtest/gtest.h>

namespace bareglass::world {
namespace {

host::CauseFound cause(host::Cause name, bool ended = false) {
  host::CauseFound found;
  found.cause = name;
  found.confidence = 0.95;
  found.sureness = host::Sureness::sure;
  found.ended = ended;
  return found;
}

host::Diagnosis answer(std::vector<host::CauseFound> causes) {
  host::Diagnosis d;
  d.causes = std::move(causes);
  return d;
}

class CaseOfTwoLives : public testing::Test {
 protected:
  CaseOfTwoLives() { case_.lives = {{0, 3}, {4, 7}}; }
  void lay(std::vector<std::string> right, Stay stay) {
    Item item;
    item.kind = Kind::drops;
    item.visible = true;
    item.right = std::move(right);
    item.stays = {stay};
    case_.items.push_back(item);
  }
  Verdict judged(std::vector<host::CauseFound> causes) {
    return judge_answer(case_, answer(std::move(causes)));
  }
  WorldCase case_;
};

using host::Cause;

TEST_F(CaseOfTwoLives, HealthyAndToldNothingIsRight) {
  const Verdict v = judged({cause(Cause::bare_glass)});
  EXPECT_TRUE(v.right_first);
  EXPECT_FALSE(v.alarmed);
}

TEST_F(CaseOfTwoLives, HealthyAndToldSomethingIsAnAlarmUnlessTheUnitHasIt) {
  EXPECT_TRUE(judged({cause(Cause::common_mode)}).alarmed);
  EXPECT_TRUE(judged({cause(Cause::bare_glass), cause(Cause::crack)}).alarmed);
  case_.tolerated = {"common_mode"};
  EXPECT_FALSE(judged({cause(Cause::common_mode)}).alarmed);
  EXPECT_TRUE(judged({cause(Cause::common_mode)}).right_first);
}

TEST_F(CaseOfTwoLives, BareGlassIsWrongWhileAThingLiesThere) {
  lay({"drops"}, {-1, 100});
  EXPECT_FALSE(judged({cause(Cause::bare_glass)}).right_first);
  const Verdict v = judged({cause(Cause::drops)});
  EXPECT_TRUE(v.right_first);
  EXPECT_EQ(v.named, 1);
}

TEST_F(CaseOfTwoLives, BareGlassIsRightOfWhatCannotBeSeen) {
  lay({"drops", "bare_glass"}, {-1, 100});
  EXPECT_TRUE(judged({cause(Cause::bare_glass)}).right_first);
  EXPECT_TRUE(judged({cause(Cause::drops)}).right_first);
  EXPECT_EQ(judged({cause(Cause::bare_glass)}).present, 0);
}

TEST_F(CaseOfTwoLives, AThingOfTheFirstLifeIsRightAsHistoryOnly) {
  lay({"drops"}, {0, 3.2});
  EXPECT_TRUE(judged({cause(Cause::bare_glass)}).right_first);
  EXPECT_FALSE(judged({cause(Cause::drops)}).right_first);
  EXPECT_TRUE(judged({cause(Cause::drops, true)}).right_first);
  EXPECT_EQ(judged({cause(Cause::drops, true)}).present, 0);
}

TEST_F(CaseOfTwoLives, WhatEveryUnitHasDoesNotComeBeforeAThing) {
  lay({"drops"}, {-1, 100});
  case_.tolerated = {"common_mode"};
  const Verdict v = judged({cause(Cause::common_mode), cause(Cause::drops)});
  EXPECT_FALSE(v.right_first);
  EXPECT_EQ(v.named, 1);
  EXPECT_TRUE(v.told[0].right) << "it is there all the same";
}

TEST_F(CaseOfTwoLives, EitherNameOfAnAnswerCounts) {
  lay({"residue"}, {-1, 100});
  host::CauseFound found = cause(Cause::dry_film);
  EXPECT_FALSE(judged({found}).right_first);
  found.or_else = {Cause::residue};
  EXPECT_TRUE(judged({found}).right_first);
}

TEST_F(CaseOfTwoLives, BothOfTwoHaveToBeNamed) {
  lay({"drops"}, {-1, 100});
  lay({"open_line"}, {-1, 100});
  EXPECT_EQ(judged({cause(Cause::drops)}).named, 1);
  EXPECT_EQ(judged({cause(Cause::drops), cause(Cause::open_line)}).named, 2);
  EXPECT_EQ(judged({cause(Cause::drops)}).present, 2);
}

}  // namespace
}  // namespace bareglass::world
