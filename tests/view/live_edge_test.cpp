// A dump that is being recorded while it is shown: waited for, followed, restarts told apart.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <functional>
#include <thread>

#include "bareglass/view/replay_model.hpp"
#include "support/dump_files.hpp"

namespace bareglass::view {
namespace {

using support::append_bytes;
using support::file_bytes;

const std::string kDump = std::string(BAREGLASS_SOURCE_DIR) + "/fixtures/damp-note-peeled.frames";

/// Looks at the model as a window would, until it is so; a machine may be slow.
bool look_until(ReplayModel& model, const std::function<bool()>& done) {
  const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(60);
  while (std::chrono::steady_clock::now() < end) {
    model.update(0.5);
    if (done()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  return false;
}

class ADumpThatIsBeingRecorded : public testing::Test {
 protected:
  ADumpThatIsBeingRecorded() { support::write_bytes(path, ""); }
  ~ADumpThatIsBeingRecorded() override { std::filesystem::remove(path); }
  OpenRequest request() const {
    OpenRequest out;
    out.path = path;
    out.reading.format = host::CaptureFormat::frames;
    out.live = true;
    return out;
  }
  /// So many bytes of the dump, whole packets.
  std::string part(std::size_t bytes) const { return all.substr(0, all.find('\0', bytes) + 1); }

  const std::string path = support::temporary_path("live");
  const std::string all = file_bytes(kDump);
};

TEST_F(ADumpThatIsBeingRecorded, IsWaitedForAndThenShownAtItsNewestFrame) {
  ReplayModel model(request());
  for (int n = 0; n < 10; ++n) model.update(0.1);
  EXPECT_TRUE(model.waiting());
  EXPECT_NE(model.phase(), ReplayModel::Phase::failed);
  append_bytes(path, part(30000));
  ASSERT_TRUE(look_until(model, [&] { return model.phase() == ReplayModel::Phase::ready; }))
      << model.problem();
  EXPECT_FALSE(model.waiting());
  EXPECT_TRUE(model.at_live_edge());
  EXPECT_EQ(model.at_us(), model.end_us());
  const std::uint64_t before = model.end_us();
  append_bytes(path, part(60000).substr(part(30000).size()));
  EXPECT_TRUE(look_until(model, [&] { return model.end_us() > before + 500'000; }));
  model.update(0.1);
  EXPECT_EQ(model.at_us(), model.end_us()) << "it follows";
  // A look at the past stays there until the end is asked for again.
  model.to_start();
  append_bytes(path, all.substr(part(60000).size()));
  EXPECT_TRUE(look_until(model, [&] { return model.index().frames() == 350; }));
  EXPECT_EQ(model.at_us(), 0u);
  model.to_end();
  EXPECT_TRUE(model.at_live_edge());
}

TEST_F(ADumpThatIsBeingRecorded, TellsARestartAsALifeOfItsOwn) {
  append_bytes(path, part(15000));
  ReplayModel model(request());
  ASSERT_TRUE(look_until(model, [&] { return model.phase() == ReplayModel::Phase::ready; }))
      << model.problem();
  EXPECT_EQ(model.account().runs.size(), 1u);
  append_bytes(path, part(15000));  // the unit starts again, its clock from zero
  EXPECT_TRUE(look_until(model, [&] { return model.account().runs.size() == 2; }));
  EXPECT_EQ(model.account().stats.damaged_packets, 0u);
  EXPECT_TRUE(model.at_live_edge());
}

TEST_F(ADumpThatIsBeingRecorded, TellsWhatBecameOfItsSource) {
  append_bytes(path, part(30000));
  std::string trouble;
  OpenRequest asked = request();
  asked.source_trouble = [&] { return trouble; };
  ReplayModel model(asked);
  ASSERT_TRUE(look_until(model, [&] { return model.phase() == ReplayModel::Phase::ready; }));
  EXPECT_EQ(model.trouble(), "");
  trouble = "The port went away.";
  EXPECT_TRUE(look_until(model, [&] { return model.trouble() == trouble; }));
}

}  // namespace
}  // namespace bareglass::view
