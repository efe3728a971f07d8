#include "bareglass/core/arith.hpp"

namespace bareglass {

std::int32_t log2_q8(std::uint32_t value_q8) {
  std::int32_t exponent = -8;  // value_q8 = 1 stands for 1/256
  std::uint32_t top = value_q8;
  while (top > 1) {
    top >>= 1;
    ++exponent;
  }
  // Mantissa m in [0, 1) as Q16; log2(1 + m) ~ m + 0.3437 m (1 - m), the quadratic with the
  // smallest error that meets both ends.
  const int shift = exponent + 8;
  const std::uint64_t scaled = static_cast<std::uint64_t>(value_q8) << 16;
  const std::int64_t m = static_cast<std::int64_t>(scaled >> shift) - 65536;
  const std::int64_t bend = ((m * (65536 - m)) >> 16) * 22525 >> 16;
  return exponent * 256 + static_cast<std::int32_t>((m + bend + 128) >> 8);
}

namespace {

void swap(std::int16_t& a, std::int16_t& b) {
  const std::int16_t t = a;
  a = b;
  b = t;
}

// Hoare's partition of [low, high] around its middle element; returns the last index of the lower
// part.
int partition(View<std::int16_t> v, int low, int high) {
  const std::int16_t pivot = v[static_cast<std::size_t>(low + (high - low) / 2)];
  int i = low - 1;
  int j = high + 1;
  for (;;) {
    do ++i;
    while (v[static_cast<std::size_t>(i)] < pivot);
    do --j;
    while (v[static_cast<std::size_t>(j)] > pivot);
    if (i >= j) return j;
    swap(v[static_cast<std::size_t>(i)], v[static_cast<std::size_t>(j)]);
  }
}

}  // namespace

std::int16_t median_in_place(View<std::int16_t> values) {
  return nth_in_place(values, (static_cast<int>(values.size) - 1) / 2);
}

std::int16_t nth_in_place(View<std::int16_t> values, int wanted) {
  int low = 0;
  int high = static_cast<int>(values.size) - 1;
  while (low < high) {
    const int split = partition(values, low, high);
    if (wanted <= split)
      high = split;
    else
      low = split + 1;
  }
  return values[static_cast<std::size_t>(wanted)];
}

std::int32_t d2_q10(int n) {
  // 1.128 1.693 2.059 2.326 2.534 2.704 2.847 2.970 3.078 3.173 3.258 3.336 3.407 3.472 3.532
  // 3.588 3.640 3.689 3.735 3.778 3.819 3.858 3.895 3.931 for n = 2..25.
  static constexpr std::int32_t kTable[] = {1155, 1734, 2108, 2382, 2595, 2769, 2915, 3041,
                                            3152, 3249, 3336, 3416, 3489, 3555, 3617, 3674,
                                            3727, 3778, 3825, 3869, 3911, 3951, 3988, 4025};
  return kTable[clamp_i32(n, 2, 25) - 2];
}

std::uint64_t divide_u64(std::uint64_t n, std::uint32_t d) {
  std::uint32_t rest = 0;
  for (int bit = 0; bit < 64; ++bit) {
    rest = rest << 1 | static_cast<std::uint32_t>(n >> 63);
    n <<= 1;  // the quotient moves in where the dividend moves out
    if (rest < d) continue;
    rest -= d;
    n |= 1;
  }
  return n;
}

std::int32_t share_permille(std::int64_t part, std::int64_t whole) {
  constexpr std::int64_t kMost = 1 << 20;  // 2000 times this fits 31 bits
  while (whole > kMost) {
    whole >>= 1;
    part >>= 1;
  }
  const auto of = static_cast<std::int32_t>(whole);
  if (of == 0) return 0;
  if (part > 2 * whole) return 2000;
  if (part < -2 * whole) return -2000;
  return static_cast<std::int32_t>(part) * 1000 / of;
}

std::int32_t lambda_q16_of(std::uint32_t period_us, std::uint32_t time_us) {
  if (time_us == 0) return 0;
  if (period_us >= time_us) return 65536;
  const std::uint64_t lambda =
      divide_u64(static_cast<std::uint64_t>(period_us) * 65536 + time_us / 2, time_us);
  return lambda == 0 ? 1 : static_cast<std::int32_t>(lambda);
}

}  // namespace bareglass
