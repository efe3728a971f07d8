// Every command as a process: an output never takes the place of a file that is read, nor of
// another output.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <set>
#include <string>

#include "support/run_command.hpp"

namespace bareglass {
namespace {

using support::CommandResult;
using support::expect_refused;
using support::ScratchFolder;
using ::testing::HasSubstr;

using support::kFixtures;

class OutputsApart : public ::testing::Test {
 protected:
  CommandResult run(const std::string& line) {
    return support::run_shell(scratch_, "cd " + scratch_.path() + "; " + line);
  }
  void file(const std::string& name, const std::string& bytes) {
    support::write_file(scratch_ / name, bytes);
  }
  void dump(const std::string& name) {
    std::filesystem::copy_file(kFixtures + "bare-glass.frames", scratch_ / name);
  }
  // Refused as a wrong command line that names the option, with every file as it was before.
  void expect_kept(const std::string& words, const std::string& option) {
    const std::string before = contents();
    expect_refused(run("$BAREGLASS " + words), 2, option + " expects a file of its own");
    EXPECT_TRUE(contents() == before) << words << " changed a file";
  }
  std::string contents() const {
    std::string all;
    std::set<std::string> paths;
    for (const auto& entry : std::filesystem::directory_iterator(scratch_.path()))
      paths.insert(entry.path().string());
    for (const std::string& path : paths) all += path + "\n" + support::read_file(path);
    return all;
  }
  ScratchFolder scratch_;
};

TEST_F(OutputsApart, ExplainKeepsWhatItReads) {
  for (const char* name : {"x.frames", "x.svg", "after.frames"}) dump(name);
  file("s.toml", "[accept]\nstart_ups = 1\n");
  file("steps.svg", "no steps");
  expect_kept("explain x.frames --report x.frames", "--report");
  expect_kept("explain x.frames --ward-page ./x.frames", "--ward-page");
  expect_kept("explain x.svg --picture x.svg", "--picture");
  expect_kept("explain x.frames --after after.frames --report after.frames", "--report");
  expect_kept("explain x.frames --settings s.toml --ward-page s.toml", "--ward-page");
  expect_kept("explain x.frames --steps steps.svg --picture steps.svg", "--picture");
  expect_kept("explain - --report x.frames < x.frames", "--report");
}

TEST_F(OutputsApart, LinksAreSeenThrough) {
  dump("x.frames");
  std::filesystem::create_symlink("x.frames", scratch_ / "soft.html");
  std::filesystem::create_hard_link(scratch_ / "x.frames", scratch_ / "hard.html");
  expect_kept("explain x.frames --report soft.html", "--report");
  expect_kept("explain x.frames --report hard.html", "--report");
}

TEST_F(OutputsApart, TwoOutputsAreTwoFiles) {
  dump("x.frames");
  std::filesystem::create_directory(scratch_ / "d");
  expect_kept("explain x.frames --report same.html --ward-page same.html", "--ward-page");
  expect_kept("explain x.frames --report same.html --ward-page d/../same.html", "--ward-page");
  expect_kept("explain x.frames --picture same.svg --report " + (scratch_ / "same.svg"),
              "--report");
  const CommandResult apart = run("$BAREGLASS explain x.frames --report r.html --ward-page w.html");
  EXPECT_EQ(apart.code, 0) << apart.err;
  // Nothing is lost where nothing is kept.
  const CommandResult none =
      run("$BAREGLASS explain x.frames --report /dev/null --ward-page /dev/null");
  EXPECT_EQ(none.code, 0) << none.err;
}

TEST_F(OutputsApart, CompareKeepsWhatItReads) {
  for (const char* name : {"a.svg", "b.svg"}) dump(name);
  file("s.png", "");
  expect_kept("compare a.svg b.svg --picture a.svg", "--picture");
  expect_kept("compare a.svg b.svg --picture b.svg", "--picture");
  expect_kept("compare a.svg b.svg --settings s.png --picture s.png", "--picture");
}

TEST_F(OutputsApart, ConvertKeepsItsInput) {
  dump("x.frames");
  expect_kept("convert x.frames x.frames", "OUTPUT");
  expect_kept("convert x.frames x.frames --to csv", "OUTPUT");
  expect_kept("convert - x.frames --to csv < x.frames", "OUTPUT");
}

TEST_F(OutputsApart, SimulateKeepsScenarioAndPanel) {
  std::string text = support::read_file(kFixtures + "scenarios/bare-glass.toml");
  const auto at = text.find("../panels/");
  ASSERT_NE(at, std::string::npos);
  text.replace(at, 10, "");
  const std::string panel = text.substr(at, text.find('"', at) - at);
  file("s.toml", text);
  std::filesystem::copy_file(kFixtures + "panels/" + panel, scratch_ / panel);
  expect_kept("simulate s.toml -o s.toml", "--output");
  expect_kept("simulate s.toml -o " + panel, "--output");
}

TEST_F(OutputsApart, FleetKeepsItsFolder) {
  dump("a.frames");
  file("units.csv", "unit,ward,date,taped\nbay2-pump-04,Harbour,2026-03-01,no\n");
  file("s.toml", "[accept]\nstart_ups = 1\n");
  expect_kept("fleet . --report units.csv", "--report");
  expect_kept("fleet . --report a.frames", "--report");
  expect_kept("fleet . --settings s.toml --report s.toml", "--report");
  file("old.html", "the page of last week");
  EXPECT_EQ(run("$BAREGLASS fleet . --report old.html").code, 0);
  EXPECT_THAT(support::read_file(scratch_ / "old.html"), HasSubstr("</html>"));
}

TEST_F(OutputsApart, PagesDoNotMixWithTheAnswer) {
  dump("x.frames");
  file("units.csv", "unit,ward,date,taped\n");
  expect_refused(run("$BAREGLASS explain x.frames --report -"), 2,
                 "--report expects a file, not -");
  expect_refused(run("$BAREGLASS explain x.frames --json --ward-page -"), 2, "--ward-page expects");
  expect_refused(run("$BAREGLASS fleet . --report -"), 2, "--report expects a file, not -");
  expect_refused(run("$BAREGLASS field gone.toml --kernels -"), 2, "--kernels expects a file");
}

TEST_F(OutputsApart, WindowsAndFieldKeepWhatTheyRead) {
  for (const char* name : {"x.png", "plan.png"}) dump(name);
  file("p.svg", "no panel");
  if (run("$BAREGLASS view --help").code == 0) {
    expect_kept("view x.png --screenshot x.png", "--screenshot");
    expect_kept("view x.png --plan plan.png --screenshot plan.png", "--screenshot");
    expect_kept("bench p.svg --screenshot p.svg", "--screenshot");
  }
  expect_kept("field p.svg --draw p.svg", "--draw");
  expect_kept("field p.svg --kernels p.svg", "--kernels");
  expect_kept("field gone.toml --draw new.svg --kernels new.svg", "--kernels");
}

}  // namespace
}  // namespace bareglass
