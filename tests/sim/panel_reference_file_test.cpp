// Reference numbers as data: how they are read, judged and printed.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <set>
#include <stdexcept>

#include "bareglass/capture/error.hpp"
#include "bareglass/panel/reference_table.hpp"

namespace bareglass::panel {
namespace {

using ::testing::HasSubstr;

const std::string kGood = R"(origin = "somewhere"
[[group]]
name = "line capacitances"
rows = [
  { key = "row of 24 columns", value = 45.3, unit = "pF" },
  { key = "a range", from = 18, to = 19, unit = "fF", note = "read so" },
]
)";

std::string complaint(const std::string& text) {
  try {
    parse_reference(text, "r.toml");
  } catch (const host::CaptureError& error) {
    return error.what();
  }
  return {};
}

std::string replaced(const std::string& from, const std::string& to) {
  std::string text = kGood;
  return text.replace(text.find(from), from.size(), to);
}

TEST(ReferenceFile, GivesGroupsAndRows) {
  const ReferenceTable table = parse_reference(kGood, "r.toml");
  EXPECT_EQ(table.origin, "somewhere");
  ASSERT_EQ(table.groups.size(), 1u);
  ASSERT_EQ(table.groups[0].rows.size(), 2u);
  EXPECT_EQ(table.groups[0].rows[0].unit, ReferenceRow::Unit::pf);
  EXPECT_DOUBLE_EQ(table.groups[0].rows[0].high, 45.3);
  EXPECT_DOUBLE_EQ(table.groups[0].rows[1].low, 18.0);
  EXPECT_DOUBLE_EQ(table.groups[0].rows[1].high, 19.0);
  EXPECT_EQ(table.groups[0].rows[1].note, "read so");
}

TEST(ReferenceFile, ErrorsNameFileLineAndWhatWasExpected) {
  EXPECT_EQ(complaint(kGood), "");
  EXPECT_THAT(complaint(replaced("\"pF\"", "\"nF\"")),
              ::testing::AllOf(HasSubstr("r.toml"), HasSubstr("line 5"), HasSubstr("fF")));
  EXPECT_THAT(complaint(replaced("value = 45.3", "value = \"much\"")),
              ::testing::AllOf(HasSubstr("line 5"), HasSubstr("a number from")));
  EXPECT_THAT(complaint(replaced("to = 19", "to = 17")), HasSubstr("line 6"));
  EXPECT_THAT(complaint(replaced("note", "remark")), HasSubstr("line 6"));
  EXPECT_THAT(complaint("origin = "), HasSubstr("line 1"));
  EXPECT_THROW(load_reference("/nonexistent/r.toml"), host::CaptureError);
}

TEST(ReferenceFile, OfAnUnknownQuantityIsRefusedByName) {
  ReferenceTable table = parse_reference(kGood, "r.toml");
  table.groups[0].name = "weather";
  try {
    solve(table.groups[0]);
    FAIL() << "no error";
  } catch (const std::invalid_argument& error) {
    EXPECT_THAT(error.what(), HasSubstr("'weather'"));
  }
}

TEST(BuiltInReference, NamesEveryGroupThatCanBeSolvedOnce) {
  std::multiset<std::string> there;
  for (const ReferenceGroup& group : built_in_reference().groups) there.insert(group.name);
  const std::vector<std::string> known = solvable_groups();
  EXPECT_EQ(there, std::multiset<std::string>(known.begin(), known.end()));
}

ReferenceRow row_of(double low, double high, double full, ReferenceRow::Unit unit) {
  ReferenceRow row;
  row.low = low;
  row.high = high;
  row.full = full;
  row.unit = unit;
  return row;
}

TEST(ReferenceRowJudgement, IsThreePerCentAboveTenFemtofaradAndOneBelow) {
  const auto ff = ReferenceRow::Unit::ff;
  EXPECT_TRUE(row_of(-100, -100, -102.9, ff).within());
  EXPECT_FALSE(row_of(-100, -100, -103.1, ff).within());
  EXPECT_TRUE(row_of(10, 10, 10.9, ff).within());
  EXPECT_FALSE(row_of(10, 10, 11.1, ff).within());
  EXPECT_FALSE(row_of(0, 0, std::nan(""), ff).within());
  EXPECT_FALSE(row_of(0.38, 0.38, 0.40, ReferenceRow::Unit::pf).within());
}

TEST(ReferenceRowJudgement, OfARangeCountsFromItsNearerEnd) {
  const auto ff = ReferenceRow::Unit::ff;
  EXPECT_DOUBLE_EQ(row_of(50, 57, 53, ff).error(), 0.0);
  EXPECT_DOUBLE_EQ(row_of(50, 57, 49, ff).error(), -1.0);
  EXPECT_DOUBLE_EQ(row_of(50, 57, 59, ff).error(), 2.0);
  EXPECT_TRUE(row_of(50, 57, 48.6, ff).within());
  EXPECT_FALSE(row_of(50, 57, 48.4, ff).within());
}

TEST(GroupText, MarksEveryRow) {
  ReferenceGroup group{"g",
                       {row_of(100, 100, 101, ReferenceRow::Unit::ff),
                        row_of(100, 100, 120, ReferenceRow::Unit::ff)}};
  group.rows[1].outside = "for a reason";
  const std::string text = group_text(group);
  EXPECT_THAT(text, HasSubstr("within"));
  EXPECT_THAT(text, HasSubstr("OUTSIDE"));
  EXPECT_THAT(text, HasSubstr("for a reason"));
}

}  // namespace
}  // namespace bareglass::panel
