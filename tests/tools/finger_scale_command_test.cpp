// Where a dump does not state the signal of a finger: what the commands ask for, take and say.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "support/run_command.hpp"

namespace bareglass {
namespace {

using support::CommandResult;
using ::testing::HasSubstr;

using support::kFixtures;

class DumpWithoutAFinger : public ::testing::Test {
 protected:
  // A fixture as CSV without its line on the finger; raw, or differences of the same shape.
  void SetUp() override {
    const std::string all = scratch_ / "all.csv";
    const CommandResult r = run("$BAREGLASS convert " + kFixtures + "finger-at-power-up.frames " +
                                all + " && grep -v '^# finger_counts' " + all + " > " + raw());
    ASSERT_EQ(r.code, 0) << r.err;
    support::write_file(differences(),
                        "# values: difference\n# rows: 4\n# cols: 4\n"
                        "t_us,v0\n0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0\n"
                        "8000,0,0,0,0,0,900,0,0,0,0,0,0,0,0,0,0\n");
  }
  CommandResult run(const std::string& line) { return support::run_shell(scratch_, line); }
  std::string raw() const { return scratch_ / "raw.csv"; }
  std::string differences() const { return scratch_ / "differences.csv"; }
  support::ScratchFolder scratch_;
};

TEST_F(DumpWithoutAFinger, IsExplainedByItsReadingAndByThePanelFile) {
  const CommandResult plain = run("$BAREGLASS explain " + raw());
  EXPECT_EQ(plain.code, 0) << plain.err;
  EXPECT_THAT(plain.out, HasSubstr("15 % of the bare reading"));
  EXPECT_THAT(plain.out, HasSubstr("A finger is taken as 3414 counts"));
  const CommandResult panel = run("$BAREGLASS explain " + raw() + " --panel " + kFixtures +
                                  "panels/bars_and_stripes_2_0.toml");
  EXPECT_EQ(panel.code, 0) << panel.err;
  EXPECT_THAT(panel.out, HasSubstr("10.2 % of the bare reading"));
  const CommandResult said = run("$BAREGLASS explain " + raw() + " --finger-counts 1234");
  EXPECT_THAT(said.out, HasSubstr("A finger: 1234 counts, as --finger-counts says."));
}

TEST_F(DumpWithoutAFinger, IsToldOfByEveryCommand) {
  const std::string after = raw() + ".after.csv";
  const CommandResult compare =
      run("sed '$d' " + raw() + " > " + after + "; $BAREGLASS compare " + raw() + " " + after);
  EXPECT_THAT(compare.out, HasSubstr("15 % of the bare reading")) << compare.err;
  EXPECT_THAT(run("$BAREGLASS touchtest " + raw()).out, HasSubstr("A finger is taken as"));
  const std::string folder = scratch_ / "fleet";
  const CommandResult fleet =
      run("mkdir " + folder + " && cp " + raw() + " " + folder +
          " && echo unit,ward,date,taped > " + folder + "/units.csv && $BAREGLASS fleet " + folder);
  EXPECT_THAT(fleet.out, HasSubstr("not state the signal of a finger")) << fleet.err;
}

TEST_F(DumpWithoutAFinger, OfDifferencesIsRefusedByEveryCommandWithTheOption) {
  for (const std::string command : {"explain ", "touchtest "}) {
    const CommandResult r = run("$BAREGLASS " + command + differences());
    EXPECT_EQ(r.code, 3) << command;
    EXPECT_THAT(r.err,
                HasSubstr("differences.csv: signal of a finger: expected --finger-counts N"));
    EXPECT_EQ(r.out, "");
    EXPECT_NE(run("$BAREGLASS " + command + differences() + " --finger-counts 900").code, 3);
  }
}

TEST_F(DumpWithoutAFinger, TakesNoPanelThatIsNone) {
  const CommandResult r =
      run("$BAREGLASS explain " + raw() + " --panel " + kFixtures + "README.md");
  EXPECT_EQ(r.code, 3);
  EXPECT_THAT(r.err, HasSubstr("README.md"));
}

}  // namespace
}  // namespace bareglass
