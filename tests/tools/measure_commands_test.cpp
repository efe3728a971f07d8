// `bareglass compare`, `touchtest` and `fleet` as processes, on dumps that the simulated panel
// makes.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <map>
#include <string>

#include "support/run_command.hpp"

namespace bareglass {
namespace {

using support::CommandResult;
using support::expect_refused;
using support::ScratchFolder;
using ::testing::AllOf;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

using support::kFixtures;

class MeasureCommand : public ::testing::Test {
 protected:
  CommandResult run(const std::string& line) {
    return support::run_shell(scratch_, "cd " + scratch_.path() + "; " + line);
  }
  void file(const std::string& name, const std::string& bytes) {
    support::write_file(scratch_ / name, bytes);
  }

  // Plays a shipped scenario with some of its lines replaced, each by the key it begins with.
  void simulate(const std::string& scenario, const std::string& dump,
                const std::map<std::string, std::string>& lines = {}) {
    std::string text = support::read_file(kFixtures + "scenarios/" + scenario + ".toml");
    ASSERT_NE(text, "");
    const auto replace = [&](const std::string& from, const std::string& to) {
      const auto at = text.find(from);
      ASSERT_NE(at, std::string::npos) << from;
      text.replace(at, from.size(), to);
    };
    replace("../panels/", kFixtures + "panels/");
    for (const auto& [key, value] : lines) {
      const auto at = text.find("\n" + key + " = ") + 1;
      ASSERT_NE(at, 0u) << key;
      replace(text.substr(at, text.find('\n', at) - at), key + " = " + value);
    }
    file("scenario.toml", text);
    const CommandResult r =
        run("$BAREGLASS simulate scenario.toml -o " + dump + "; rm scenario.toml");
    ASSERT_EQ(r.code, 0) << r.err;
  }
  void expect_approved(const std::string& name, const std::string& actual) {
    const std::string path = kFixtures + "expected/" + name + ".txt";
    if (std::getenv("BAREGLASS_APPROVE") != nullptr) support::write_file(path, actual);
    EXPECT_EQ(support::read_file(path), actual)
        << "if the new text is right: BAREGLASS_APPROVE=1 ctest --test-dir build -R MeasureCommand";
  }
  ScratchFolder scratch_;
};

TEST_F(MeasureCommand, SoundPanelPassesTheTouchTest) {
  simulate("touch-test", "t.frames");
  const CommandResult r = run("$BAREGLASS touchtest t.frames");
  EXPECT_EQ(r.code, 0) << r.out << r.err;
  EXPECT_THAT(r.out, AllOf(HasSubstr("PASSED"), Not(HasSubstr("FAILED"))));
  expect_approved("touch-test", r.out);
}

TEST_F(MeasureCommand, CutRowLeavesAHoleInTheTouchTest) {
  simulate("touch-test-cut-row", "t.frames");
  const CommandResult r = run("$BAREGLASS touchtest t.frames");
  EXPECT_EQ(r.code, 1) << r.err;
  EXPECT_THAT(r.out, AllOf(HasSubstr("FAILED"), HasSubstr("broke off")));
  // Right edge of row 8, where the row is dead.
  const auto row = r.out.find("\n    8  ");
  ASSERT_NE(row, std::string::npos);
  EXPECT_EQ(r.out.substr(row + 1, 26), "    8  # + . . # # . . . O") << r.out;
}

TEST_F(MeasureCommand, TouchTestGivesOneJsonDocument) {
  const CommandResult r =
      run("$BAREGLASS touchtest " + kFixtures + "bare-glass.frames --json | python3 -m json.tool");
  EXPECT_THAT(r.out, HasSubstr("\"passed\": false"));
}

TEST_F(MeasureCommand, TouchTestFollowsAPlan) {
  simulate("touch-test", "t.frames");
  file("plan.toml",
       "[plan]\nname = \"corner\"\n[limits]\nextra = 100\n[[step]]\nname = \"corner\"\npoint_mm = "
       "[7.5, 7.5]\n");
  const CommandResult r = run("$BAREGLASS touchtest t.frames --plan plan.toml");
  EXPECT_EQ(r.code, 1) << "the other strokes begin at the corner again: " << r.out;
  EXPECT_THAT(r.out, AllOf(HasSubstr("corner"), HasSubstr("accuracy, median")));
}

TEST_F(MeasureCommand, WrongPlansAndDumps) {
  const std::string dump = kFixtures + "bare-glass.frames";
  expect_refused(run("$BAREGLASS touchtest"), 2, "DUMP");
  expect_refused(run("$BAREGLASS touchtest gone.frames"), 3, "gone.frames");
  expect_refused(run("$BAREGLASS touchtest " + dump + " --plan gone.toml"), 3, "gone.toml");
  file("plan.toml", "[[step]]\nname = \"a\"\npoint_mm = [1, 2, 3]\n");
  expect_refused(run("$BAREGLASS touchtest " + dump + " --plan plan.toml"), 3, "line 3");
  file("plan.toml", "[[step]]\nname = \"a\"\npoint_mm = [700, 2]\n");
  expect_refused(run("$BAREGLASS touchtest " + dump + " --plan plan.toml"), 3, "50 x 80 mm");
  file("plan.toml", std::string("\0\x1b[2J", 5));
  expect_refused(run("$BAREGLASS touchtest " + dump + " --plan plan.toml"), 3, "plan.toml");
  EXPECT_EQ(run("$BAREGLASS touchtest " + dump + " > /dev/full").code, 4);
}

TEST_F(MeasureCommand, PeeledNoteIsGoneAndTheUnitAccepted) {
  simulate("damp-note-peeled", "before.frames");
  simulate("bare-glass", "after.frames", {{"unit", "\"bay1-monitor-02\""}, {"seed", "204"}});
  const CommandResult r =
      run("$BAREGLASS compare before.frames after.frames --picture d.svg && test -s d.svg");
  EXPECT_EQ(r.code, 0) << r.out << r.err;
  EXPECT_THAT(r.out, AllOf(HasSubstr("gone"), HasSubstr("ACCEPTED")));
  expect_approved("compare-damp-note", r.out);
  const CommandResult back = run("$BAREGLASS compare after.frames before.frames");
  EXPECT_EQ(back.code, 1) << back.err;
  EXPECT_THAT(back.out, AllOf(HasSubstr("new "), HasSubstr("REJECTED"), HasSubstr("What failed")));
}

TEST_F(MeasureCommand, LimitsOfTheSettingsFileDecide) {
  simulate("bare-glass", "a.frames");
  for (const char* seed : {"205", "206", "207"})
    simulate("bare-glass", std::string(seed) + ".frames", {{"seed", seed}});
  file("strict.toml", "[accept]\nstart_ups = 3\n");
  const CommandResult two =
      run("$BAREGLASS compare a.frames 205.frames 206.frames --settings strict.toml");
  EXPECT_EQ(two.code, 1) << two.err;
  EXPECT_THAT(two.out, HasSubstr("1 missing"));
  const CommandResult three =
      run("$BAREGLASS compare a.frames 205.frames 206.frames 207.frames --settings strict.toml");
  EXPECT_EQ(three.code, 0) << three.out << three.err;
  file("wrong.toml", "[accept]\nstart_ups = -1\n");
  expect_refused(run("$BAREGLASS compare a.frames 205.frames --settings wrong.toml"), 3, "line 2");
}

TEST_F(MeasureCommand, OneDumpIsOneStartUp) {
  const std::string bare = kFixtures + "bare-glass.frames";
  for (const char* name : {"a.frames", "b.frames"}) file(name, support::read_file(bare));
  run("ln -s b.frames soft.frames; ln b.frames hard.frames");
  expect_refused(run("$BAREGLASS compare a.frames b.frames b.frames"), 2, "a dump of its own");
  expect_refused(run("$BAREGLASS compare a.frames b.frames ./b.frames"), 2, "'./b.frames'");
  expect_refused(run("$BAREGLASS compare a.frames b.frames soft.frames"), 2, "'soft.frames'");
  expect_refused(run("$BAREGLASS compare a.frames b.frames hard.frames"), 2, "'hard.frames'");
  expect_refused(run("$BAREGLASS compare a.frames a.frames"), 2, "BEFORE 'a.frames'");
  expect_refused(run("$BAREGLASS explain a.frames --after a.frames --report r.html"), 2, "--after");
}

TEST_F(MeasureCommand, DifferentPanelsAndUnitsAreRefused) {
  const std::string note = kFixtures + "damp-note-peeled.frames",
                    bare = kFixtures + "bare-glass.frames";
  expect_refused(run("$BAREGLASS compare " + note + " " + bare), 3, "same unit");
  const CommandResult r = run("$BAREGLASS compare " + note + " " + bare + " --other-unit");
  EXPECT_THAT(r.out, HasSubstr("Careful"));
  std::string small = "# values: raw\n# rows: 2\n# cols: 2\n";
  for (int n = 1; n < 40; ++n) small += std::to_string(n * 8000) + ",9000,9000,9000,9000\n";
  file("small.csv", small);
  expect_refused(run("$BAREGLASS compare " + bare + " small.csv --other-unit"), 3, "same panel");
  EXPECT_EQ(scratch_.files(), 1u) << "something was left behind";
}

TEST_F(MeasureCommand, CompareRefusesWrongWordsAndOutputs) {
  const std::string bare = kFixtures + "bare-glass.frames";
  expect_refused(run("$BAREGLASS compare " + bare), 2, "AFTER");
  expect_refused(run("$BAREGLASS compare"), 2, "BEFORE");
  expect_refused(run("$BAREGLASS compare " + bare + " " + bare + " --picture x.gif"), 2, ".svg");
  expect_refused(run("$BAREGLASS compare " + bare + " gone.frames"), 3, "gone.frames");
  file("copy.frames", support::read_file(bare));
  expect_refused(run("$BAREGLASS compare " + bare + " copy.frames --picture no/such/d.png"), 4,
                 "d.png");
  EXPECT_EQ(scratch_.files(), 1u);
}

class FleetCommand : public MeasureCommand {
 protected:
  // Two invented wards; taped units start with a damp note under the tape, one without tape with a
  // finger on its glass.
  void make_fleet() {
    std::string rows = "unit,ward,date,taped\n";
    const auto add = [&](const std::string& unit, const char* ward, const char* taped,
                         const char* scenario) {
      simulate(scenario, unit + ".frames",
               {{"unit", "\"" + unit + "\""}, {"seed", std::to_string(300 + ++units_)}});
      rows += unit + "," + ward + ",2026-03-0" + std::to_string(units_) + "," + taped + "\n";
    };
    add("lamp-01", "Harbour", "yes", "damp-note-peeled");
    add("lamp-02", "Harbour", "yes", "damp-note-peeled");
    add("lamp-03", "Harbour", "no", "bare-glass");
    add("lamp-04", "Meadow", "yes", "damp-note-peeled");
    add("lamp-05", "Meadow", "no", "bare-glass");
    add("lamp-06", "Meadow", "no", "bare-glass");
    add("lamp-07", "Meadow", "unknown", "finger-at-power-up");
    file("units.csv", rows + "lamp-08,Meadow,2026-03-08,no\n");
  }
  int units_ = 0;
};

TEST_F(FleetCommand, TellsCausesWardsAndTaping) {
  make_fleet();
  const CommandResult r = run("$BAREGLASS fleet . --report fleet.html");
  EXPECT_EQ(r.code, 0) << r.err;
  // 3 of 3 against 0 of 3: p = 2/20, and nothing less is possible.
  EXPECT_THAT(r.out, AllOf(HasSubstr("p = 0.1000"), HasSubstr("Nothing can be claimed"),
                           HasSubstr("lamp-08 (line 9)"), HasSubstr("Damp note or wet patch")));
  EXPECT_THAT(support::read_file(scratch_ / "fleet.html"),
              AllOf(StartsWith("<!DOCTYPE html>"), HasSubstr("</html>"), HasSubstr("Harbour")));
  const auto taping = r.out.find("Taping and failing");
  ASSERT_NE(taping, std::string::npos) << r.out;
  expect_approved("fleet", r.out.substr(taping));
  const CommandResult json = run("$BAREGLASS fleet . --json | python3 -m json.tool");
  EXPECT_THAT(json.out, HasSubstr("\"taped_failed\": 3"));
}

TEST_F(FleetCommand, UnreadableDumpDoesNotStopTheRun) {
  file("units.csv", "unit,ward,date,taped\nbay2-pump-04,Harbour,2026-03-01,no\n");
  file("broken.frames", std::string(400, 'x'));
  const std::string whole = support::read_file(kFixtures + "bare-glass.frames");
  file("good.frames", whole);
  file("empty.npy", "");
  const CommandResult r = run("$BAREGLASS fleet .");
  EXPECT_EQ(r.code, 3);
  EXPECT_THAT(r.out, AllOf(HasSubstr("1 units, 2 unreadable"), HasSubstr("broken.frames: "),
                           HasSubstr("empty.npy: "), HasSubstr("bay2-pump-04")));
}

TEST_F(FleetCommand, InputThatCameOnOverANoteIsNoFailure) {
  simulate("damp-note-peeled", "lamp-01.frames", {{"unit", "\"lamp-01\""}});
  file("units.csv", "unit,ward,date,taped,dump\nlamp-01,Harbour,2026-03-01,yes,gone.frames\n");
  file("adopt.toml", "[start]\npolicy = \"adopt\"\n");
  const CommandResult r =
      run("$BAREGLASS convert lamp-01.frames l.csv; rm lamp-01.frames; "
          "grep -v '^# journal' l.csv > lamp-01.csv; rm l.csv; "
          "$BAREGLASS fleet . --settings adopt.toml");
  EXPECT_EQ(r.code, 3) << r.err;
  EXPECT_THAT(r.out, AllOf(HasSubstr("adopted"), HasSubstr("taped                  0       1"),
                           HasSubstr("gone.frames: units.csv, line 2: expected a file")));
}

TEST_F(FleetCommand, HalfADumpStillTellsWhatItHolds) {
  file("units.csv", "unit,ward,date,taped\nbay2-pump-04,Harbour,2026-03-01,no\n");
  const std::string whole = support::read_file(kFixtures + "bare-glass.frames");
  file("half.frames", whole.substr(0, whole.size() / 2));
  const CommandResult r = run("$BAREGLASS fleet .");
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_THAT(r.out, HasSubstr("bay2-pump-04"));
}

TEST_F(FleetCommand, WrongFoldersAndTables) {
  expect_refused(run("$BAREGLASS fleet"), 2, "DIR");
  expect_refused(run("$BAREGLASS fleet gone"), 3, "folder");
  expect_refused(run("$BAREGLASS fleet ."), 3, "units.csv");
  file("units.csv", "unit,ward,date,taped\nu,W,2026-03-01,perhaps\n");
  expect_refused(run("$BAREGLASS fleet ."), 3, "line 2, column 4 (taped)");
  file("units.csv", "unit,ward,date,taped\n");
  expect_refused(run("$BAREGLASS fleet . --report no/such/page.html"), 4, "page.html");
  EXPECT_EQ(run("$BAREGLASS fleet . > /dev/full").code, 4);
  EXPECT_EQ(scratch_.files(), 1u);
}

TEST_F(FleetCommand, HostileNamesDoNotReachTheTerminal) {
  file("units.csv", "unit,ward,date,taped\n\"\x1b[31mu\",W,2026-03-01,no\n");
  file("-o x\x1b[2J.frames", "nonsense");
  const CommandResult r = run("$BAREGLASS fleet .");
  EXPECT_EQ(r.code, 3);
  EXPECT_THAT(r.out, AllOf(Not(HasSubstr("\x1b")), HasSubstr("\\x1B")));
}

TEST_F(FleetCommand, EmptyFolderSaysSo) {
  file("units.csv", "unit,ward,date,taped\n");
  const CommandResult r = run("$BAREGLASS fleet .");
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_THAT(r.out, AllOf(HasSubstr("0 units"), HasSubstr("No comparison")));
}

}  // namespace
}  // namespace bareglass
