// The lessons that ship, given to their end: what the physics and the core did is what the lesson
// says is right.
#include "bareglass/view/lesson.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>

#include "bareglass/capture/error.hpp"
#include "bareglass/view/lesson_run.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::view {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

const Lesson& lesson_named(const std::string& name) {
  for (const Lesson& lesson : built_in_lessons())
    if (lesson.name == name) return lesson;
  throw std::runtime_error("no lesson " + name);
}

/// What a trainer expects of each step's answer, by the words its right choice begins with. From
/// the reference numbers of the panel's physics: dry tape 0.4 %, damp note about a tenth, a
/// diagonal streak about 60 %, an L more than a finger, 3 pF to earth 39 %, a cut row dead beyond
/// its cut.
struct Expected {
  const char* lesson;
  std::vector<const char*> answers;
};

const Expected kExpected[] = {
    {"bare-glass-start", {"Within one second", "About all of it"}},
    {"finger-at-power-up",
     {"Stays off until the unit", "Comes on some time after", "Comes on with the finger",
      "Stays off and asks for a technician"}},
    {"dry-strip-damp-note",
     {"By about 1 percent of a finger or less", "It refuses to start",
      "It refuses to start: the hand"}},
    {"peeled-after-start",
     {"Yes, with the smear", "More than a touch: a phantom", "Nothing to speak of"}},
    {"wet-wipe-down", {"Input is off, and it looks again", "Input comes on when hardly anything"}},
    {"isolated-streak", {"The other way, and weakly", "Signals as strong as a touch"}},
    {"wet-bezel",
     {"The fluid at the bezel", "It refuses, because of a band along the border", "Yes"}},
    {"crack-and-tail",
     {"The near part works, the far part is dead", "Input goes off, because of a cut line",
      "It reads low from one end to the other", "No, it stays off"}},
    {"floating-ground", {"About half or less", "Better, but not full strength", "Full strength"}},
};

void PrintTo(const Expected& expected, std::ostream* out) { *out << expected.lesson; }

class EveryLesson : public ::testing::TestWithParam<Expected> {};

TEST_P(EveryLesson, RunsToItsEndAndTheExpectedAnswerIsWhatHappened) {
  LessonRun run(lesson_named(GetParam().lesson));
  std::size_t asked = 0;
  while (run.stage() != LessonRun::Stage::finished) {
    SCOPED_TRACE(run.step().title);
    EXPECT_THAT(run.text(), Not(HasSubstr("{")));
    if (run.step().choices.empty()) {
      run.go_on();
    } else {
      run.predict(0);
    }
    run.finish_running();
    ASSERT_EQ(run.stage(), LessonRun::Stage::answered);
    EXPECT_THAT(run.after(), Not(HasSubstr("{")));
    if (!run.step().choices.empty()) {
      ASSERT_TRUE(run.right_choice().has_value());
      ASSERT_LT(asked, GetParam().answers.size());
      EXPECT_THAT(run.step().choices[*run.right_choice()].text,
                  ::testing::StartsWith(GetParam().answers[asked]));
      ++asked;
    }
    run.next();
  }
  EXPECT_EQ(asked, GetParam().answers.size());
}

INSTANTIATE_TEST_SUITE_P(All, EveryLesson, ::testing::ValuesIn(kExpected),
                         [](const auto& instance) {
                           return support::test_name(instance.param.lesson);
                         });

TEST(BuiltInLessons, AreAllExpectedAbove) {
  EXPECT_EQ(built_in_lessons().size(), std::size(kExpected));
}

TEST(BuiltInLessons, AreInTheirOrder) {
  for (std::size_t k = 1; k < built_in_lessons().size(); ++k)
    EXPECT_LT(built_in_lessons()[k - 1].order, built_in_lessons()[k].order);
}

// The independent field solution: 100 um of permittivity 3 on 1.1 mm glass raise a node by 0.7 fF
// over the whole area, 0.4 % of an 8 mm finger.
TEST(DryStripLesson, SaysWhatTheFieldSolutionSays) {
  LessonRun run(lesson_named("dry-strip-damp-note"));
  const Reading strip = run.watch().read("percent_of_finger", "tape strip");
  ASSERT_TRUE(strip.number.has_value());
  EXPECT_NEAR(*strip.number, -0.4, 0.15);
  run.predict(0);
  run.finish_running();
  EXPECT_THAT(run.after(), HasSubstr("-0.4 % of a finger's signal"));
}

TEST(LessonBeingRead, LetsNoTimePass) {
  LessonRun run(lesson_named("bare-glass-start"));
  const double before = run.bench().now_s();
  run.advance(10.0);
  EXPECT_EQ(run.bench().now_s(), before);
  EXPECT_EQ(run.stage(), LessonRun::Stage::asking);
}

