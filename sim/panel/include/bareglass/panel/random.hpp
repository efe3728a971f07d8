#pragma once
// Random numbers that are the same bits on every machine, which the standard library's
// distributions do not promise.

#include <array>
#include <cstdint>

namespace bareglass::panel {

/// xoshiro256++ seeded by splitmix64 (Blackman & Vigna, Scrambled Linear Pseudorandom Number
/// Generators, ACM TOMS 2021). Every transform uses only operations that IEEE 754 rounds exactly.
class Random {
 public:
  /// `stream` keeps purposes apart: the noise does not change because a fault draws too.
  explicit Random(std::uint64_t seed, std::uint64_t stream = 0);

  std::uint64_t bits();
  /// [0, 1), 53 bits.
  double uniform() { return static_cast<double>(bits() >> 11) * 0x1p-53; }
  /// Mean 0, standard deviation 1: polar method (Marsaglia & Bray 1964).
  double normal();
  /// Mean 1.
  double exponential();

 private:
  std::array<std::uint64_t, 4> state_{};
  double spare_ = 0.0;
  bool has_spare_ = false;
};

/// Natural logarithm by exact operations alone; error below 1e-15 relative. x > 0, finite.
double portable_log(double x);

}  // namespace bareglass::panel
