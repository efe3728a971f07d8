#pragma once
// A path that no other test uses at the same time: tests run side by side, each in its own process.

#include <gtest/gtest.h>
#include <unistd.h>

#include <string>

namespace bareglass::support {

inline std::string temporary_path(const std::string& name) {
  return ::testing::TempDir() + std::to_string(getpid()) + "-" + name;
}

}  // namespace bareglass::support
