#include "bareglass/core/conditioning.hpp"

#include "bareglass/core/arith.hpp"
#include "node_limits.hpp"

namespace bareglass {

namespace {

template <bool kRise>
void subtract(View<std::int16_t> difference, View<const BaselineQ8> baseline_q8,
              View<const std::uint16_t> raw) {
  std::int16_t* out = difference.data;
  const BaselineQ8* base = baseline_q8.data;
  const std::uint16_t* in = raw.data;
  for (std::size_t j = 0; j < difference.size; ++j) {
    const auto b = static_cast<std::int32_t>((base[j] + 128) >> 8);
    out[j] = static_cast<std::int16_t>(limit_difference(kRise ? in[j] - b : b - in[j]));
  }
}

}  // namespace

std::int32_t outside_range(View<const std::uint16_t> raw, std::uint16_t low, std::uint16_t high) {
  const std::uint32_t first = low + 1u;  // lowest count inside
  const std::uint32_t span = high - first;
  std::int32_t n = 0;
  for (std::size_t i = 0; i < raw.size; ++i) {
    // Below `first` the difference wraps round to a large number: one comparison for both ends.
    n += raw.data[i] - first >= span ? 1 : 0;
  }
  return n;
}

void subtract_row(View<std::int16_t> difference, View<const BaselineQ8> baseline_q8,
                  View<const std::uint16_t> raw, bool counts_rise) {
  if (counts_rise)
    subtract<true>(difference, baseline_q8, raw);
  else
    subtract<false>(difference, baseline_q8, raw);
}

RowOffset row_offset(View<const std::int16_t> difference, std::int32_t quiet) {
  std::int32_t sum = 0;
  std::int32_t votes = 0;
  const std::int16_t* d = difference.data;
  for (std::size_t j = 0; j < difference.size; ++j) {
    const std::int32_t v = d[j];
    const bool in = is_within(v, quiet);
    sum += in ? v : 0;
    votes += in ? 1 : 0;
  }
  if (votes == 0 || 2 * votes < static_cast<std::int32_t>(difference.size)) return {};
  const std::int32_t half = sum < 0 ? -votes / 2 : votes / 2;
  return {(sum + half) / votes, true};
}

std::int32_t common_mode_step(CommonMode& state, RowOffset offset) {
  if (!offset.valid) return 0;
  const std::int32_t counts_q8 = offset.counts * 256;
  const std::int32_t fluctuation = offset.counts - ((state.slow_q8 + 128) >> 8);
  state.slow_q8 = ewma_step(state.slow_q8, counts_q8, 1024);
  return fluctuation;
}

RowExtremes level_row(View<std::int16_t> difference, std::int32_t fluctuation) {
  std::int16_t* d = difference.data;
  std::int32_t highest = -32767;
  std::int32_t lowest = 32767;
  for (std::size_t j = 0; j < difference.size; ++j) {
    const std::int32_t v = limit_difference(d[j] - fluctuation);
    d[j] = static_cast<std::int16_t>(v);
    highest = v > highest ? v : highest;
    lowest = v < lowest ? v : lowest;
  }
  return {static_cast<std::int16_t>(highest), static_cast<std::int16_t>(lowest)};
}

std::int32_t sigma_q4(std::uint16_t roughness_q4) {
  return static_cast<std::int32_t>(
      (static_cast<std::int64_t>(roughness_q4) * kInverseD2Q16 + 32768) >> 16);
}

}  // namespace bareglass
