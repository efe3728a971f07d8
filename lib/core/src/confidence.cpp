#include "bareglass/core/arith.hpp"
#include "bareglass/core/lines.hpp"

namespace bareglass {

std::uint16_t confidence_of(std::int32_t measured, std::int32_t limit, std::int32_t sigma,
                            std::int32_t against_permille) {
  const std::int32_t size = abs_i32(measured);
  const std::int32_t floor = abs_i32(limit) < 1 ? 1 : abs_i32(limit);
  const std::int32_t margin = clamp_i32(size * 100 / floor - 50, 0, 10000);  // hundredths
  const std::int32_t clear = sigma <= 0 ? 10000 : clamp_i32(size * 100 / sigma, 0, 10000);
  const std::int32_t by_limit = 1000 * margin / (margin + 50);
  const std::int32_t by_noise = 1000 * clear / (clear + 200);
  const std::int32_t both = by_limit * by_noise / 1000;
  return static_cast<std::uint16_t>(both * clamp_i32(against_permille, 0, 1000) / 1000);
}

}  // namespace bareglass
