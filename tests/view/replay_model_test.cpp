// The replay without its window: same decisions as the report, any moment at any time.
#include "bareglass/view/replay_model.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>
#include <thread>

#include "support/dump_files.hpp"

namespace bareglass::view {
namespace {

using support::file_bytes;
using support::write_bytes;

const std::string kFixtures = BAREGLASS_SOURCE_DIR "/fixtures/";

class TemporaryDump : public ::testing::Test {
 protected:
  void SetUp() override {
    path_ = std::filesystem::temp_directory_path() /
            ("bareglass-replay-" + std::to_string(::getpid()) + ".frames");
  }
  void TearDown() override { std::filesystem::remove(path_); }
  std::string path_;
};

std::unique_ptr<ReplayModel> opened(const std::string& path) {
  auto model = std::make_unique<ReplayModel>(OpenRequest{path, {}, {}, {}});
  model->finish_opening();
  return model;
}

// Powered up with something on the glass, reset, and powered up bare: both on a clock from zero.
TEST_F(TemporaryDump, OfAUnitThatResetsOpensInTheLastRunAndNeverGoesBack) {
  const auto writer = host::create_capture(path_, host::CaptureFormat::frames);
  host::PanelDescription panel;
  panel.rows = 12;
  panel.cols = 8;
  panel.finger_counts = 3000;
  panel.frame_period_us = 8000;
  panel.power_up_us = 0;
  host::ReferenceRecord reference{12, 8, std::vector<std::uint16_t>(96, 20000)};
  host::FrameRecord frame;
  frame.rows = 12;
  frame.cols = 8;
  for (const int run : {0, 1}) {
    if (run == 1) reference.raw.assign(96, 20001);
    writer->write(reference);
    writer->write(panel);
    for (std::uint32_t n = 1; n <= 300; ++n) {
      frame.sequence = n;
      frame.t_us = 8000u * n;
      frame.raw.assign(96, static_cast<std::uint16_t>(20000 + n % 3));
      if (run == 0)
        for (std::size_t i = 34; i < 62; i += 8)
          for (std::size_t k = 0; k < 4; ++k) frame.raw[i + k] = 20900;
      writer->write(frame);
    }
  }
  writer->finish();
  const auto model = opened(path_);
  ASSERT_EQ(model->phase(), ReplayModel::Phase::ready) << model->problem();
  ASSERT_EQ(model->account().runs.size(), 2u);
  EXPECT_GE(model->moment().number, 300u) << "the decision of the last run";
  EXPECT_EQ(model->moment().frame.t_us + 2408000, model->account().decisive.t_us);
  EXPECT_EQ(model->engine().state(), InputState::running);
  EXPECT_LT(model->now_s(), 0.3) << "counted from the second power-up";
  EXPECT_EQ(model->at_of_seconds(1.0), 3400000u) << "2.400 s and a period before its zero";
  std::uint64_t before = 0;
  for (int n = 0; n < 600; n += 50) {
    model->step(n - static_cast<int>(model->moment().number));
    EXPECT_GE(model->at_us(), before);
    before = model->at_us();
    EXPECT_GE(model->now_s(), 0.0);
    EXPECT_LE(model->now_s(), 2.41);
  }
  EXPECT_EQ(model->index().reference()[0], 20001) << "as sent before the second power-up";
  model->step(-590);
  EXPECT_EQ(model->index().reference()[0], 20000);
  for (const auto& mark : model->axis_marks(0.5)) EXPECT_LE(mark.seconds, 2.41);
}

class EveryFixture : public ::testing::TestWithParam<std::string> {};

TEST_P(EveryFixture, WindowAndReportKeepTheSameJournal) {
  const auto model = opened(kFixtures + GetParam());
  ASSERT_EQ(model->phase(), ReplayModel::Phase::ready) << model->problem();
  std::vector<JournalEntry> seen;
  for (const Mark& mark : model->index().marks())
    if (mark.kind == Mark::Kind::entry) seen.push_back(mark.entry);
  const std::vector<JournalEntry>& told = model->account().events;
  ASSERT_EQ(seen.size(), told.size());
  for (std::size_t n = 0; n < seen.size(); ++n) {
    EXPECT_EQ(seen[n].code, told[n].code) << "entry " << n;
    EXPECT_EQ(seen[n].t_us, told[n].t_us) << "entry " << n;
    EXPECT_EQ(seen[n].value, told[n].value) << "entry " << n;
    EXPECT_EQ(seen[n].limit, told[n].limit) << "entry " << n;
  }
  EXPECT_EQ(model->index().frames(), model->account().frames);
}

TEST_P(EveryFixture, OpensAtTheDecisiveMoment) {
  const auto model = opened(kFixtures + GetParam());
  ASSERT_EQ(model->phase(), ReplayModel::Phase::ready) << model->problem();
  EXPECT_EQ(model->moment().frame.t_us, model->account().decisive.t_us);
  const auto shown = model->engine().difference();
  const std::vector<std::int16_t>& told = model->account().decisive.difference;
  EXPECT_EQ(std::vector<std::int16_t>(shown.begin(), shown.end()), told);
}

TEST_P(EveryFixture, EveryMomentIsTheSameFromBothSides) {
  const auto model = opened(kFixtures + GetParam());
  ASSERT_EQ(model->phase(), ReplayModel::Phase::ready) << model->problem();
  struct Seen {
    std::vector<std::int16_t> difference;
    std::vector<std::uint16_t> raw;
    InputState state;
    std::uint64_t at_us;
  };
  const auto now = [&] {
    const auto d = model->engine().difference();
    return Seen{
        {d.begin(), d.end()}, model->moment().frame.raw, model->engine().state(), model->at_us()};
  };
  std::vector<Seen> forward;
  model->to_start();
  for (std::uint64_t n = 0; n < model->index().frames(); ++n, model->step(1)) {
    ASSERT_EQ(model->moment().number, n);
    forward.push_back(now());
  }
  for (std::size_t n = forward.size(); n-- > 0;) {
    model->step(static_cast<int>(n) - static_cast<int>(model->moment().number));
    const Seen again = now();
    ASSERT_EQ(again.difference, forward[n].difference) << "frame " << n;
    ASSERT_EQ(again.raw, forward[n].raw) << "frame " << n;
    ASSERT_EQ(again.state, forward[n].state) << "frame " << n;
    ASSERT_EQ(again.at_us, forward[n].at_us) << "frame " << n;
  }
}

INSTANTIATE_TEST_SUITE_P(Fixtures, EveryFixture,
                         ::testing::Values("bare-glass.frames", "damaged.frames",
                                           "damp-note-peeled.frames", "finger-at-power-up.frames",
                                           "isolated-streak.frames", "starts-late.frames",
                                           "wet-bezel.frames", "wet-film-drying.frames"),
                         [](const auto& instance) {
                           const std::string file = instance.param;
                           return support::test_name(file.substr(0, file.find('.')));
                         });

TEST(DumpOfAPeeledNote, DecisionIsASentenceOfTheStoryWithItsPlace) {
  const auto model = opened(kFixtures + "damp-note-peeled.frames");
  ASSERT_EQ(model->phase(), ReplayModel::Phase::ready);
  const auto now = model->current_sentence();
  ASSERT_TRUE(now);
  EXPECT_TRUE(model->story()[*now].decisive);
  EXPECT_NE(model->story()[*now].text.find("Input was switched off"), std::string::npos)
      << model->story()[*now].text;
  ASSERT_TRUE(model->story()[*now].place);
  model->to_start();
  model->follow(*now);
  EXPECT_EQ(model->at_us(), model->story()[*now].at_us);
  EXPECT_TRUE(model->marked());
}

TEST(DumpOfAPeeledNote, PlaysAtItsSpeedAndStopsAtTheEnd) {
  const auto model = opened(kFixtures + "damp-note-peeled.frames");
  model->to_start();
  model->play(true);
  for (int n = 0; n < 60; ++n) model->update(1.0 / 60.0);
  EXPECT_NEAR(static_cast<double>(model->at_us()), 1e6, 30e3);
  model->change_speed(+4);
  EXPECT_EQ(model->speed(), 100.0);
  model->update(1.0);
  EXPECT_EQ(model->at_us(), model->end_us());
  EXPECT_FALSE(model->playing());
}

TEST(DumpOfAPeeledNote, HistoryOfANodeHoldsEveryFrameOfAShortDump) {
  const auto model = opened(kFixtures + "damp-note-peeled.frames");
  const NodeHistory& history = model->index().history();
  ASSERT_EQ(history.size(), model->index().frames());
  model->seek(history.point(100, 0).at_us);
  EXPECT_EQ(model->moment().frame.raw[57], history.point(100, 57).raw);
}

TEST(DamagedDump, DamageIsMarkedOnTheTimeline) {
  const auto model = opened(kFixtures + "damaged.frames");
  std::uint64_t packets = 0;
  for (const Mark& mark : model->index().marks())
    if (mark.kind == Mark::Kind::damage) packets += mark.amount;
  EXPECT_GT(packets, 0u);
  EXPECT_LE(packets, model->account().stats.damaged_packets);
}

TEST_F(TemporaryDump, FailsWithTheNameOfAnEmptyFileAndOpensOnceItIsFilled) {
  write_bytes(path_, "");
  ReplayModel model({path_, {}, {}, {}});
  model.finish_opening();
  ASSERT_EQ(model.phase(), ReplayModel::Phase::failed);
  EXPECT_NE(model.problem().find(path_), std::string::npos) << model.problem();
  write_bytes(path_, file_bytes(kFixtures + "wet-bezel.frames"));
  model.update(1.0);
  model.finish_opening();
  EXPECT_EQ(model.phase(), ReplayModel::Phase::ready) << model.problem();
}

TEST_F(TemporaryDump, FollowsAFileThatGrowsAndTellsItsEndAnew) {
  const std::string all = file_bytes(kFixtures + "damp-note-peeled.frames");
  write_bytes(path_, all.substr(0, all.size() / 3));
  const auto model = opened(path_);
  ASSERT_EQ(model->phase(), ReplayModel::Phase::ready) << model->problem();
  const std::uint64_t before = model->index().frames();
  const std::uint64_t whole = opened(kFixtures + "damp-note-peeled.frames")->account().frames;
  ASSERT_LT(before, whole);
  model->to_end();
  std::ofstream(path_, std::ios::binary | std::ios::app) << all.substr(all.size() / 3);
  for (int n = 0; n < 5000 && model->account().frames != whole; ++n) {
    model->update(0.1);
    std::this_thread::sleep_for(std::chrono::milliseconds(2));
  }
  EXPECT_GT(model->index().frames(), before);
  EXPECT_EQ(model->index().frames(), whole);
  EXPECT_EQ(model->account().frames, whole);
  EXPECT_EQ(model->at_us(), model->end_us());
  EXPECT_TRUE(model->trouble().empty()) << model->trouble();
  EXPECT_EQ(model->index().marks().size(), model->account().events.size());
}

TEST_F(TemporaryDump, StaysOnShowWhenItsFileVanishes) {
  write_bytes(path_, file_bytes(kFixtures + "wet-bezel.frames"));
  const auto model = opened(path_);
  std::filesystem::remove(path_);
  model->update(1.0);
  EXPECT_NE(model->trouble().find("removed"), std::string::npos) << model->trouble();
  model->to_start();
  model->to_end();
  EXPECT_EQ(model->at_us(), model->end_us());
}

TEST_F(TemporaryDump, SaysThatItsFileWasCut) {
  const std::string all = file_bytes(kFixtures + "wet-bezel.frames");
  write_bytes(path_, all);
  const auto model = opened(path_);
  std::filesystem::resize_file(path_, 1000);
  model->update(1.0);
  EXPECT_NE(model->trouble().find("shorter"), std::string::npos) << model->trouble();
  model->to_start();
  model->to_end();
  model->update(1.0);
}

TEST_F(TemporaryDump, FailsOnRubbishWithoutAFrame) {
  write_bytes(path_, std::string(5000, 'x'));
  const auto model = opened(path_);
  EXPECT_EQ(model->phase(), ReplayModel::Phase::failed);
  EXPECT_NE(model->problem().find(path_), std::string::npos) << model->problem();
}

TEST(MissingDump, FailsWithItsName) {
  const auto model = opened("/nowhere/at-all.frames");
  EXPECT_EQ(model->phase(), ReplayModel::Phase::failed);
  EXPECT_NE(model->problem().find("/nowhere/at-all.frames"), std::string::npos);
}

}  // namespace
}  // namespace bareglass::view
