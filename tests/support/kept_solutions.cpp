#include "support/kept_solutions.hpp"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/file.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <sstream>
#include <stdexcept>

#include "bareglass/field/kernel_store.hpp"
#include "solver_sources.hpp"

namespace bareglass::support {

namespace {

namespace fs = std::filesystem;

std::string whole(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

/// Held by one process of all that want it.
class Lock {
 public:
  explicit Lock(const std::string& path)
      : file_(::open(path.c_str(), O_CREAT | O_RDWR | O_CLOEXEC, 0644)) {
    if (file_ < 0 || ::flock(file_, LOCK_EX) != 0) throw std::runtime_error(path + ": no lock");
  }
  ~Lock() { ::close(file_); }
  Lock(const Lock&) = delete;
  Lock& operator=(const Lock&) = delete;

 private:
  int file_;
};

/// Another compiler moves the last digits, an iteration that stops a step earlier some more.
bool agree(const std::vector<double>& a, const std::vector<double>& b) {
  if (a.size() != b.size()) return false;
  double largest = 0.0;
  for (const double value : a) largest = std::max(largest, std::abs(value));
  for (std::size_t k = 0; k < a.size(); ++k)
    if (!(std::abs(a[k] - b[k]) <= 1e-6 * largest)) return false;
  return true;
}

bool is_sample(const std::string& key) { return key.front() == '0'; }

}  // namespace

SolutionFile parse_solutions(const std::string& text, const std::string& file) {
  SolutionFile out;
  std::istringstream lines(text);
  std::string line;
  for (int number = 1; std::getline(lines, line); ++number) {
    if (line.empty() || line.front() == '#') continue;
    std::istringstream words(line);
    std::string key;
    words >> key;
    if (key == "sources" && words >> out.sources) continue;
    std::vector<double>& numbers = out.solutions[key];
    for (double value = 0.0; words >> value;) numbers.push_back(value);
    if (key.size() != 32 || numbers.empty() || !words.eof())
      throw std::runtime_error(file + ":" + std::to_string(number) +
                               ": expected 'sources HASH' or a key of 32 digits and its numbers");
  }
  return out;
}

std::string solution_line(const std::string& key, const std::vector<double>& numbers) {
  std::ostringstream out;
  out.precision(17);
  out << key;
  for (const double number : numbers) out << ' ' << number;
  out << '\n';
  return out.str();
}

KeptSolutions::KeptSolutions(SolutionFile approved, const std::string& sources, std::string folder,
                             bool anew)
    : approved_(std::move(approved)), folder_(std::move(folder)), anew_(anew) {
  if (approved_.sources != sources) approved_ = {};
  fs::create_directories(folder_);
}

std::vector<double> KeptSolutions::result(const std::string& key,
                                          const field::SolveFunction& solve) {
  const auto approved = approved_.solutions.find(key);
  if (approved == approved_.solutions.end()) return from_folder(key, solve);
  if (!anew_ && !is_sample(key)) return approved->second;
  std::vector<double> out = from_folder(key, solve);
  if (!agree(approved->second, out))
    ADD_FAILURE() << "solution " << key << " is not the one that " << solutions_path()
                  << " keeps.\nkept:   " << solution_line(key, approved->second)
                  << "solved: " << solution_line(key, out)
                  << "If the new one is right: bash tests/support/keep_solutions.sh build";
  return out;
}

std::vector<double> KeptSolutions::from_folder(const std::string& key,
                                               const field::SolveFunction& solve) {
  const std::string path = folder_ + "/" + key + ".txt";
  const Lock lock(folder_ + "/" + key + ".lock");
  if (fs::exists(path)) {
    const SolutionFile kept = parse_solutions(whole(path), path);
    if (kept.solutions.count(key) > 0) return kept.solutions.at(key);
  }
  std::vector<double> out = solve();
  ++solved_;
  field::write_whole(path, solution_line(key, out));
  return out;
}

std::string solutions_path() { return BAREGLASS_SOURCE_DIR "/fixtures/solutions.txt"; }

namespace {

/// Hands the store to every test but those of the solver itself, which are to solve.
class StoreForTests : public ::testing::EmptyTestEventListener {
 public:
  void OnTestProgramStart(const ::testing::UnitTest&) override {
    const std::string folder = BAREGLASS_BINARY_DIR "/solutions/" + std::string(kSolverSources);
    const char* anew = std::getenv("BAREGLASS_SOLVE_ANEW");
    store_ =
        std::make_unique<KeptSolutions>(parse_solutions(whole(solutions_path()), solutions_path()),
                                        kSolverSources, folder, anew != nullptr && *anew == '1');
    // Kernels that tests solve for themselves are kept for these sources too.
    ::setenv("XDG_CACHE_HOME", folder.c_str(), 1);
  }
  void OnTestStart(const ::testing::TestInfo& test) override {
    const std::string file = fs::path(test.file()).filename();
    const auto begins = [&](const char* with) { return file.rfind(with, 0) == 0; };
    const bool of_the_solver = begins("field_") && !begins("field_full_");
    field::keep_solutions_in(of_the_solver ? nullptr : store_.get());
  }
  void OnTestEnd(const ::testing::TestInfo&) override { field::keep_solutions_in(nullptr); }

 private:
  std::unique_ptr<KeptSolutions> store_;
};

const bool kInstalled = [] {
  ::testing::UnitTest::GetInstance()->listeners().Append(new StoreForTests);
  return true;
}();

}  // namespace
}  // namespace bareglass::support
