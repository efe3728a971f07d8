// The store of full solutions: what it keeps, when it solves, and that what the repository keeps
// was solved by the present sources.
#include "support/kept_solutions.hpp"

#include <gtest/gtest-spi.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/panel_window.hpp"
#include "solver_sources.hpp"

namespace bareglass::support {
namespace {

namespace fs = std::filesystem;

// Keys as SolutionKey gives them; those that begin with 0 are the sample.
const std::string kKey = "1123456789abcdef0123456789abcdef";
const std::string kSample = "0123456789abcdef0123456789abcdef";

class StoreOfSolutions : public ::testing::Test {
 protected:
  StoreOfSolutions()
      : folder_(::testing::TempDir() + "bareglass_solutions_" +
                ::testing::UnitTest::GetInstance()->current_test_info()->name()) {
    fs::remove_all(folder_);
  }
  ~StoreOfSolutions() override { fs::remove_all(folder_); }

  KeptSolutions store(const std::string& sources, bool anew = false) const {
    return {{"these", {{kKey, {1.0, 2.0}}, {kSample, {3.0}}}}, sources, folder_, anew};
  }
  std::string folder_;
};

std::vector<double> seven() { return {7.0}; }

TEST_F(StoreOfSolutions, GivesWhatIsApprovedWithoutSolving) {
  KeptSolutions kept = store("these");
  EXPECT_EQ(kept.result(kKey, seven), (std::vector<double>{1.0, 2.0}));
  EXPECT_EQ(kept.solved(), 0);
}

TEST_F(StoreOfSolutions, SolvesWhatIsNotApprovedOnceForAll) {
  const std::string other = "2123456789abcdef0123456789abcdef";
  KeptSolutions first = store("these");
  EXPECT_EQ(first.result(other, seven), seven());
  KeptSolutions second = store("these");
  EXPECT_EQ(second.result(other, [] { return std::vector<double>{8.0}; }), seven());
  EXPECT_EQ(first.solved(), 1);
  EXPECT_EQ(second.solved(), 0);
}

TEST_F(StoreOfSolutions, TrustsNothingThatOtherSourcesSolved) {
  KeptSolutions kept = store("others");
  EXPECT_EQ(kept.result(kKey, seven), seven());
  EXPECT_EQ(kept.solved(), 1);
}

TEST_F(StoreOfSolutions, SolvesTheSampleAndComparesIt) {
  KeptSolutions kept = store("these");
  EXPECT_EQ(kept.result(kSample, [] { return std::vector<double>{3.0 + 1e-9}; }).size(), 1u);
  EXPECT_EQ(kept.solved(), 1);
  fs::remove_all(folder_);
  KeptSolutions changed = store("these");
  EXPECT_NONFATAL_FAILURE(changed.result(kSample, seven), "keep_solutions.sh");
}

TEST_F(StoreOfSolutions, SolvesAllAnewIfAskedTo) {
  KeptSolutions kept = store("these", true);
  EXPECT_NONFATAL_FAILURE(kept.result(kKey, seven), "is not the one");
  EXPECT_EQ(kept.solved(), 1);
}

TEST(TextOfSolutions, GivesBackEveryBitAndNamesTheLineThatIsNone) {
  const std::vector<double> numbers{1.0 / 3.0, -2e-17, 5.0};
  const SolutionFile file =
      parse_solutions("# c\nsources abc\n" + solution_line(kKey, numbers), "f");
  EXPECT_EQ(file.sources, "abc");
  EXPECT_EQ(file.solutions.at(kKey), numbers);
  for (const std::string wrong : {"short 1\n", "1123456789abcdef0123456789abcdef\n",
                                  "1123456789abcdef0123456789abcdef 1 x\n"}) {
    try {
      parse_solutions("# c\n" + wrong, "f");
      ADD_FAILURE() << "taken: " << wrong;
    } catch (const std::runtime_error& error) {
      EXPECT_EQ(std::string(error.what()).rfind("f:2: expected", 0), 0u) << error.what();
    }
  }
}

TEST(KeyOfASolution, CountsEveryNumberButNotItsLastBits) {
  const auto key = [](double a, int b) { return field::SolutionKey("k").add(a).add(b).text(); };
  EXPECT_EQ(key(1.1, 2).size(), 32u);
  EXPECT_EQ(key(1.1, 2), key(1.1 * (1.0 + 1e-15), 2));
  EXPECT_NE(key(1.1, 2), key(1.1 * (1.0 + 1e-8), 2));
  EXPECT_NE(key(1.1, 2), key(1.1, 3));
  EXPECT_NE(key(1.1, 2), key(-1.1, 2));
}

// A window asks for another solution as soon as anything about it differs.
TEST(KeyOfASolution, IsOfTheWholeProblem) {
  struct Listening : field::SolutionStore {
    std::vector<std::string> asked;
    std::vector<double> result(const std::string& key, const field::SolveFunction&) override {
      asked.push_back(key);
      return std::vector<double>(16, 0.0);
    }
  } store;
  const auto ask = [&](double glass_mm, double disc_mm, int row) {
    field::Scene scene;
    scene.object = field::Footprint::disc({0, 0}, disc_mm);
    const field::Span span{0, 1.5, true};
    const field::PanelWindow window(field::reference_panel(glass_mm), span, span, {}, scene);
    field::keep_solutions_in(&store);
    window.drive(window.row_id(row));
    field::keep_solutions_in(nullptr);
    return store.asked.back();
  };
  const std::string one = ask(1.1, 8, 0);
  EXPECT_EQ(ask(1.1, 8, 0), one);
  EXPECT_NE(ask(1.1, 8, 1), one);
  EXPECT_NE(ask(1.1, 8.5, 0), one);
  EXPECT_NE(ask(1.2, 8, 0), one);
}

// Red after a change of the solver's sources until they have been kept anew: whoever changes the
// solver sees every one of its long tests.
TEST(ApprovedSolutions, WereSolvedByThePresentSources) {
  std::ifstream in(solutions_path());
  ASSERT_TRUE(in) << solutions_path();
  std::ostringstream text;
  text << in.rdbuf();
  const SolutionFile file = parse_solutions(text.str(), solutions_path());
  EXPECT_EQ(file.sources, kSolverSources) << "the solver's sources have changed; all solutions "
                                             "were solved anew for this run. Keep them: "
                                             "bash tests/support/keep_solutions.sh build";
  EXPECT_GT(file.solutions.size(), 100u);
}

}  // namespace
}  // namespace bareglass::support
