#include "bareglass/field/solution_store.hpp"

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>

namespace bareglass::field {

namespace {

SolutionStore*& present_store() {
  static SolutionStore* store = nullptr;
  return store;
}

// FNV-1a over words. Two of them with different beginnings: 128 bits leave no room for a clash
// among a few hundred problems.
constexpr std::uint64_t kPrime = 0x100000001b3;
constexpr std::uint64_t kBasis = 0xcbf29ce484222325;

std::uint64_t stirred(std::uint64_t hash, std::uint64_t word) {
  for (int shift = 0; shift < 64; shift += 8) hash = (hash ^ (word >> shift & 0xff)) * kPrime;
  return hash;
}

}  // namespace

SolutionKey::SolutionKey(std::string_view kind) : first_(kBasis), second_(stirred(kBasis, 1)) {
  add(kind);
}

void SolutionKey::take(std::uint64_t word) {
  first_ = stirred(first_, word);
  second_ = stirred(second_, word ^ first_ >> 32);
}

SolutionKey& SolutionKey::add(std::int64_t value) {
  take(static_cast<std::uint64_t>(value));
  return *this;
}

SolutionKey& SolutionKey::add(double value) {
  int exponent = 0;
  constexpr double kDigits = 1LL << 33;
  const double mantissa = std::frexp(value, &exponent);
  // An axis' middle may be a rounding error away from zero.
  if (std::abs(value) < 1e-9) return add(0);
  return add(static_cast<std::int64_t>(std::llround(mantissa * kDigits))).add(exponent);
}

SolutionKey& SolutionKey::add(const Axis& axis) {
  add(axis.size());
  for (const double line : axis.at) add(line);
  return *this;
}

SolutionKey& SolutionKey::add(std::string_view text) {
  add(static_cast<std::int64_t>(text.size()));
  for (const char c : text) add(static_cast<int>(c));
  return *this;
}

std::string SolutionKey::text() const {
  std::array<char, 33> digits{};
  std::snprintf(digits.data(), digits.size(), "%016llx%016llx",
                static_cast<unsigned long long>(first_), static_cast<unsigned long long>(second_));
  return digits.data();
}

void keep_solutions_in(SolutionStore* store) { present_store() = store; }

std::vector<double> kept_or_solved(const SolutionKey& key, const SolveFunction& solve) {
  SolutionStore* store = present_store();
  return store == nullptr ? solve() : store->result(key.text(), solve);
}

}  // namespace bareglass::field
