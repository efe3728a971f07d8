#pragma once
// Comparison with an independent field solution of the reference panel (sparse finite volumes,
// symmetric, about 1 % against closed forms), whose printed numbers are typed into these tests.

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <string>

namespace bareglass::field::testing {

/// Agreement asked for: 3 % above 10 fF, 1 fF below.
inline double allowed(double reference) {
  return std::abs(reference) > 10.0 ? 0.03 * std::abs(reference) : 1.0;
}

/// Prints one line of the table and checks the full solution against the reference.
inline void agree(const std::string& what, double reference, double full, double limit,
                  double fast = std::nan("")) {
  std::printf("%-44s ref %9.3f  full %9.3f  error %7.3f (%5.1f %%)", what.c_str(), reference, full,
              full - reference, 100.0 * (full - reference) / std::abs(reference));
  if (!std::isnan(fast)) std::printf("  fast %9.3f", fast);
  std::printf("\n");
  EXPECT_NEAR(full, reference, limit) << what;
}

inline void agree(const std::string& what, double reference, double full) {
  agree(what, reference, full, allowed(reference));
}

}  // namespace bareglass::field::testing
