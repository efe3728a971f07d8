#include "bareglass/panel/random.hpp"

#include <cmath>

namespace bareglass::panel {

namespace {

std::uint64_t splitmix(std::uint64_t& state) {
  std::uint64_t z = state += 0x9e3779b97f4a7c15u;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return z ^ (z >> 31);
}

std::uint64_t rotate_left(std::uint64_t x, int k) { return (x << k) | (x >> (64 - k)); }

}  // namespace

double portable_log(double x) {
  constexpr double kLn2 = 0.693147180559945309417;
  constexpr double kRootHalf = 0.70710678118654752440;
  int exponent = 0;
  double m = std::frexp(x, &exponent);
  if (m < kRootHalf) {
    m *= 2.0;
    --exponent;
  }
  // ln m = 2 artanh(s); |s| < 0.172, so the next term is below 1e-17.
  const double s = (m - 1.0) / (m + 1.0);
  const double square = s * s;
  double sum = 0.0;
  for (int k = 21; k >= 1; k -= 2) sum = sum * square + 1.0 / k;
  return exponent * kLn2 + 2.0 * s * sum;
}

Random::Random(std::uint64_t seed, std::uint64_t stream) {
  std::uint64_t mixed = seed;
  std::uint64_t state = splitmix(mixed) ^ (stream * 0xd1342543de82ef95u);
  for (std::uint64_t& word : state_) word = splitmix(state);
}

std::uint64_t Random::bits() {
  const std::uint64_t result = rotate_left(state_[0] + state_[3], 23) + state_[0];
  const std::uint64_t t = state_[1] << 17;
  state_[2] ^= state_[0];
  state_[3] ^= state_[1];
  state_[1] ^= state_[2];
  state_[0] ^= state_[3];
  state_[2] ^= t;
  state_[3] = rotate_left(state_[3], 45);
  return result;
}

double Random::normal() {
  if (has_spare_) {
    has_spare_ = false;
    return spare_;
  }
  double u = 0.0;
  double v = 0.0;
  double square = 0.0;
  do {
    u = 2.0 * uniform() - 1.0;
    v = 2.0 * uniform() - 1.0;
    square = u * u + v * v;
  } while (square >= 1.0 || square == 0.0);
  const double scale = std::sqrt(-2.0 * portable_log(square) / square);
  spare_ = v * scale;
  has_spare_ = true;
  return u * scale;
}

double Random::exponential() { return -portable_log(1.0 - uniform()); }

}  // namespace bareglass::panel
