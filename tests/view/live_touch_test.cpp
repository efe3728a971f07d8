// A touch test on a dump that grows while it is looked at: what the window says is what
// `bareglass touchtest` says of the same frames.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <filesystem>
#include <string>
#include <thread>

#include "bareglass/replay/replay.hpp"
#include "bareglass/view/replay_model.hpp"
#include "support/dump_files.hpp"

namespace bareglass::view {
namespace {

using namespace support;
using ::testing::HasSubstr;

const std::string& dump_with_touches(const char* scenario) {
  static const std::string sound = simulated_dump("touch-test", host::CaptureFormat::frames);
  static const std::string cut = simulated_dump("touch-test-cut-row", host::CaptureFormat::frames);
  return std::string(scenario) == "touch-test" ? sound : cut;
}

/// As the command does it.
host::TouchResult judged_by_command(const std::string& path) {
  std::optional<host::TouchTest> test;
  host::ReplayOptions options;
  options.started = [&](const Settings& s) { test.emplace(host::default_touch_plan(s), s); };
  options.contacts = [&](View<const Contact> c, std::uint64_t t_us) { test->feed(c, t_us); };
  const auto reader = host::open_capture(path, {});
  host::replay(*reader, path, options);
  return test->result();
}

struct GrowingDump : ::testing::Test {
  ~GrowingDump() override { std::filesystem::remove(path); }
  /// Lets the window look until it has walked all that is there.
  void look(ReplayModel& model) {
    do model.update(0.05);
    while (model.walking() || model.phase() == ReplayModel::Phase::opening);
  }
  const std::string path = temporary_path("growing.frames");
};

TEST_F(GrowingDump, IsJudgedAsTheCommandJudgesItWhateverPiecesItComesIn) {
  for (const char* scenario : {"touch-test", "touch-test-cut-row"}) {
    SCOPED_TRACE(scenario);
    const std::string& all = dump_with_touches(scenario);
    // Nobody writes whole packets.
    const std::size_t piece = 7919;
    std::size_t written = 5 * piece;
    write_bytes(path, all.substr(0, written));
    OpenRequest request{path, {}, {}};
    request.touch = TouchRequest{};
    ReplayModel model(request);
    model.finish_opening();
    ASSERT_EQ(model.phase(), ReplayModel::Phase::ready) << model.problem();
    EXPECT_EQ(model.at_us(), model.end_us()) << "it follows the frames";
    std::size_t step = model.touch_test()->step();
    for (; written < all.size(); written += piece) {
      append_bytes(path, all.substr(written, piece));
      look(model);
      ASSERT_GE(model.touch_test()->step(), step) << "no step is asked for again";
      step = model.touch_test()->step();
      EXPECT_EQ(model.at_us(), model.end_us());
    }
    const host::TouchResult expected = judged_by_command(path);
    const host::TouchResult result = model.touch_test()->result();
    EXPECT_EQ(result.passed, expected.passed);
    EXPECT_EQ(result.passed, std::string(scenario) == "touch-test");
    EXPECT_EQ(result.frames, expected.frames);
    EXPECT_EQ(result.coverage, expected.coverage);
    ASSERT_EQ(result.checks.size(), expected.checks.size());
    for (std::size_t n = 0; n < result.checks.size(); ++n)
      EXPECT_DOUBLE_EQ(result.checks[n].value, expected.checks[n].value) << result.checks[n].name;
    EXPECT_THAT(model.touch_text(), HasSubstr(expected.passed ? "PASSED" : "FAILED"));
    EXPECT_THAT(model.touch_text(), HasSubstr(path));
  }
}

TEST_F(GrowingDump, ATestBegunLaterCountsWhatComesFromThenOn) {
  const std::string& all = dump_with_touches("touch-test");
  const std::size_t half = all.size() / 2;
  write_bytes(path, all.substr(0, half));
  ReplayModel model({path, {}, {}, {}});
  model.finish_opening();
  ASSERT_EQ(model.phase(), ReplayModel::Phase::ready) << model.problem();
  EXPECT_EQ(model.touch_test(), nullptr);
  const std::uint64_t before = model.index().frames();
  model.begin_touch_test({});
  look(model);
  EXPECT_EQ(model.touch_test()->result().frames, 0u);
  append_bytes(path, all.substr(half));
  look(model);
  EXPECT_GT(model.index().frames(), before + 100);
  EXPECT_EQ(model.touch_test()->result().frames, model.index().frames() - before);
  // The second half of a plan done in its order: not what is asked for first.
  EXPECT_FALSE(model.touch_test()->result().extra_at.empty());
  model.end_touch_test();
  EXPECT_EQ(model.touch_test(), nullptr);
}

TEST_F(GrowingDump, SaysForHowLongNothingCameIn) {
  const std::string& all = dump_with_touches("touch-test");
  write_bytes(path, all.substr(0, all.size() / 2));
  ReplayModel model({path, {}, {}, {}});
  model.finish_opening();
  for (int n = 0; n < 30; ++n) model.update(0.1);
  EXPECT_NEAR(model.quiet_s(), 3.0, 0.11);
  append_bytes(path, all.substr(all.size() / 2));
  look(model);
  EXPECT_LT(model.quiet_s(), 0.11);
}

TEST_F(GrowingDump, APlanThatLeavesThePanelIsRefusedByItsName) {
  write_bytes(path, dump_with_touches("touch-test"));
  OpenRequest request{path, {}, {}};
  request.touch = TouchRequest{};
  request.touch->plan_file = "wide.toml";
  request.touch->plan.emplace();
  request.touch->plan->steps.emplace_back();
  request.touch->plan->steps[0].from = request.touch->plan->steps[0].to = {400.0, 10.0};
  ReplayModel model(request);
  model.finish_opening();
  EXPECT_EQ(model.phase(), ReplayModel::Phase::failed);
  EXPECT_THAT(model.problem(), HasSubstr("wide.toml"));
}

}  // namespace
}  // namespace bareglass::view
