#pragma once
// Limits on one node's value, without branches, so that compilers vectorise the loops on a host.
// Where a Cortex-M has one instruction for a limit, the compiler is told: it does not find it by
// itself.

#include "bareglass/core/arith.hpp"

namespace bareglass {

/// |v| <= limit by one comparison; limit 0..2^30, |v| < 2^30.
constexpr bool is_within(std::int32_t v, std::int32_t limit) {
  return static_cast<std::uint32_t>(v + limit) <= static_cast<std::uint32_t>(2 * limit);
}

/// Limits v to ±32767, so that a negated result still fits 16 bits.
inline std::int32_t limit_difference(std::int32_t v) {
#ifdef __ARM_FEATURE_SAT
  v = static_cast<std::int32_t>(__builtin_arm_ssat(v, 16));
  return v < -32767 ? -32767 : v;
#else
  return clamp_i32(v, -32767, 32767);
#endif
}

}  // namespace bareglass
