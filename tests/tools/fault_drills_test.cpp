// What goes wrong around a program: a full disk, a folder that may not be written, being killed or
// interrupted in the middle, a reader that goes away, pipes with a name. Nothing is half-written,
// nothing that was there before is lost, and there is one line that says what happened.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <random>
#include <regex>
#include <set>
#include <string>

#include "support/run_command.hpp"

namespace bareglass {
namespace {

using support::CommandResult;
using support::ScratchFolder;
using ::testing::HasSubstr;
using ::testing::StartsWith;

using support::kFixtures;

class FaultDrill : public ::testing::Test {
 protected:
  CommandResult run(const std::string& line) {
    return support::run_shell(scratch_, "cd " + scratch_.path() + "; " + line);
  }
  void dump(const std::string& name) {
    std::filesystem::copy_file(kFixtures + "bare-glass.frames", scratch_ / name);
  }
  // Long enough that nothing below sees its end: minutes of frames.
  void long_dump(const std::string& name) {
    const std::string once = support::read_file(kFixtures + "damp-note-peeled.frames");
    std::string all;
    while (all.size() < (std::size_t{40} << 20)) all += once;
    support::write_file(scratch_ / name, all);
  }
  void long_scenario(const std::string& name) {
    const std::string text = support::read_file(kFixtures + "scenarios/bare-glass.toml");
    std::string longer =
        std::regex_replace(text, std::regex("duration_s = [0-9.]+"), "duration_s = 3600");
    longer = std::regex_replace(longer, std::regex("\\.\\./panels/"), kFixtures + "panels/");
    ASSERT_NE(longer, text);
    support::write_file(scratch_ / name, longer);
  }
  std::set<std::string> names() const {
    std::set<std::string> all;
    for (const auto& entry : std::filesystem::directory_iterator(scratch_.path()))
      all.insert(entry.path().filename().string());
    return all;
  }
  std::set<std::string> partials() const {
    std::set<std::string> all;
    for (const std::string& name : names())
      if (name.find(".partial-") != std::string::npos) all.insert(name);
    return all;
  }
  // One line that says so; what was there before is as it was, and nothing is new.
  void expect_unwritten(const std::string& line, const std::string& words) {
    const std::set<std::string> before = names();
    const CommandResult r = run(line);
    EXPECT_EQ(r.code, 4) << line << "\n" << r.err;
    EXPECT_THAT(r.err, StartsWith("bareglass: ")) << line;
    EXPECT_THAT(r.err, HasSubstr(words)) << line;
    EXPECT_EQ(std::count(r.err.begin(), r.err.end(), '\n'), 1) << line << "\n" << r.err;
    EXPECT_EQ(names(), before) << line;
    if (before.count("out") != 0) {
      EXPECT_EQ(support::read_file(scratch_ / "out"), "of last week");
    }
  }
  // Every whole packet that is there can be read: packets end in a zero, and only what follows the
  // last one is damaged.
  void expect_readable(const std::string& name) {
    const std::string bytes = support::read_file(scratch_ / name);
    const auto whole = std::count(bytes.begin(), bytes.end(), '\0');
    if (whole == 0) return;
    const CommandResult r = run("$BAREGLASS info --json " + name);
    ASSERT_EQ(r.code, 0) << r.err;
    EXPECT_THAT(r.out, HasSubstr("\"packets\": " + std::to_string(whole) + ",")) << name;
    const bool cut = bytes.back() != '\0';
    EXPECT_THAT(r.out, HasSubstr("\"damaged_packets\": " + std::to_string(cut ? 1 : 0)));
  }
  ScratchFolder scratch_;
};

const char* const kWriters[] = {"convert x.frames out --to frames",
                                "convert x.frames out --to csv",
                                "convert x.frames out --to npy --frame-period 20ms",
                                "simulate " BAREGLASS_SOURCE_DIR
                                "/fixtures/scenarios/bare-glass.toml -o out --to frames",
                                "explain x.frames --report out",
                                "explain x.frames --ward-page out",
                                "fleet . --report out"};

TEST_F(FaultDrill, FileThatMayNotGrowIsToldAndNothingChanges) {
  dump("x.frames");
  support::write_file(scratch_ / "out", "of last week");
  support::write_file(scratch_ / "units.csv", "unit,ward,date,taped\n");
  for (const std::string writer : kWriters)
    expect_unwritten("ulimit -f 1; $BAREGLASS " + writer + " > /dev/null",
                     "out: cannot write: File too large");
}

TEST_F(FaultDrill, FullDeviceIsTold) {
  dump("x.frames");
  for (const std::string words :
       {"explain x.frames > /dev/full", "explain x.frames --json > /dev/full",
        "info x.frames > /dev/full", "--help > /dev/full",
        "convert x.frames - --to csv > /dev/full", "convert x.frames /dev/full --to csv",
        "explain x.frames --report /dev/full > /dev/null"})
    expect_unwritten("$BAREGLASS " + words, "cannot write: No space left on device");
}

// Mounts of the test's own, seen by nobody else; gone with the shell.
constexpr const char* kOwnMounts = "unshare -m sh -c '";

TEST_F(FaultDrill, FullDiskLeavesItAsItWas) {
  if (run(std::string(kOwnMounts) + "mount -t tmpfs -o size=64k none /mnt'").code != 0)
    GTEST_SKIP() << "needs the right to mount: a disk of 64 KiB can't be made here";
  dump("x.frames");
  for (const std::string format : {"frames", "csv"}) {
    const CommandResult r =
        run(std::string(kOwnMounts) +
            "mount -t tmpfs -o size=64k none /mnt; echo of last week > /mnt/out; " BAREGLASS_COMMAND
            " convert x.frames /mnt/out --to " +
            format + "; echo $?; ls /mnt; cat /mnt/out'");
    EXPECT_EQ(r.out, "4\nout\nof last week\n") << r.err;
    EXPECT_THAT(r.err, HasSubstr("/mnt/out: ")) << format;
    EXPECT_THAT(r.err, HasSubstr("cannot write: No space left on device")) << format;
  }
}

TEST_F(FaultDrill, ReadOnlyFolderIsTold) {
  dump("x.frames");
  const std::string folder = scratch_ / "ro";
  std::filesystem::create_directory(folder);
  support::write_file(folder + "/out", "of last week");
  const std::string locked =
      "mount --bind " + folder + " " + folder + " && mount -o remount,ro,bind " + folder;
  if (run(kOwnMounts + locked + "'").code != 0)
    GTEST_SKIP() << "needs the right to mount: to root, permissions say nothing";
  for (const std::string words : {"convert x.frames ro/out --to csv", "convert x.frames ro/new.csv",
                                  "explain x.frames --report ro/out > /dev/null"}) {
    const CommandResult r = run(kOwnMounts + locked + "; " BAREGLASS_COMMAND " " + words + "'");
    EXPECT_EQ(r.code, 4) << r.err;
    EXPECT_THAT(r.err, HasSubstr("cannot create: Read-only file system"));
    EXPECT_EQ(std::count(r.err.begin(), r.err.end(), '\n'), 1) << r.err;
    EXPECT_EQ(support::read_file(folder + "/out"), "of last week");
  }
}

TEST_F(FaultDrill, PlacesWhereNoFileCanBeAreTold) {
  dump("x.frames");
  expect_unwritten("$BAREGLASS convert x.frames x.frames/out.csv",
                   "x.frames/out.csv: cannot create");
  expect_unwritten("$BAREGLASS convert x.frames nowhere/out.csv",
                   "cannot create: No such file or directory");
  expect_unwritten("$BAREGLASS explain x.frames --report . > /dev/null", "is a directory");
}

class Killed : public FaultDrill {
 protected:
  // Runs `words` again and again, each time killed after another while.
  void drill(const std::string& words, const char* output) {
    const unsigned seed = std::random_device{}();
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937 random(seed);
    std::size_t left = 0;
    unsigned most_ms = 400;
    for (int n = 0; n < 10; ++n) {
      const unsigned ms = 1 + static_cast<unsigned>(random() % most_ms);
      run("timeout -s KILL 0." +
          std::string(ms < 10    ? "00"
                      : ms < 100 ? "0"
                                 : "") +
          std::to_string(ms) + " $BAREGLASS " + words);
      if (std::filesystem::exists(scratch_ / output)) {  // it came to its end on a fast machine
        expect_readable(output);
        std::filesystem::remove(scratch_ / output);
        most_ms = std::max(most_ms / 2, 20u);
      }
      // What the run before left is gone, if this one came so far.
      EXPECT_LE(partials().size(), 2u);
      for (const std::string& name : partials()) {
        EXPECT_THAT(name, StartsWith(std::string(output) + ".partial-"));
        expect_readable(name);
        ++left;
      }
    }
    EXPECT_GT(left, 0u) << "no run was killed while it wrote";
  }
};

TEST_F(Killed, SimulateLeavesWholePacketsAndTheNextRunTidiesUp) {
  long_scenario("long.toml");
  drill("simulate long.toml -o out.frames", "out.frames");
  const std::string neighbour = scratch_ / "other.frames.partial-1-0";
  support::write_file(neighbour, "of another output");
  EXPECT_EQ(
      run("$BAREGLASS simulate " + kFixtures + "scenarios/bare-glass.toml -o out.frames").code, 0);
  EXPECT_EQ(partials(), (std::set<std::string>{"other.frames.partial-1-0"}));
  expect_readable("out.frames");
}

TEST_F(Killed, ConvertLeavesWholePacketsAndTheNextRunTidiesUp) {
  long_dump("long.frames");
  drill("convert long.frames out.frames", "out.frames");
  dump("x.frames");
  EXPECT_EQ(run("$BAREGLASS convert x.frames out.frames").code, 0);
  EXPECT_TRUE(partials().empty());
  expect_readable("out.frames");
}

// Two at once: neither takes the other's file for a leftover.
TEST_F(Killed, WhatIsBeingWrittenIsNoLeftover) {
  long_scenario("long.toml");
  dump("x.frames");
  const CommandResult r =
      run("$BAREGLASS simulate long.toml -o out.frames & "
          "for n in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20; do "
          "ls | grep -q partial && break; sleep 0.1; done; "
          "$BAREGLASS convert x.frames out.frames; ls | grep -c partial; kill -9 $!; wait $!");
  EXPECT_EQ(r.out, "1\n") << r.err;
  expect_readable("out.frames");
}

TEST_F(FaultDrill, InterruptTakesWhatIsHalfWrittenWithIt) {
  long_scenario("long.toml");
  long_dump("long.frames");
  support::write_file(scratch_ / "out", "of last week");
  const std::set<std::string> before = names();
  for (const std::string signal : {"INT", "TERM", "HUP"})
    for (const std::string words :
         {"simulate long.toml -o out --to frames", "convert long.frames out --to csv"}) {
      const CommandResult r =
          run("timeout --preserve-status -s " + signal + " 0.15 $BAREGLASS " + words);
      EXPECT_NE(r.code, 0) << words;
      EXPECT_LE(std::count(r.err.begin(), r.err.end(), '\n'), 1) << r.err;
      EXPECT_EQ(names(), before) << signal << " " << words;
      EXPECT_EQ(support::read_file(scratch_ / "out"), "of last week");
    }
}

TEST_F(FaultDrill, ReaderThatGoesAwayIsOneLineAtMost) {
  long_dump("long.frames");
  dump("x.frames");
  // The first closes its end while there is more to come, the second before there is anything.
  for (const std::string line :
       {"($BAREGLASS convert long.frames - --to csv; echo $? > code) | head -1",
        "($BAREGLASS explain x.frames; echo $? > code) | (exec 0<&-; sleep 1)",
        "($BAREGLASS explain x.frames --json; echo $? > code) | (exec 0<&-; sleep 1)"}) {
    const CommandResult r = run(line);
    EXPECT_EQ(support::read_file(scratch_ / "code"), "4\n") << line;
    EXPECT_EQ(r.err, "bareglass: standard output: cannot write: Broken pipe\n") << line;
  }
}

TEST_F(FaultDrill, NamedPipesAreReadAndWritten) {
  dump("x.frames");
  ASSERT_EQ(run("$BAREGLASS convert x.frames x.csv && mkfifo in out").code, 0);
  const CommandResult told = run("(cat x.frames > in &) ; $BAREGLASS explain in");
  const CommandResult file = run("$BAREGLASS explain x.frames");
  EXPECT_EQ(told.code, 0) << told.err;
  EXPECT_EQ(told.out.substr(told.out.find('\n')), file.out.substr(file.out.find('\n')));
  const CommandResult through =
      run("(cat x.frames > in &) ; (cat out > got.csv; echo done > end) & "
          "$BAREGLASS convert in out --to csv; wait");
  EXPECT_EQ(through.code, 0) << through.err;
  EXPECT_TRUE(support::read_file(scratch_ / "got.csv") == support::read_file(scratch_ / "x.csv"));
  EXPECT_TRUE(std::filesystem::is_fifo(scratch_ / "out")) << "a pipe is written, not replaced";
}

}  // namespace
}  // namespace bareglass
