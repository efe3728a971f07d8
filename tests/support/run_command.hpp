#pragma once
// Runs the built command as a user would and keeps what came of it.

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

namespace bareglass::support {

struct CommandResult {
  int code = -1;  ///< exit code; 128 + signal if it was killed
  std::string out;
  std::string err;
};

inline std::string read_file(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream out;
  out << in.rdbuf();
  return out.str();
}

inline void write_file(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary) << bytes;
}

inline const std::string kFixtures = BAREGLASS_SOURCE_DIR "/fixtures/";

/// A folder of the running test's own, empty at first, removed at the end.
class ScratchFolder {
 public:
  ScratchFolder() {
    const auto* info = ::testing::UnitTest::GetInstance()->current_test_info();
    std::string name = std::string("bareglass_") + info->test_suite_name() + "_" + info->name();
    for (char& c : name)
      if (c == '/') c = '_';
    path_ = ::testing::TempDir() + name;
    std::filesystem::remove_all(path_);
    std::filesystem::create_directories(path_);
  }
  ~ScratchFolder() { std::filesystem::remove_all(path_); }
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;

  std::string operator/(const std::string& name) const { return path_ + "/" + name; }
  const std::string& path() const { return path_; }
  std::size_t files() const {
    std::size_t n = 0;
    for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator(path_)) ++n;
    return n;
  }

 private:
  std::string path_;
};

/// Runs a shell line in which BAREGLASS stands for the built command.
inline CommandResult run_shell(const ScratchFolder& scratch, std::string line) {
  const std::string out = scratch.path() + ".out";
  const std::string err = scratch.path() + ".err";
  line = "BAREGLASS=" BAREGLASS_COMMAND "; ( " + line + " ) > '" + out + "' 2> '" + err + "'";
  const int status = std::system(line.c_str());
  CommandResult r{WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status), read_file(out),
                  read_file(err)};
  std::filesystem::remove(out);
  std::filesystem::remove(err);
  return r;
}

/// One line on standard error that holds `words`, nothing on standard output, the exit code.
inline void expect_refused(const CommandResult& r, int code, const std::string& words) {
  EXPECT_EQ(r.code, code) << r.err;
  EXPECT_EQ(r.out, "");
  EXPECT_THAT(r.err, ::testing::StartsWith("bareglass: "));
  EXPECT_THAT(r.err, ::testing::HasSubstr(words));
  EXPECT_EQ(std::count(r.err.begin(), r.err.end(), '\n'), 1) << r.err;
}

}  // namespace bareglass::support
