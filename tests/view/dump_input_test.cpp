// Standard input as a dump: a pipe fed in pieces, closed early, filled with rubbish.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <filesystem>
#include <string>
#include <thread>

#include "bareglass/capture/error.hpp"
#include "bareglass/view/replay_model.hpp"
#include "support/dump_files.hpp"

namespace bareglass::view {
namespace {

using namespace support;
using std::chrono::milliseconds;
using ::testing::HasSubstr;

const std::string kFixture = BAREGLASS_SOURCE_DIR "/fixtures/damp-note-peeled.frames";

/// Bytes that a pipe takes while nobody reads; and half a packet at their end.
constexpr std::size_t kLessThanAPipe = 50'001;

/// Stands where a shell would have put a pipe.
struct PipedInput : ::testing::Test {
  PipedInput() {
    int ends[2];
    if (::pipe(ends) != 0) throw std::runtime_error("no pipe");
    before_ = ::dup(STDIN_FILENO);
    ::dup2(ends[0], STDIN_FILENO);
    ::close(ends[0]);
    writer_ = ends[1];
  }
  ~PipedInput() override {
    close_pipe();
    ::dup2(before_, STDIN_FILENO);
    ::close(before_);
  }
  void send(const std::string& bytes) {
    for (std::size_t at = 0; at < bytes.size();) {
      const ssize_t put = ::write(writer_, bytes.data() + at, bytes.size() - at);
      ASSERT_GT(put, 0);
      at += static_cast<std::size_t>(put);
    }
  }
  void close_pipe() {
    if (writer_ >= 0) ::close(writer_);
    writer_ = -1;
  }
  bool is_open() const { return writer_ >= 0; }
  /// Looks until `enough` or for ten seconds.
  template <typename Enough>
  static void look(ReplayModel& model, Enough enough) {
    for (int n = 0; n < 2000 && !enough(); ++n) {
      model.update(0.02);
      std::this_thread::sleep_for(milliseconds(5));
    }
  }

  const std::string all = file_bytes(kFixture);

 private:
  int before_ = -1;
  int writer_ = -1;
};

std::uint64_t frames_in_fixture() {
  ReplayModel model({kFixture, {}, {}, {}});
  model.finish_opening();
  return model.index().frames();
}

TEST_F(PipedInput, FramesInPiecesAreAllShownAndThePackets) {
  const std::size_t first = kLessThanAPipe;
  send(all.substr(0, first));
  ReplayModel model({"-", {}, {}, {}});
  look(model, [&] { return model.phase() != ReplayModel::Phase::opening; });
  ASSERT_EQ(model.phase(), ReplayModel::Phase::ready) << model.problem();
  const std::uint64_t begun = model.index().frames();
  EXPECT_GT(begun, 10u);
  EXPECT_EQ(model.account().stats.damaged_packets, 0u) << "it ends with a whole packet";
  for (std::size_t at = first; at < all.size(); at += 1009) {
    send(all.substr(at, 1009));
    if (at % 5 == 0) model.update(0.02);
  }
  close_pipe();
  const std::uint64_t whole = frames_in_fixture();
  look(model, [&] { return model.index().frames() >= whole; });
  EXPECT_EQ(model.index().frames(), whole);
  EXPECT_GT(whole, begun);
  // Half packets are waited for, not taken for damage.
  for (const Mark& mark : model.index().marks()) EXPECT_NE(mark.kind, Mark::Kind::damage);
  EXPECT_TRUE(model.trouble().empty()) << model.trouble();
}

TEST_F(PipedInput, ClosedInTheMiddleOfAPacketShowsWhatCameWhole) {
  send(all.substr(0, kLessThanAPipe));
  close_pipe();
  ReplayModel model({"-", {}, {}, {}});
  model.finish_opening();
  ASSERT_EQ(model.phase(), ReplayModel::Phase::ready) << model.problem();
  const std::uint64_t whole = frames_in_fixture();
  EXPECT_GT(model.index().frames(), whole / 4);
  EXPECT_LT(model.index().frames(), whole);
}

TEST_F(PipedInput, ClosedAtOnceIsToldByName) {
  close_pipe();
  ReplayModel model({"-", {}, {}, {}});
  model.finish_opening();
  EXPECT_EQ(model.phase(), ReplayModel::Phase::failed);
  EXPECT_THAT(model.problem(), HasSubstr("standard input"));
}

TEST_F(PipedInput, RubbishIsToldByName) {
  // Less than a pipe holds, so that nobody has to read all of it.
  std::string rubbish(60'000, '\0');
  std::uint32_t x = 1;
  for (char& c : rubbish) {
    x = x * 1664525u + 1013904223u;
    c = static_cast<char>(x >> 24);
  }
  send(rubbish);
  close_pipe();
  ReplayModel model({"-", {}, {}, {}});
  model.finish_opening();
  EXPECT_EQ(model.phase(), ReplayModel::Phase::failed);
  EXPECT_THAT(model.problem(), HasSubstr("standard input"));
}

TEST_F(PipedInput, RubbishBetweenPacketsCostsOnlyItself) {
  const std::size_t cut = all.find('\0', all.size() / 2) + 1;
  std::thread sender([&] {
    send(all.substr(0, cut) + "no packet at all" + std::string(1, '\0') + all.substr(cut));
    close_pipe();
  });
  ReplayModel model({"-", {}, {}, {}});
  sender.join();
  const std::uint64_t whole = frames_in_fixture();
  model.finish_opening();
  look(model, [&] { return model.index().frames() >= whole; });
  ASSERT_EQ(model.phase(), ReplayModel::Phase::ready) << model.problem();
  EXPECT_EQ(model.index().frames(), whole);
  std::uint64_t damaged = 0;
  for (const Mark& mark : model.index().marks())
    if (mark.kind == Mark::Kind::damage) damaged += mark.amount;
  EXPECT_EQ(damaged, 1u);
}

TEST_F(PipedInput, AnotherFormatIsReadWholeOnceItIsClosed) {
  const std::string csv = simulated_dump("bare-glass", host::CaptureFormat::csv);
  std::thread sender([&] {
    send(csv.substr(0, csv.size() / 2));
    std::this_thread::sleep_for(milliseconds(50));
    send(csv.substr(csv.size() / 2));
    close_pipe();
  });
  ReplayModel model({"-", {}, {}, {}});
  model.finish_opening();
  sender.join();
  ASSERT_EQ(model.phase(), ReplayModel::Phase::ready) << model.problem();
  EXPECT_EQ(model.index().frames(), 250u);
}

TEST_F(PipedInput, AWindowClosedWhileTheSenderIsSilentDoesNotWaitForIt) {
  {
    ReplayModel silent({"-", {}, {}, {}});
    silent.update(0.02);
    EXPECT_EQ(silent.phase(), ReplayModel::Phase::opening);
  }
  send(all.substr(0, kLessThanAPipe));
  {
    ReplayModel open({"-", {}, {}, {}});
    look(open, [&] { return open.phase() != ReplayModel::Phase::opening; });
    EXPECT_EQ(open.phase(), ReplayModel::Phase::ready) << open.problem();
  }
  // Both were destroyed while the sender held its end, and the pipe is still there to write to.
  EXPECT_TRUE(is_open());
  send("x");
}

}  // namespace
}  // namespace bareglass::view
