// The table of next steps: what the shipped one says, and how a wrong one is refused.

#include "bareglass/advise/next_steps.hpp"

#include <gmock/gmock.h>

#include <algorithm>
#include <fstream>
#include <sstream>

#include "bareglass/capture/error.hpp"
#include "support/journal_entries.hpp"

namespace bareglass::host {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;

CauseFound found(Cause cause, double confidence = 0.9) {
  CauseFound c;
  c.cause = cause;
  c.confidence = confidence;
  return c;
}

Account refused_at_power_up() {
  Account a;
  a.kind = DumpKind::from_power_up;
  a.final_state = InputState::off;
  a.has_reference = true;
  return a;
}

std::vector<std::string> names(const std::vector<NextStep>& steps) {
  std::vector<std::string> out;
  for (const NextStep& s : steps) out.push_back(s.name);
  return out;
}

std::string shipped_text() {
  std::ifstream file(BAREGLASS_SOURCE_DIR "/lib/host/advise/data/next_steps.toml");
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

// The shipped table with one passage replaced.
std::string changed(const std::string& from, const std::string& to) {
  std::string text = shipped_text();
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

std::string refusal(const std::string& text) {
  try {
    parse_steps(text, "my_steps.toml");
  } catch (const CaptureError& e) {
    return e.what();
  }
  return "accepted";
}

TEST(ShippedSteps, AreTheFileOfTheTree) {
  const StepTable table = parse_steps(shipped_text(), "next_steps.toml");
  ASSERT_EQ(shipped_steps().rules.size(), table.rules.size());
  for (std::size_t i = 0; i < table.rules.size(); ++i)
    EXPECT_EQ(shipped_steps().rules[i].step.text, table.rules[i].step.text);
}

TEST(ShippedSteps, SaySomethingAboutEveryCauseWhileInputIsOff) {
  for (int i = 0; i < kCauseCount; ++i) {
    const Cause cause = static_cast<Cause>(i);
    EXPECT_FALSE(steps_for(shipped_steps(), {found(cause)}, refused_at_power_up()).empty())
        << name_of(cause);
  }
}

TEST(ShippedSteps, CleanBeforeTheyDryBeforeTheyRestart) {
  const auto steps =
      names(steps_for(shipped_steps(), {found(Cause::wet_bezel)}, refused_at_power_up()));
  const auto place = [&](const char* name) {
    return std::find(steps.begin(), steps.end(), name) - steps.begin();
  };
  ASSERT_THAT(steps, Contains("hands_off_restart"));
  EXPECT_LT(place("bare_the_glass"), place("clean"));
  EXPECT_LT(place("clean"), place("dry_fully"));
  EXPECT_LT(place("dry_fully"), place("hands_off_restart"));
}

TEST(ShippedSteps, AreThoseOfEveryKindThatAnAnswerNames) {
  CauseFound either = found(Cause::floating_ground);
  const auto clean = Contains("clean");
  EXPECT_THAT(names(steps_for(shipped_steps(), {either}, refused_at_power_up())), Not(clean));
  either.or_else = {Cause::drops};
  EXPECT_THAT(names(steps_for(shipped_steps(), {either}, refused_at_power_up())), clean);
}

TEST(ShippedSteps, NothingIsOpenedForWhatLiesOnTheGlass) {
  for (const Cause cause :
       {Cause::touch_at_power_up, Cause::isolated_film, Cause::wet_bezel, Cause::residue}) {
    const auto steps = names(steps_for(shipped_steps(), {found(cause)}, refused_at_power_up()));
    EXPECT_THAT(steps, Not(Contains("reseat_the_tail"))) << name_of(cause);
    EXPECT_THAT(steps, Not(Contains("replace_the_panel"))) << name_of(cause);
  }
}

TEST(ShippedSteps, OpeningAlwaysCarriesTheSafetyTest) {
  for (const StepRule& rule : shipped_steps().rules) {
    const std::string& text = rule.step.text;
    if (text.find("Open the device") == std::string::npos &&
        text.find("Replace the panel") == std::string::npos)
      continue;
    EXPECT_THAT(rule.step.caution, HasSubstr("electrical safety test")) << rule.step.name;
  }
}

TEST(ShippedSteps, ALoneNodeIsNotCleanedUnlessSomethingLiesThereToo) {
  EXPECT_THAT(names(steps_for(shipped_steps(), {found(Cause::lone_node)}, refused_at_power_up())),
              Contains("look_at_the_node"));
  EXPECT_THAT(names(steps_for(shipped_steps(), {found(Cause::lone_node), found(Cause::residue)},
                              refused_at_power_up())),
              Not(Contains("look_at_the_node")));
}

TEST(ShippedSteps, WhatTheDeviceSaysOfItsDockDecides) {
  Account a = refused_at_power_up();
  a.docked = true;
  EXPECT_THAT(names(steps_for(shipped_steps(), {found(Cause::interference)}, a)),
              Contains("other_outlet"));
  a.docked = false;
  const auto undocked = names(steps_for(shipped_steps(), {found(Cause::interference)}, a));
  EXPECT_THAT(undocked, Contains("away_from_equipment"));
  EXPECT_THAT(undocked, Not(Contains("other_outlet")));
}

Account input_on_after(std::initializer_list<JournalCode> codes) {
  return support::input_on_after(refused_at_power_up(), codes);
}

TEST(ShippedSteps, TakeAnAdoptedObjectOffAndRestart) {
  const auto steps = names(steps_for(
      shipped_steps(), {found(Cause::isolated_film)},
      input_on_after({JournalCode::power_up, JournalCode::adopted, JournalCode::input_on})));
  EXPECT_THAT(steps, Contains("bare_the_glass"));
  EXPECT_THAT(steps, Contains("hands_off_restart"));
  for (const char* all_well : {"came_back", "stayed_on", "keep_it_bare"})
    EXPECT_THAT(steps, Not(Contains(all_well)));
  const auto anew =
      names(steps_for(shipped_steps(), {found(Cause::isolated_film)},
                      input_on_after({JournalCode::adopted, JournalCode::input_on,
                                      JournalCode::baseline_disproved, JournalCode::glass_bare})));
  EXPECT_THAT(anew, Contains("stayed_on"));
  EXPECT_THAT(anew, Not(Contains("hands_off_restart")));
}

TEST(ShippedSteps, SayThatInputIsOnAgainOnlyIfItWasOff) {
  const auto never_off =
      names(steps_for(shipped_steps(), {found(Cause::residue)},
                      input_on_after({JournalCode::glass_bare, JournalCode::input_on})));
  EXPECT_THAT(never_off, Contains("stayed_on"));
  EXPECT_THAT(never_off, Not(Contains("came_back")));
  const auto waited = names(steps_for(
      shipped_steps(), {found(Cause::residue)},
      input_on_after({JournalCode::waiting, JournalCode::glass_bare, JournalCode::input_on})));
  EXPECT_THAT(waited, Contains("came_back"));
  EXPECT_THAT(waited, Not(Contains("stayed_on")));
}

TEST(ShippedSteps, WhatShowsOnlyUnderATouchIsProvedByTouches) {
  for (const Cause cause : {Cause::interference, Cause::floating_ground}) {
    const auto steps = names(steps_for(shipped_steps(), {found(cause)}, refused_at_power_up()));
    EXPECT_THAT(steps, Contains("prove_by_touch")) << name_of(cause);
    EXPECT_THAT(steps, Not(Contains("prove_it"))) << name_of(cause);
    EXPECT_THAT(steps, Not(Contains("hands_off_restart"))) << name_of(cause);
  }
  EXPECT_THAT(names(steps_for(shipped_steps(), {found(Cause::supply_sag)}, refused_at_power_up())),
              Contains("prove_it"));
}

TEST(StepsWithALeastConfidence, StayAwayBelowIt) {
  const StepTable table =
      parse_steps(changed("name = \"replace_the_panel\"",
                          "name = \"replace_the_panel\"\nconfidence_from = 0.8"),
                  "my_steps.toml");
  EXPECT_THAT(names(steps_for(table, {found(Cause::crack, 0.79)}, refused_at_power_up())),
              Not(Contains("replace_the_panel")));
  EXPECT_THAT(names(steps_for(table, {found(Cause::crack, 0.8)}, refused_at_power_up())),
              Contains("replace_the_panel"));
}

TEST(WrongStepTable, NamesFileLineAndWhatWasExpected) {
  const std::string text = refusal(changed("causes = [\"wet_bezel\"]", "causes = [\"wet_bezle\"]"));
  EXPECT_THAT(text, HasSubstr("my_steps.toml"));
  EXPECT_THAT(text, HasSubstr("line "));
  EXPECT_THAT(text, HasSubstr("wet_bezle"));
}

TEST(WrongStepTable, IsRefusedWhateverIsWrong) {
  EXPECT_THAT(refusal(changed("only = true", "only = 1")), HasSubstr("true or false"));
  EXPECT_THAT(refusal(changed("only = true", "olny = true")), HasSubstr("olny"));
  EXPECT_THAT(refusal(changed("only = true", "confidence_from = 1.5")), HasSubstr("0 to 1"));
  EXPECT_THAT(refusal(changed("when = [\"input_on_bare\"]", "when = [\"input_onn\"]")),
              HasSubstr("input_onn"));
  EXPECT_THAT(refusal(changed("name = \"clean\"", "name = \"dry_fully\"")), HasSubstr("used once"));
  EXPECT_THAT(refusal(changed("name = \"clean\"", "name = \"cle an\"")), HasSubstr("letters"));
  EXPECT_THAT(refusal(changed("name = \"clean\"", "")), HasSubstr("\"name\""));
  EXPECT_THAT(refusal(changed("causes = [\"not_enough\"]", "causes = [\"bare_glass\"]")),
              HasSubstr("not_enough"));
  EXPECT_THAT(refusal("step = 3"), HasSubstr("line 1: expected at least one table [[step]]"));
  EXPECT_THAT(refusal("[[step"), HasSubstr("line 1: expected a table of steps in TOML"));
  EXPECT_THAT(refusal(""), HasSubstr("[[step]]"));
  EXPECT_EQ(refusal(shipped_text()), "accepted");
}

TEST(WrongStepTable, ThatIsNotThereIsNamed) {
  try {
    read_steps("/nowhere/my_steps.toml");
    FAIL() << "accepted";
  } catch (const CaptureError& e) {
    EXPECT_STREQ(e.what(),
                 "/nowhere/my_steps.toml: cannot open: No such file or directory, expected a table "
                 "of steps in TOML");
  }
  try {
    read_steps(::testing::TempDir());
    FAIL() << "accepted";
  } catch (const CaptureError& e) {
    EXPECT_EQ(e.expected(), "is a directory, expected a table of steps in TOML");
  }
}

}  // namespace
}  // namespace bareglass::host
