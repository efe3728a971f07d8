// How the noise estimate follows. Every row has its turn every kRowTurns frames, so these loops are
// not worth unrolling.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/conditioning.hpp"
#include "node_limits.hpp"

namespace bareglass {

namespace {

/// The lesser of v and 4095, for v >= 0.
inline std::int32_t limit_jump(std::int32_t v) {
#ifdef __ARM_FEATURE_SAT
  return static_cast<std::int32_t>(__builtin_arm_usat(v, 12));
#else
  return v < 4095 ? v : 4095;
#endif
}

}  // namespace

RowExtremes clean_row(View<std::int16_t> difference, View<std::uint16_t> previous,
                      View<std::uint16_t> roughness_q4, std::int32_t fluctuation,
                      std::int32_t quiet) {
  std::int16_t* d = difference.data;
  std::uint16_t* before = previous.data;
  std::uint16_t* rough = roughness_q4.data;
  std::int32_t highest = -32767;
  std::int32_t lowest = 32767;
  for (std::size_t j = 0; j < difference.size; ++j) {
    const std::int32_t v = limit_difference(d[j] - fluctuation);
    const std::int32_t stored = v + kPreviousOffset;
    // Limited so that a jump fits Q4 in 16 bits; quiet nodes move far less.
    const std::int32_t jump_q4 = limit_jump(abs_i32(stored - before[j])) * 16;
    const std::int32_t old = rough[j];
    const std::int32_t next = old + ((jump_q4 - old + 16) >> 5);
    rough[j] = static_cast<std::uint16_t>(is_within(v, quiet) ? next : old);
    d[j] = static_cast<std::int16_t>(v);
    before[j] = static_cast<std::uint16_t>(stored);
    highest = v > highest ? v : highest;
    lowest = v < lowest ? v : lowest;
  }
  return {static_cast<std::int16_t>(highest), static_cast<std::int16_t>(lowest)};
}

RowExtremes keep_row(View<std::int16_t> difference, View<std::uint16_t> previous,
                     std::int32_t fluctuation) {
  const RowExtremes extremes = level_row(difference, fluctuation);
  for (std::size_t j = 0; j < difference.size; ++j)
    previous[j] = static_cast<std::uint16_t>(difference[j] + kPreviousOffset);
  return extremes;
}

}  // namespace bareglass
