// bareglass record from outside: what is kept, what is said, and what survives being killed.

#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <spawn.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <random>
#include <thread>
#include <vector>

#include "support/how_many.hpp"
#include "support/run_command.hpp"

extern char** environ;

namespace bareglass {
namespace {

using support::read_file;
using support::run_shell;
using support::ScratchFolder;
using testing::HasSubstr;
using testing::StartsWith;

const std::string kDump = std::string(BAREGLASS_SOURCE_DIR) + "/fixtures/damp-note-peeled.frames";

TEST(ARecordingFromStandardInput, IsTheSameFileAndSaysWhatItHolds) {
  const ScratchFolder scratch;
  const auto r =
      run_shell(scratch, "$BAREGLASS record - -o " + (scratch / "x.frames") + " < " + kDump);
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_EQ(read_file(scratch / "x.frames"), read_file(kDump));
  EXPECT_THAT(r.err, HasSubstr("Switch the unit on now."));
  EXPECT_THAT(r.err, HasSubstr("Power-up seen"));
  EXPECT_THAT(r.err, HasSubstr("The glass is not bare"));
  EXPECT_THAT(r.out, HasSubstr("350 frames"));
  EXPECT_THAT(r.out, HasSubstr("damage: none"));
  EXPECT_THAT(r.out, HasSubstr("power-up: 1 in the recording"));
  EXPECT_THAT(r.out, HasSubstr("input off until the next power-up"));
}

TEST(ARecordingWithDamage, CountsItAndKeepsItsBytes) {
  const ScratchFolder scratch;
  std::string bytes = read_file(kDump);
  bytes.replace(3000, 7, "garbage");
  bytes.erase(20000, 1500);
  support::write_file(scratch / "in", bytes);
  const auto r =
      run_shell(scratch, "$BAREGLASS record " + (scratch / "in") + " -o " + (scratch / "x.frames"));
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_EQ(read_file(scratch / "x.frames"), bytes);
  EXPECT_THAT(r.out, HasSubstr("damaged packets"));
  EXPECT_THAT(r.out, HasSubstr("frames missing"));
  // A rewritten dump says that its source was damaged.
  const auto rewritten = run_shell(scratch, "$BAREGLASS convert " + (scratch / "x.frames") + " " +
                                                (scratch / "y.frames") + " && $BAREGLASS convert " +
                                                (scratch / "y.frames") + " " + (scratch / "y.csv") +
                                                " && $BAREGLASS info " + (scratch / "y.csv"));
  EXPECT_EQ(rewritten.code, 0) << rewritten.err;
  EXPECT_THAT(rewritten.out, HasSubstr("damaged packets in its source"));
  const auto explained = run_shell(scratch, "$BAREGLASS explain " + (scratch / "y.frames"));
  EXPECT_THAT(explained.out, HasSubstr("damaged packets in the source"));
}

TEST(ARecordingOfNothing, LeavesNoFileAndAsksForTheUnit) {
  const ScratchFolder scratch;
  const auto r =
      run_shell(scratch, "$BAREGLASS record - -o " + (scratch / "x.frames") + " < /dev/null");
  EXPECT_EQ(r.code, 3);
  EXPECT_THAT(r.err, HasSubstr("nothing arrived"));
  EXPECT_EQ(scratch.files(), 0u);
}

TEST(ARecordingOfText, IsKeptAndToldHowItIsRead) {
  const ScratchFolder scratch;
  const auto r = run_shell(
      scratch, "printf '0,1,2,3\\n20,4,5,6\\n' | $BAREGLASS record - -o " + (scratch / "x.csv"));
  EXPECT_EQ(r.code, 0) << r.err;
  EXPECT_EQ(read_file(scratch / "x.csv"), "0,1,2,3\n20,4,5,6\n");
  EXPECT_THAT(r.out, HasSubstr("--preview"));
}

TEST(ARecordingThatIsAskedWrongly, IsRefusedInOneLine) {
  const ScratchFolder scratch;
  const std::string to = " -o " + (scratch / "x");
  support::write_file(scratch / "old", "old");
  const auto refused = [&](const std::string& arguments, int code, const std::string& words) {
    support::expect_refused(run_shell(scratch, "$BAREGLASS record " + arguments + " < /dev/null"),
                            code, words);
  };
  refused("", 2, "expected SOURCE");
  refused("-", 2, "expected -o DUMP");
  refused("- --baud 17" + to, 2, "--baud expects one of 1200");
  refused("- --for 3" + to, 2, "--for expects a time");
  refused("- --most 7" + to, 2, "--most expects a size");
  refused((scratch / "none") + to, 3, "cannot open");
  refused("tcp:nowhere" + to, 3, "tcp:127.0.0.1:5000");
  refused("- -o " + (scratch / "old"), 4, "exists already");
  EXPECT_EQ(read_file(scratch / "old"), "old");
}

/// The command as a process of its own, so that it can be killed.
pid_t start(const std::vector<std::string>& arguments) {
  std::vector<char*> words;
  for (const std::string& argument : arguments)
    words.push_back(const_cast<char*>(argument.c_str()));
  words.push_back(nullptr);
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  for (const int fd : {0, 1, 2})
    posix_spawn_file_actions_addopen(&actions, fd, "/dev/null", O_RDWR, 0);
  pid_t child = -1;
  const int wrong =
      ::posix_spawn(&child, BAREGLASS_COMMAND, &actions, nullptr, words.data(), environ);
  posix_spawn_file_actions_destroy(&actions);
  return wrong == 0 ? child : -1;
}

// What was read is written before more is read: of what has left the pipe, all but the one read
// that was under way is in the file.
TEST(ARecordingKilledAtRandomMoments, LosesNoCompletePacket) {
  constexpr std::size_t kOneRead = 4096;
  const ScratchFolder scratch;
  const std::string stream = read_file(kDump);
  const std::string fifo = scratch / "fifo", file = scratch / "x.frames";
  ASSERT_EQ(::mkfifo(fifo.c_str(), 0600), 0);
  const unsigned seed = std::random_device()();
  SCOPED_TRACE("seed " + std::to_string(seed));
  std::minstd_rand random(seed);
  const int moments = support::how_many(6, 50);
  for (int n = 0; n < moments; ++n) {
    std::filesystem::remove(file);
    // Held open both ways: nothing is lost with the reader, and no end is seen.
    const int pipe = ::open(fifo.c_str(), O_RDWR | O_NONBLOCK);
    ASSERT_GE(pipe, 0);
    const pid_t child = start({"bareglass", "record", fifo, "-o", file});
    ASSERT_GT(child, 0);
    const auto end =
        std::chrono::steady_clock::now() + std::chrono::milliseconds(30 + random() % 120);
    std::size_t sent = 0;
    while (std::chrono::steady_clock::now() < end && sent < stream.size()) {
      const std::size_t piece = std::min<std::size_t>(1 + random() % 3000, stream.size() - sent);
      const ssize_t put = ::write(pipe, stream.data() + sent, piece);
      if (put > 0) sent += static_cast<std::size_t>(put);
      std::this_thread::sleep_for(std::chrono::milliseconds(1));
    }
    ::kill(child, SIGKILL);
    int status = 0;
    ::waitpid(child, &status, 0);
    ASSERT_TRUE(WIFSIGNALED(status)) << "it ended before it was killed";
    std::string left(1 << 16, '\0');
    const ssize_t still = ::read(pipe, left.data(), left.size());
    ::close(pipe);
    const std::size_t taken = sent - (still > 0 ? static_cast<std::size_t>(still) : 0);
    const std::string kept = read_file(file);
    ASSERT_EQ(kept, stream.substr(0, kept.size()));
    EXPECT_GE(kept.size() + kOneRead, taken) << "of " << sent << " bytes sent";
    if (kept.find('\0') == std::string::npos) continue;
    // Every packet that is there as a whole is read.
    const auto packets = std::count(kept.begin(), kept.end(), '\0');
    const auto told = run_shell(scratch, "$BAREGLASS info --json " + file);
    EXPECT_THAT(told.out, HasSubstr("\"packets\": " + std::to_string(packets) + ",")) << told.err;
  }
}

TEST(TwoRecordersOnOneFile, TheSecondIsRefused) {
  const ScratchFolder scratch;
  const std::string fifo = scratch / "fifo", file = scratch / "x.frames";
  ASSERT_EQ(::mkfifo(fifo.c_str(), 0600), 0);
  const pid_t child = start({"bareglass", "record", fifo, "-o", file});
  for (int n = 0; n < 500 && !std::filesystem::exists(file); ++n)
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  std::this_thread::sleep_for(std::chrono::milliseconds(20));
  support::expect_refused(run_shell(scratch, "$BAREGLASS record - -o " + file + " < " + kDump), 4,
                          "is being recorded by another program");
  ::kill(child, SIGTERM);
  int status = 0;
  ::waitpid(child, &status, 0);
  EXPECT_TRUE(WIFEXITED(status)) << "a signal ends it in its own way";
}

TEST(ATableOnTheCommandLine, IsPreviewedImportedAndReadAgainByItsProfile) {
  const ScratchFolder scratch;
  std::string table;
  for (int f = 0; f < 12; ++f) {
    table += std::to_string(20 * f);
    for (int i = 0; i < 12; ++i) table += "," + std::to_string(22000 + 100 * i + (f * 7 + i) % 5);
    table += "\n";
  }
  support::write_file(scratch / "t.csv", table);
  const std::string file = scratch / "t.csv";
  support::expect_refused(run_shell(scratch, "$BAREGLASS info " + file), 3, "--order rows");
  const auto preview = run_shell(scratch, "$BAREGLASS convert " + file + " --preview --picture " +
                                              (scratch / "p.svg") + " --rows 4 --columns 3");
  EXPECT_EQ(preview.code, 0) << preview.err;
  for (const char* words : {"Understood", "--time-unit ms", "with --order rows: 4 rows x 3 columns",
                            "with --order columns: 4 rows x 3 columns"})
    EXPECT_THAT(preview.out, HasSubstr(words));
  EXPECT_THAT(read_file(scratch / "p.svg"), StartsWith("<svg"));
  const auto converted = run_shell(
      scratch, "export XDG_CONFIG_HOME=" + (scratch / "config") + "; $BAREGLASS convert " + file +
                   " " + (scratch / "t.frames") +
                   " --rows 4 --columns 3 --order columns --values raw --touch lowers --time-unit "
                   "ms --save-profile logger && $BAREGLASS info --profile logger " +
                   file + " && $BAREGLASS info " + (scratch / "t.frames"));
  EXPECT_EQ(converted.code, 0) << converted.err;
  EXPECT_THAT(converted.err, HasSubstr("read as: 13 cells a line"));
  EXPECT_THAT(converted.err, HasSubstr("config/bareglass/import/logger.toml"));
  EXPECT_THAT(converted.out, HasSubstr("column after column in a line, as asked for"));
  support::expect_refused(run_shell(scratch, "$BAREGLASS info " + file + " --order sideways"), 2,
                          "--order expects one of rows, columns, not 'sideways'");
  support::expect_refused(run_shell(scratch, "$BAREGLASS convert " + file + " x --to table"), 2,
                          "--to expects one of frames, csv");
}

}  // namespace
}  // namespace bareglass
