#pragma once
// Texts that a person has read and approved. BAREGLASS_APPROVE=1 in the environment writes the
// present ones in their place.

#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <sstream>
#include <string>

namespace bareglass::support {

/// `name`: below fixtures/expected, without its ending.
inline void expect_approved(const std::string& name, const std::string& actual) {
  const std::string path = BAREGLASS_SOURCE_DIR "/fixtures/expected/" + name + ".txt";
  if (std::getenv("BAREGLASS_APPROVE") != nullptr) {
    std::ofstream out(path, std::ios::binary);
    out << actual;
    ASSERT_TRUE(out.flush()) << "can't write " << path;
  }
  std::ifstream in(path, std::ios::binary);
  ASSERT_TRUE(in.is_open()) << path << " is missing";
  std::ostringstream approved;
  approved << in.rdbuf();
  EXPECT_EQ(approved.str(), actual)
      << "if the new text is right: BAREGLASS_APPROVE=1 ctest --test-dir build -R FixtureText";
}

}  // namespace bareglass::support
