// The table of `bareglass field --table`: what lies within its bound stays there.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "bareglass/panel/reference_table.hpp"

namespace bareglass::panel {
namespace {

class ReferenceTableGroup : public ::testing::TestWithParam<std::string> {};

ReferenceGroup solved(const std::string& name) {
  for (ReferenceGroup& group : built_in_reference().groups) {
    if (group.name != name) continue;
    solve(group);
    return group;
  }
  ADD_FAILURE() << name << " is not in the reference file";
  return {};
}

/// Of the full loss of 1.1 mm glass or of the quantity itself, whichever is more.
double part_of(double error, double full) {
  constexpr double kFullLoss = 179.5;  // fF
  return std::abs(error) / std::max(kFullLoss, std::abs(full));
}

TEST_P(ReferenceTableGroup, StaysWithinTheBoundAndTheFastModelWithinFivePerCent) {
  const ReferenceGroup group = solved(GetParam());
  std::printf("%s", group_text(group).c_str());
  ASSERT_FALSE(group.rows.empty());
  double worst = 0.0;
  for (const ReferenceRow& row : group.rows) {
    ASSERT_FALSE(std::isnan(row.judged())) << row.key;
    if (row.outside.empty())
      EXPECT_LE(std::abs(row.error()), row.bound()) << row.key;
    else
      EXPECT_GT(std::abs(row.error()), row.bound()) << row.key << " lies within the bound now";
    if (row.unit != ReferenceRow::Unit::ff || std::isnan(row.full) || std::isnan(row.fast))
      continue;
    const double part = part_of(row.fast - row.full, row.full);
    EXPECT_LT(part, 0.05) << row.key;
    worst = std::max(worst, part);
  }
  std::printf("fast model: %.2f %% worst\n", 100.0 * worst);
}

std::string name_of(const ::testing::TestParamInfo<std::string>& info) {
  std::string out = info.param;
  for (char& c : out)
    if (std::isalnum(static_cast<unsigned char>(c)) == 0) c = '_';
  return out;
}

INSTANTIATE_TEST_SUITE_P(, ReferenceTableGroup, ::testing::ValuesIn(solvable_groups()), name_of);

}  // namespace
}  // namespace bareglass::panel
