// Long dumps: the first picture does not wait for the end, and what is kept of a dump does not grow
// with it.
#include <gtest/gtest.h>

#include <chrono>
#include <filesystem>
#include <string>
#include <thread>

#include "bareglass/view/replay_model.hpp"
#include "support/dump_files.hpp"

namespace bareglass::view {
namespace {

using namespace support;

/// A crack at 2 s of 5, input off at 4 s.
struct DumpWithALateDecision : ::testing::Test {
  DumpWithALateDecision() {
    const std::string all = simulated_dump("impact-crack", host::CaptureFormat::frames);
    write_bytes(path, all);
    request.path = path;
    request.first_bytes = all.size() / 3;
  }
  ~DumpWithALateDecision() override { std::filesystem::remove(path); }
  template <typename Enough>
  static void look(ReplayModel& model, Enough enough) {
    for (int n = 0; n < 5000 && !enough(); ++n) {
      model.update(0.0);
      std::this_thread::sleep_for(std::chrono::milliseconds(1));
    }
    ASSERT_TRUE(enough());
  }
  const std::string path = temporary_path("late.frames");
  OpenRequest request;
};

TEST_F(DumpWithALateDecision, IsShownBeforeItIsReadWholeAndGoesToTheDecisionThen) {
  ReplayModel model(request);
  look(model, [&] { return model.phase() == ReplayModel::Phase::ready; });
  EXPECT_TRUE(model.partly_told());
  EXPECT_EQ(model.account().final_state, InputState::running) << "of the first third";
  EXPECT_EQ(model.account().stats.damaged_packets, 0u) << "it ends with a whole packet";
  look(model, [&] { return !model.partly_told() && !model.walking(); });
  model.update(0.0);
  EXPECT_EQ(model.account().final_state, InputState::paused);
  EXPECT_NEAR(model.now_s(), 4.0, 0.05);
  EXPECT_EQ(model.at_us(), model.decision_us());
}

TEST_F(DumpWithALateDecision, LeavesAViewerWhoHasGoneElsewhereThere) {
  ReplayModel model(request);
  look(model, [&] { return model.phase() == ReplayModel::Phase::ready; });
  ASSERT_TRUE(model.partly_told());
  model.to_start();
  model.finish_opening();
  EXPECT_EQ(model.account().final_state, InputState::paused);
  EXPECT_EQ(model.at_us(), 0u);
}

TEST_F(DumpWithALateDecision, ShortOnesAreReadAtOnce) {
  request.first_bytes = std::uint64_t{1} << 30;
  ReplayModel model(request);
  look(model, [&] { return model.phase() == ReplayModel::Phase::ready; });
  EXPECT_FALSE(model.partly_told());
  EXPECT_EQ(model.account().final_state, InputState::paused);
}

/// Many frames of a small panel whose clock starts again and again.
void write_restless_dump(const std::string& path, int frames, int frames_between) {
  const auto writer = host::create_capture(path, host::CaptureFormat::frames);
  host::PanelDescription panel;
  panel.rows = 4;
  panel.cols = 3;
  panel.pitch_row_mm = panel.pitch_col_mm = 5.0;
  panel.finger_counts = 3000;
  panel.frame_period_us = 10'000;
  writer->write(panel);
  host::FrameRecord frame;
  frame.kind = host::FrameKind::raw;
  frame.rows = panel.rows;
  frame.cols = panel.cols;
  for (int n = 0; n < frames; ++n) {
    frame.sequence = static_cast<std::uint32_t>(n % frames_between);
    frame.t_us = 10'000u * static_cast<std::uint64_t>(1 + n % frames_between);
    frame.raw.assign(12, static_cast<std::uint16_t>(20'000 + n % 7));
    writer->write(frame);
  }
  writer->finish();
}

TEST(DumpThatNeverRests, IsKeptInBoundedMemoryAndStillShownAtAnyFrame) {
  constexpr int kFrames = 100'000;
  constexpr int kBetween = 16;
  const std::string path = temporary_path("restless.frames");
  write_restless_dump(path, kFrames, kBetween);
  ReplayModel model({path, {}, {}, {}});
  model.finish_opening();
  ASSERT_EQ(model.phase(), ReplayModel::Phase::ready) << model.problem();
  const DumpIndex& index = model.index();
  EXPECT_EQ(index.frames(), static_cast<std::uint64_t>(kFrames));
  EXPECT_LE(index.checkpoints(), DumpIndex::kMostCheckpoints);
  EXPECT_GE(index.checkpoints(), DumpIndex::kMostCheckpoints / 4) << "and not thinned for nothing";
  EXPECT_EQ(index.marks().size(), DumpIndex::kMostMarks) << "there are more than are kept";
  EXPECT_GT(index.marks_left_out(), 0u);
  EXPECT_LE(index.states().size(), DumpIndex::kMostMarks);
  EXPECT_EQ(model.account().runs.size(), host::Account::kMaxRuns);
  EXPECT_LE(model.story().size(), kMostSentences + 1);
  for (const int number : {0, 1, 16, 49'999, 77'777, kFrames - 1}) {
    model.step(number - static_cast<int>(model.moment().number));
    EXPECT_EQ(model.moment().number, static_cast<std::uint64_t>(number));
    EXPECT_EQ(model.moment().frame.raw[0], 20'000 + number % 7);
    EXPECT_EQ(model.moment().frame.sequence, static_cast<std::uint32_t>(number % kBetween));
  }
  std::filesystem::remove(path);
}

TEST(HistoryOfALongDump, KeepsItsBudgetWhateverTheNumberOfFrames) {
  constexpr std::size_t kNodes = 4;
  constexpr std::size_t kBudget = 4000;  // bytes; 25 a moment
  NodeHistory history(kNodes, kBudget);
  std::vector<std::uint16_t> raw(kNodes);
  EngineArrays arrays(Shape{2, 2});
  Engine engine(arrays.memory());
  Settings settings;
  settings.shape = {2, 2};
  ASSERT_EQ(engine.configure(settings, {}), SettingsField::none);
  for (std::uint64_t n = 0; n < 50'000; ++n) {
    raw.assign(kNodes, static_cast<std::uint16_t>(n % 60'000));
    history.add(1000 * n, {raw.data(), raw.size()}, engine);
    ASSERT_LE(history.size() * 25, kBudget);
  }
  EXPECT_GE(history.size() * 25, kBudget / 3);
  const NodeHistory::Point last = history.point(history.size() - 1, 0);
  EXPECT_GE(last.at_us, 1000 * (50'000 - 2 * history.stride()));
  EXPECT_EQ(last.raw, last.at_us / 1000);
}

}  // namespace
}  // namespace bareglass::view
