#pragma once
// How many random cases a test tries. All of them take minutes: tests/run.sh --all runs those.

#include <cstdlib>

namespace bareglass::support {

/// `usual`, or `all` with BAREGLASS_ALL in the environment.
inline int how_many(int usual, int all) {
  return std::getenv("BAREGLASS_ALL") == nullptr ? usual : all;
}

}  // namespace bareglass::support
