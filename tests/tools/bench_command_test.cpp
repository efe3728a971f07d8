// `bareglass bench` as a process: what it refuses before a window is opened.
#include <gtest/gtest.h>

#include "support/run_command.hpp"

namespace bareglass {
namespace {

class BenchCommand : public ::testing::Test {
 protected:
  support::CommandResult bench(const std::string& words) {
    return support::run_shell(scratch_, "$BAREGLASS bench " + words);
  }
  void SetUp() override {
    if (bench("--help").out.find("--lesson") == std::string::npos)
      GTEST_SKIP() << "built without the window: BAREGLASS_WINDOW is OFF";
  }
  support::ScratchFolder scratch_;
};

TEST_F(BenchCommand, NameThatIsNeitherFileNorLessonIsRefusedWithOrWithoutAStep) {
  const std::string words = "expected a scenario, a lesson file, or the name of a lesson";
  support::expect_refused(bench("no-such-lesson --screenshot x.png"), 3, words);
  support::expect_refused(bench("no-such-lesson --step 2 --screenshot x.png"), 3, words);
}

TEST_F(BenchCommand, StepOfAScenarioIsRefused) {
  support::expect_refused(
      bench(BAREGLASS_SOURCE_DIR "/fixtures/scenarios/drops.toml --step 2 --screenshot x.png"), 2,
      "--step expects a lesson");
}

}  // namespace
}  // namespace bareglass
