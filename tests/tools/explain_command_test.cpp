// `bareglass explain` as a process: what it prints, what it refuses, what it leaves behind.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "support/run_command.hpp"

namespace bareglass {
namespace {

using support::CommandResult;
using support::expect_refused;
using support::ScratchFolder;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

using support::kFixtures;

class ExplainCommand : public ::testing::Test {
 protected:
  CommandResult run(const std::string& line) { return support::run_shell(scratch_, line); }
  CommandResult explain(const std::string& words) { return run("$BAREGLASS explain " + words); }

  std::string file(const std::string& name, const std::string& bytes) {
    support::write_file(scratch_ / name, bytes);
    return scratch_ / name;
  }
  ScratchFolder scratch_;
};

TEST_F(ExplainCommand, PrintsTheApprovedTextWithoutColourIntoAPipe) {
  const CommandResult r = run("cd " + kFixtures + " && $BAREGLASS explain wet-bezel.frames");
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_EQ(r.out, support::read_file(kFixtures + "expected/wet-bezel.txt"));
  EXPECT_EQ(r.err, "");
}

TEST_F(ExplainCommand, ReadsStandardInput) {
  const CommandResult r = explain("- < " + kFixtures + "wet-bezel.frames");
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_THAT(r.out, HasSubstr("fluid at the bezel"));
}

TEST_F(ExplainCommand, DrawsBothKindsOfPicture) {
  for (const char* name : {"p.svg", "p.png"}) {
    const CommandResult r = explain(kFixtures + "wet-bezel.frames --picture " + (scratch_ / name));
    EXPECT_EQ(r.code, 0) << r.err;
    EXPECT_THAT(r.out, HasSubstr(scratch_ / name));
  }
  EXPECT_THAT(support::read_file(scratch_ / "p.svg"), StartsWith("<svg"));
  EXPECT_THAT(support::read_file(scratch_ / "p.png"), StartsWith("\x89PNG"));
  EXPECT_EQ(scratch_.files(), 2u) << "temporary files were left behind";
}

TEST_F(ExplainCommand, WritesReportAndWardPageTogether) {
  const CommandResult r = explain(kFixtures + "wet-bezel.frames --report " + (scratch_ / "r.html") +
                                  " --ward-page " + (scratch_ / "w.html"));
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_THAT(r.out, HasSubstr(scratch_ / "r.html"));
  const std::string report = support::read_file(scratch_ / "r.html");
  EXPECT_THAT(report, StartsWith("<!DOCTYPE html>"));
  EXPECT_THAT(report, HasSubstr("wet-bezel.frames"));
  EXPECT_THAT(report, HasSubstr("bareglass 0."));
  EXPECT_THAT(support::read_file(scratch_ / "w.html"), HasSubstr("What to do"));
  EXPECT_EQ(scratch_.files(), 2u) << "temporary files were left behind";
}

TEST_F(ExplainCommand, ReportHoldsBeforeAndAfter) {
  const std::string dump = kFixtures + "damp-note-peeled.frames";
  const std::string page = scratch_ / "r.html";
  const std::string after = file("after.frames", support::read_file(dump));
  const CommandResult r = explain(dump + " --after " + after + " --report " + page);
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_THAT(support::read_file(page), HasSubstr("NOT ACCEPTED")) << "the note is still there";
  EXPECT_THAT(support::read_file(page), HasSubstr("Dump from after the work: after.frames"));
  expect_refused(explain(dump + " --after " + dump), 2, "--report");
  expect_refused(explain("- --after " + dump + " --report " + page), 2, "file");
  expect_refused(explain(dump + " --after " + kFixtures + "wet-bezel.frames --report " + page), 3,
                 "same unit");
}

TEST_F(ExplainCommand, KeepsTheOldReportIfTheDumpCantBeRead) {
  const std::string old = file("r.html", "the report of last week");
  expect_refused(explain(file("empty", "") + " --report " + old), 3, "empty");
  EXPECT_EQ(support::read_file(old), "the report of last week");
  expect_refused(explain(kFixtures + "wet-bezel.frames --report " + (scratch_ / "no/such/r.html")),
                 4, "r.html");
}

TEST_F(ExplainCommand, GivesOneJsonDocument) {
  const CommandResult r = explain(kFixtures + "damaged.frames --json | python3 -m json.tool");
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_THAT(r.out, HasSubstr("\"cause\": \"touch_at_power_up\""));
}

TEST_F(ExplainCommand, PolicyOnTheCommandLineOverridesTheDevice) {
  const CommandResult r = explain(kFixtures + "finger-at-power-up.frames --policy wait");
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_THAT(r.out, HasSubstr("Input was off and came back"));
  EXPECT_THAT(r.out, HasSubstr("reports another decision"));
}

TEST_F(ExplainCommand, SettingsFileIsUsed) {
  // A limit of 20 % of a finger lets the damp note (11 %) pass.
  const std::string settings =
      file("s.toml", "[surface]\nsurface_permille = 200\nsmooth_permille = 400\n");
  const CommandResult r = explain(kFixtures + "damp-note-peeled.frames --settings " + settings);
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_THAT(r.out, HasSubstr("Input is on"));
}

TEST_F(ExplainCommand, WrongWords) {
  expect_refused(explain(""), 2, "DUMP");
  expect_refused(explain("a b"), 2, "");
  expect_refused(explain("x --no-such-option"), 2, "--no-such-option");
  expect_refused(explain("x --pic y.svg"), 2, "--pic");
  expect_refused(explain("x --policy perhaps"), 2, "lock, wait, adopt or service");
  expect_refused(explain("x --picture y.gif"), 2, ".svg or .png");
  expect_refused(explain("x --finger-counts 5"), 2, "16 to 20000");
  expect_refused(explain("x --format fax"), 2, "frames, csv");
  expect_refused(explain("x --frame-period fast"), 2, "8ms");
  expect_refused(run("$BAREGLASS frobnicate"), 2, "frobnicate");
}

TEST_F(ExplainCommand, UnreadableInputs) {
  expect_refused(explain(scratch_ / "missing"), 3, "missing");
  expect_refused(explain(scratch_.path()), 3, "directory");
  expect_refused(explain(file("empty", "")), 3, "empty");
  expect_refused(explain(file("prose", "Dear all, the pump has no touch.\n")), 3, "--format");
  expect_refused(explain(file("text.csv", "# values: raw\n# rows: 2\n# cols: 2\n1,2,3,4,ink\n")), 3,
                 "line 4");
  expect_refused(explain(file("nan.csv", "# values: raw\n# rows: 2\n# cols: 2\n1,2,3,4,nan\n")), 3,
                 "line 4");
  expect_refused(explain(file("short.csv", "# values: raw\n# rows: 2\n# cols: 2\n1,2,3,4\n")), 3,
                 "line 4");
  expect_refused(explain(file("odd.tu16", "1234567") +
                         " --format tu16 --rows 2 --columns 2 --frame-period 8ms"),
                 3, "byte");
  expect_refused(explain(file("head.csv", "# values: raw\n# rows: 2\n# cols: 2\n")), 3, "frame");
}

TEST_F(ExplainCommand, SeventyThousandColumns) {
  std::string line = "1";
  for (int i = 0; i < 70000; ++i) line += ",7";
  expect_refused(
      explain(file("wide.csv", "# values: raw\n# rows: 1\n# cols: 70000\n" + line + "\n")), 3,
      "70000");
  expect_refused(explain(file("wide2.csv", line + "\n") + " --rows 1 --columns 70000"), 2, "1024");
}

TEST_F(ExplainCommand, PanelLargerThanTheCoreTakes) {
  std::string line = "1";
  for (int i = 0; i < 400; ++i) line += ",7";
  expect_refused(explain(file("wide.csv", "# values: raw\n# rows: 2\n# cols: 200\n" + line + "\n")),
                 3, "2 to 128");
}

TEST_F(ExplainCommand, OutputThatCantBeWritten) {
  const std::string dump = kFixtures + "wet-bezel.frames";
  EXPECT_EQ(explain(dump + " > /dev/full").code, 4);
  EXPECT_THAT(explain(dump + " > /dev/full").err, HasSubstr("standard output"));
  expect_refused(explain(dump + " --picture " + (scratch_ / "no/such/folder.svg")), 4,
                 "folder.svg");
  EXPECT_EQ(scratch_.files(), 0u);
}

TEST_F(ExplainCommand, ReaderThatGoesAway) {
  // The pipe is closed before the command writes; it must say so and not vanish by a signal.
  const CommandResult r = run("( sleep 0.2; $BAREGLASS explain " + kFixtures +
                              "wet-bezel.frames; echo code $? >&2 ) | true");
  EXPECT_THAT(r.err, HasSubstr("code 4"));
  EXPECT_THAT(r.err, HasSubstr("standard output"));
}

TEST_F(ExplainCommand, FileWithoutPermission) {
  const std::string path = file("secret", "x");
  const CommandResult r = run("chmod 000 " + path +
                              "; if [ \"$(id -u)\" = 0 ]; then exec setpriv --reuid=65534 "
                              "--clear-groups $BAREGLASS explain " +
                              path + "; else exec $BAREGLASS explain " + path + "; fi");
  if (r.code == 126 || r.code == 127 || r.err.find("setpriv") != std::string::npos)
    GTEST_SKIP() << "this machine can't run the command without root's rights: " << r.err;
  expect_refused(r, 3, "ermission");
}

TEST_F(ExplainCommand, ColourOnlyOnATerminal) {
  const std::string script =
      "script -qec \"$BAREGLASS explain " + kFixtures + "wet-bezel.frames\" /dev/null";
  const CommandResult on = run(script);
  if (on.code == 127) GTEST_SKIP() << "no `script` command to make a terminal with";
  EXPECT_THAT(on.out, HasSubstr("\x1b["));
  EXPECT_THAT(run("NO_COLOR=1 " + script).out, Not(HasSubstr("\x1b[1m")));
}

TEST_F(ExplainCommand, HelpNamesExitCodes) {
  EXPECT_THAT(run("$BAREGLASS --help").out, HasSubstr("exit codes"));
  EXPECT_THAT(explain("--help").out, HasSubstr("--picture"));
}

TEST_F(ExplainCommand, TimeThatRunsBackwardsIsDamage) {
  std::string dump = "# values: raw\n# rows: 2\n# cols: 2\n# frame_period_us: 8000\n";
  for (int n = 200; n > 0; --n) dump += std::to_string(n * 8000) + ",9000,9000,9000,9000\n";
  const std::string path = file("back.csv", dump);
  const CommandResult r = explain(path);
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_THAT(r.out, HasSubstr("Damage: 199 frames left out whose time goes back."));
  EXPECT_THAT(r.out, HasSubstr("199 of 200 frames are stamped before"));
  EXPECT_THAT(explain(path + " --json").out, HasSubstr("\"frames_backward\": 199"));
}

TEST_F(ExplainCommand, RunsOfAUnitThatResetsAreCountedEachOnItsOwnClock) {
  std::string dump = "# values: raw\n# rows: 2\n# cols: 2\n# frame_period_us: 8000\n";
  for (const int frames : {200, 100}) {
    dump += "# sequence: 1\n# power_up_us: 0\n";
    for (int n = 1; n <= frames; ++n) dump += std::to_string(n * 8000) + ",9000,9000,9000,9000\n";
  }
  const std::string path = file("twice.csv", dump);
  const CommandResult info = run("$BAREGLASS info " + path);
  EXPECT_EQ(info.code, 0) << info.err;
  EXPECT_THAT(info.out, HasSubstr("2 runs, each on its own clock"));
  EXPECT_THAT(info.out, HasSubstr("1 of 2: 0.008 s to 1.600 s, 200 frames, powered up at 0.000 s"));
  EXPECT_THAT(info.out, HasSubstr("2 of 2: 0.008 s to 0.800 s, 100 frames, powered up at 0.000 s"));
  EXPECT_THAT(info.out, HasSubstr("2 in the dump"));
  const CommandResult json = run("$BAREGLASS info " + path + " --json");
  EXPECT_THAT(json.out, HasSubstr("\"run_count\": 2"));
  EXPECT_THAT(json.out, HasSubstr("\"last_us\": 800000"));
  EXPECT_THAT(explain(path).out, HasSubstr("Run 2 of 2, the last:"));
}

TEST_F(ExplainCommand, PowerUpAfterTheFirstFrameIsRefused) {
  // 5 s of frames from 20 ms on.
  const std::string dump = kFixtures + "bare-glass.frames";
  expect_refused(explain(dump + " --power-up 3s"), 3,
                 "--power-up: expected a time up to the first frame at 0.020 s, not 3.000 s");
  expect_refused(explain(dump + " --power-up 100s"), 3, "not 100.000 s");
  EXPECT_EQ(explain(dump + " --power-up 20ms").code, 0);
  const CommandResult before = explain(dump + " --power-up 0s");
  EXPECT_EQ(before.code, 0) << before.err;
  EXPECT_THAT(before.out, HasSubstr("Input is on"));
}

TEST_F(ExplainCommand, DumpWithoutFramesIsToldWhatWasExpected) {
  const std::string dump = file("n.csv", "# values: raw\n# rows: 2\n# cols: 2\n# note: 8000 x\n");
  expect_refused(explain(dump), 3, "n.csv: whole file: expected at least one intact frame");
}

}  // namespace
}  // namespace bareglass