TEST(LessonBeingRun, IsTheSameInSmallStepsAndAtOnce) {
  LessonRun small(lesson_named("finger-at-power-up"));
  LessonRun whole(lesson_named("finger-at-power-up"));
  small.predict(1);
  whole.predict(1);
  while (small.stage() == LessonRun::Stage::running) small.advance(1.0 / 60.0);
  whole.finish_running();
  EXPECT_EQ(small.after(), whole.after());
  EXPECT_EQ(small.bench().unit().frame().raw, whole.bench().unit().frame().raw);
}

TEST(LessonGoneTo, RunsTheStepsThatLeadThere) {
  LessonRun run(lesson_named("floating-ground"));
  run.go_to(2);
  EXPECT_EQ(run.step_number(), 2u);
  EXPECT_EQ(run.stage(), LessonRun::Stage::asking);
  EXPECT_EQ(run.bench().contacts().size(), 1u);
}

const std::string kSmall = R"(title = "T"
about = "A."
[scene]
[scene.panel]
glass_mm = 1.1
[[scene.thing]]
name = "drop"
kind = "conductor"
shape = "disc"
diameter_mm = 8
at_mm = [10, 10]
[[step]]
title = "S"
text = "Drop: {percent_of_finger drop}"
run_s = 1
)";

struct Wrong {
  const char* name;
  const char* from;
  const char* to;
  const char* place;
  const char* expected;
};

void PrintTo(const Wrong& wrong, std::ostream* out) { *out << wrong.name; }

class WrongLesson : public ::testing::TestWithParam<Wrong> {};

TEST_P(WrongLesson, IsRefusedWithFileLineKeyAndExpectation) {
  std::string text = kSmall;
  const std::size_t at = text.find(GetParam().from);
  ASSERT_NE(at, std::string::npos);
  text.replace(at, std::string(GetParam().from).size(), GetParam().to);
  try {
    parse_lesson(text, "some.toml");
    FAIL() << "was taken";
  } catch (const host::CaptureError& e) {
    EXPECT_EQ(e.file(), "some.toml");
    EXPECT_EQ(e.place(), GetParam().place);
    EXPECT_THAT(e.expected(), HasSubstr(GetParam().expected));
  }
}

const Wrong kWrong[] = {
    {"NotToml", "title = \"T\"", "title = T", "line 1", "expected a TOML lesson"},
    {"NoTitle", "title = \"T\"\n", "\n", "line 1", "title: missing"},
    {"UnknownKey", "about", "abuot", "line 2", "abuot: not a key here"},
    {"UnknownQuantity", "{percent_of_finger drop}", "{percent_of_thumb drop}", "line 14",
     "expected a quantity (state, policy"},
    {"UnknownThing", "{percent_of_finger drop}", "{percent_of_finger drip}", "line 14",
     "expected the name of a [[scene.thing]]"},
    {"NodeOutside", "{percent_of_finger drop}", "{raw_change 99 1}", "line 14",
     "expected a row and a column of the panel"},
    {"ChoiceWithoutQuestion", "run_s = 1\n",
     "run_s = 1\n[[step.choice]]\ntext = \"x\"\nwhen = [\"state is off\"]\n", "line 16",
     "expected only together with a question"},
    {"QuestionWithoutChoices", "run_s = 1\n", "run_s = 1\nquestion = \"?\"\n", "line 16",
     "expected 2 to 5 [[step.choice]]"},
    {"EventAfterTheEnd", "run_s = 1\n", "run_s = 1\n[[step.event]]\nat_s = 2\ndo = \"power_on\"\n",
     "line 17", "expected a time within the step's 1 s"},
    {"EventOfNothing", "run_s = 1\n",
     "run_s = 1\n[[step.event]]\nat_s = 0\ndo = \"put\"\nthing = \"drip\"\n", "line 19",
     "expected the name of a [[thing]]"},
    {"ConditionWithoutValue", "run_s = 1\n",
     "run_s = 1\nquestion = \"?\"\n[[step.choice]]\ntext = \"x\"\nwhen = [\"contacts >\"]\n"
     "[[step.choice]]\ntext = \"y\"\nwhen = [\"contacts > 1\"]\n",
     "line 19", "expected a number at its end"},
};

INSTANTIATE_TEST_SUITE_P(All, WrongLesson, ::testing::ValuesIn(kWrong),
                         [](const auto& instance) { return std::string(instance.param.name); });

TEST(SmallLesson, IsTakenAsItIs) {
  const Lesson lesson = parse_lesson(kSmall, "some.toml");
  EXPECT_EQ(lesson.name, "some");
  ASSERT_EQ(lesson.steps.size(), 1u);
  LessonRun run(lesson);
  run.go_on();
  run.finish_running();
  run.next();
  EXPECT_EQ(run.stage(), LessonRun::Stage::finished);
}

}  // namespace
}  // namespace bareglass::view
