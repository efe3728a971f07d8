#pragma once
// Fixed-point helpers. A name ending in _q8 means a value times 2^8, and so on; results round to
// nearest unless said otherwise.

#include <cstdint>

#include "bareglass/core/types.hpp"

namespace bareglass {

constexpr std::int32_t abs_i32(std::int32_t v) { return v < 0 ? -v : v; }

constexpr std::int32_t clamp_i32(std::int32_t v, std::int32_t low, std::int32_t high) {
  return v < low ? low : (v > high ? high : v);
}

/// Saturates to ±32767, so that a negated result still fits.
constexpr std::int16_t saturate_i16(std::int32_t v) {
  return static_cast<std::int16_t>(clamp_i32(v, -32767, 32767));
}

/// Thousandths of a count value: 300 permille of 3500 counts is 1050 counts.
/// counts 0..65535, permille 0..32767; the product and
/// the half that rounds it fit 31 bits.
constexpr std::int32_t permille_of(std::int32_t counts, std::int32_t permille) {
  return (counts * permille + 500) / 1000;
}

/// One step of an exponentially weighted moving average, z += lambda * (x - z).
/// `lambda_q16` 0..65536. State and input share one Q format, |x - z| < 2^31.
/// The 64-bit product keeps every bit of the step; the step rounds to nearest.
constexpr std::int32_t ewma_step(std::int32_t state, std::int32_t input, std::int32_t lambda_q16) {
  const std::int64_t step = static_cast<std::int64_t>(input - state) * lambda_q16;
  return state + static_cast<std::int32_t>((step + 32768) >> 16);
}

/// Base-2 logarithm of value/256 in Q8 for value 1..2^24, by bit position and a quadratic for the
/// mantissa; the error stays below 3/256 (checked against std::log2 over the whole range).
std::int32_t log2_q8(std::uint32_t value_q8);

/// Median of `values` (reordered in place); for an even count the lower of the two middle values.
/// Selection by partition without recursion. Precondition: not empty.
std::int16_t median_in_place(View<std::int16_t> values);
/// The same for the value that `wanted` others (0..size - 1) come before.
std::int16_t nth_in_place(View<std::int16_t> values, int wanted);

/// Control-chart constant d2, Q10: the mean range of n normal samples in units of their standard
/// deviation, n 2..25 (Montgomery, Introduction to Statistical Quality Control, appendix table of
/// factors; common to all such tables). Outside that range the nearest end is returned.
std::int32_t d2_q10(int n);

/// 1 / d2(2) = 1 / 1.128 in Q16: turns a mean absolute successive difference into a standard
/// deviation (same table).
constexpr std::int32_t kInverseD2Q16 = 58099;

/// n / d, rounded down, bit by bit; d 1..2^31. The core divides 64 bits nowhere else: it is rare,
/// and the compiler's own routine is 0.8 KiB of a microcontroller's flash.
std::uint64_t divide_u64(std::uint64_t n, std::uint32_t d);

/// part / whole in permille, rounded towards zero, within +-2000; 0 if whole is 0. |part|, whole
/// 0..2^62. Large values lose their low bits first: the error stays below 1 permille.
std::int32_t share_permille(std::int64_t part, std::int64_t whole);

/// Lambda (Q16) of an average with time constant `time_us` fed every `period_us`: period / time,
/// at most one. time_us 0..2^31; 0 means "no averaging" and gives 0: the state then never moves.
std::int32_t lambda_q16_of(std::uint32_t period_us, std::uint32_t time_us);

}  // namespace bareglass
