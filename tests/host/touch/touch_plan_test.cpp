// Plan files: what is read, and what is refused with its place.
#include "bareglass/touch/touch_plan.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdio>
#include <fstream>
#include <sstream>

#include "bareglass/capture/error.hpp"
#include "support/temporary_path.hpp"

namespace bareglass::host {
namespace {

using ::testing::HasSubstr;

class PlanFile : public ::testing::Test {
 protected:
  void write(const std::string& text) { std::ofstream(path_) << text; }
  void TearDown() override { std::remove(path_.c_str()); }
  void expect_error(const std::string& text, const std::string& place, const std::string& words) {
    write(text);
    try {
      read_touch_plan(path_);
      ADD_FAILURE() << "accepted: " << text;
    } catch (const CaptureError& e) {
      EXPECT_EQ(e.file(), path_);
      EXPECT_THAT(e.place(), HasSubstr(place)) << text;
      EXPECT_THAT(e.expected(), HasSubstr(words)) << text;
    }
  }
  std::string path_ = support::temporary_path("bareglass_plan_test.toml");
};

TEST_F(PlanFile, ExampleOfTheFormatPageIsRead) {
  std::ifstream page(BAREGLASS_SOURCE_DIR "/lib/host/touch/PLAN.md");
  std::ostringstream text;
  text << page.rdbuf();
  const std::string all = text.str();
  const auto begin = all.find("```toml\n") + 8;
  ASSERT_NE(all.find("```toml\n"), std::string::npos);
  write(all.substr(begin, all.find("```", begin) - begin));
  const TouchPlan plan = read_touch_plan(path_);
  EXPECT_EQ(plan.name, "two points and a line");
  ASSERT_EQ(plan.steps.size(), 3u);
  EXPECT_EQ(plan.steps[0].name, "start key");
  EXPECT_EQ(plan.steps[0].prompt, "Touch the mark for one second.");
  EXPECT_EQ(plan.steps[2].kind, TouchStep::Kind::line);
  EXPECT_EQ(plan.steps[2].to.x, 45.0);
  EXPECT_FALSE(plan.against_intended);
}

TEST_F(PlanFile, ThatIsNoFileIsNamedWithWhatWasExpected) {
  for (const auto& [path, words] :
       {std::pair{::testing::TempDir(), "is a directory, expected a TOML plan file"},
        std::pair{path_, "cannot open: No such file or directory, expected a TOML plan file"}})
    try {
      read_touch_plan(path);
      ADD_FAILURE() << "accepted: " << path;
    } catch (const CaptureError& e) {
      EXPECT_EQ(e.place(), "");
      EXPECT_EQ(e.expected(), words);
    }
}

TEST_F(PlanFile, LimitsAndTimesAreRead) {
  write(
      "[plan]\nline_against = \"intended\"\nreach_mm = 7.5\n[limits]\nextra = 2\n"
      "coverage_percent = 90\n[[step]]\nname = \"a\"\npoint_mm = [1, 2.5]\nfrom_s = 0.5\nuntil_s = "
      "2\n");
  const TouchPlan plan = read_touch_plan(path_);
  EXPECT_TRUE(plan.against_intended);
  EXPECT_EQ(plan.reach_mm, 7.5);
  EXPECT_EQ(plan.limits.extra, 2);
  EXPECT_EQ(plan.limits.coverage_percent, 90.0);
  EXPECT_EQ(plan.limits.accuracy_median_mm, TouchLimits{}.accuracy_median_mm);
  EXPECT_EQ(plan.steps[0].until_s, 2.0);
}

TEST_F(PlanFile, WrongPlansAreRefused) {
  const std::string step = "[[step]]\nname = \"a\"\npoint_mm = [1, 2]\n";
  expect_error("", "whole file", "[[step]]");
  expect_error("step = 3\n", "whole file", "[[step]]");
  expect_error("hello world", "line 1", "TOML");
  expect_error(step + "[plans]\nname = \"b\"\n", "line 4", "\"plans\"");
  expect_error("[plan]\nreach = 3\n" + step, "line 2", "plan.reach");
  expect_error("[plan]\nreach_mm = 0\n" + step, "line 2", "1 to 100");
  expect_error("[plan]\nreach_mm = nan\n" + step, "line 2", "1 to 100");
  expect_error("[plan]\nline_against = \"guessed\"\n" + step, "line 2", "intended");
  expect_error("[limits]\ncoverage_percent = 101\n" + step, "line 2", "0 to 100");
  expect_error("[limits]\ndropped = \"none\"\n" + step, "line 2", "number");
  expect_error("[[step]]\npoint_mm = [1, 2]\n", "line 1", "name");
  expect_error("[[step]]\nname = \"a\"\n", "line 1", "point_mm");
  expect_error("[[step]]\nname = \"a\"\npoint_mm = [1]\n", "line 3", "[x, y]");
  expect_error("[[step]]\nname = \"a\"\npoint_mm = [1, -2]\n", "line 3", "from 0");
  expect_error(step + "to_mm = [3, 4]\n", "line 1", "either");
  expect_error("[[step]]\nname = \"a\"\nfrom_mm = [1, 1]\nto_mm = [1, 1]\n", "line 1", "1 mm");
  expect_error(step + "from_s = 3\n", "line 1", "until_s");
  expect_error(step + "from_s = 3\nuntil_s = 2\n", "line 1", "until_s");
  expect_error(step + "from_s = 1\nuntil_s = 2\n" + step, "line 6", "every step or for none");
  expect_error(step + "colour = 1\n", "line 4", "step.colour");
}

TEST_F(PlanFile, PlaceBesideThePanelIsRefused) {
  write("[[step]]\nname = \"far\"\npoint_mm = [51, 2]\n");
  const TouchPlan plan = read_touch_plan(path_);
  Settings s;
  s.shape = {16, 10};
  try {
    expect_on_panel(plan, s, path_);
    ADD_FAILURE() << "accepted";
  } catch (const CaptureError& e) {
    EXPECT_THAT(e.place(), HasSubstr("far"));
    EXPECT_THAT(e.expected(), HasSubstr("50 x 80 mm"));
  }
}

}  // namespace
}  // namespace bareglass::host
