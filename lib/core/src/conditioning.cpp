#include "bareglass/core/conditioning.hpp"

#include "bareglass/core/arith.hpp"

namespace bareglass {

namespace {

// All ones to negate, zero to keep: (v ^ m) - m. Keeps the per-node loops free of branches.
constexpr std::int32_t negate_mask(bool negate) { return negate ? -1 : 0; }

std::int32_t tracking_step(std::int32_t difference, std::int32_t sign_mask, const TrackRate& rate) {
  // |difference| <= quiet <= 0.3 * 20000 and lambda <= 2^16: the product fits 31 bits.
  const std::int32_t step = (difference * rate.lambda_q16 + 128) >> 8;
  const std::int32_t bounded = clamp_i32(step, -rate.slew_q8, rate.slew_q8);
  const std::int32_t quiet = abs_i32(difference) <= rate.quiet ? bounded : 0;
  return (quiet ^ sign_mask) - sign_mask;
}

constexpr BaselineQ8 kLargestBaseline = 65535u << 8;

BaselineQ8 moved(BaselineQ8 baseline, std::int32_t step) {
  const std::int32_t z = static_cast<std::int32_t>(baseline) - step;
  return static_cast<BaselineQ8>(clamp_i32(z, 0, static_cast<std::int32_t>(kLargestBaseline)));
}

// A label at (row, col) or among its 8 neighbours.
bool near_label(View<const std::uint8_t> label, View<const std::uint8_t> row_busy, Shape shape,
                int row, int col) {
  const int last_row = row + 1 < shape.rows ? row + 1 : row;
  const int first_col = col > 0 ? col - 1 : col;
  const int last_col = col + 1 < shape.cols ? col + 1 : col;
  for (int r = row > 0 ? row - 1 : row; r <= last_row; ++r) {
    if (!row_busy[static_cast<std::size_t>(r)]) continue;
    const std::uint8_t* at = label.data + r * shape.cols;
    for (int c = first_col; c <= last_col; ++c)
      if (at[c] != 0) return true;
  }
  return false;
}

}  // namespace

void subtract_row(View<std::int16_t> difference, View<const BaselineQ8> baseline_q8,
                  View<const std::uint16_t> raw, bool counts_rise) {
  const std::int32_t m = negate_mask(counts_rise);
  std::int16_t* out = difference.data;
  const BaselineQ8* base = baseline_q8.data;
  const std::uint16_t* in = raw.data;
  for (std::size_t j = 0; j < difference.size; ++j) {
    const std::int32_t d =
        static_cast<std::int32_t>((base[j] + 128) >> 8) - static_cast<std::int32_t>(in[j]);
    out[j] = saturate_i16((d ^ m) - m);
  }
}

RowOffset row_offset(View<const std::int16_t> difference, std::int32_t quiet) {
  std::int32_t sum = 0;
  std::int32_t votes = 0;
  const std::int16_t* d = difference.data;
  for (std::size_t j = 0; j < difference.size; ++j) {
    const std::int32_t v = d[j];
    const std::int32_t in = abs_i32(v) <= quiet ? -1 : 0;
    sum += v & in;
    votes -= in;
  }
  if (2 * votes < static_cast<std::int32_t>(difference.size)) return {};
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

RowExtremes clean_row(View<std::int16_t> difference, View<std::uint16_t> previous,
                      View<std::uint16_t> roughness_q4, std::int32_t fluctuation,
                      std::int32_t quiet) {
  std::int16_t* d = difference.data;
  std::uint16_t* before = previous.data;
  std::uint16_t* rough = roughness_q4.data;
  std::int32_t highest = -32767;
  std::int32_t lowest = 32767;
  for (std::size_t j = 0; j < difference.size; ++j) {
    const std::int32_t v = clamp_i32(d[j] - fluctuation, -32767, 32767);
    const std::int32_t last = static_cast<std::int32_t>(before[j]) - kPreviousOffset;
    // Clamped so that a jump fits Q4 in 16 bits; quiet nodes move far less.
    const std::int32_t jump_q4 = clamp_i32(abs_i32(v - last), 0, 4095) * 16;
    const std::int32_t old = rough[j];
    const std::int32_t next = old + ((jump_q4 - old + 16) >> 5);
    rough[j] = static_cast<std::uint16_t>(abs_i32(v) <= quiet ? next : old);
    d[j] = static_cast<std::int16_t>(v);
    before[j] = static_cast<std::uint16_t>(v + kPreviousOffset);
    highest = v > highest ? v : highest;
    lowest = v < lowest ? v : lowest;
  }
  return {static_cast<std::int16_t>(highest), static_cast<std::int16_t>(lowest)};
}

std::int32_t sigma_q4(std::uint16_t roughness_q4) {
  return static_cast<std::int32_t>(
      (static_cast<std::int64_t>(roughness_q4) * kInverseD2Q16 + 32768) >> 16);
}

void track_row(View<BaselineQ8> baseline_q8, View<const std::int16_t> difference,
               const TrackRate& rate) {
  const std::int32_t m = negate_mask(rate.counts_rise);
  BaselineQ8* base = baseline_q8.data;
  const std::int16_t* d = difference.data;
  for (std::size_t j = 0; j < difference.size; ++j)
    base[j] = moved(base[j], tracking_step(d[j], m, rate));
}

void track_row_around_regions(View<BaselineQ8> baseline_q8, View<const std::int16_t> difference,
                              View<const std::uint8_t> label, View<const std::uint8_t> row_busy,
                              Shape shape, int row, const TrackRate& rate) {
  const std::int32_t m = negate_mask(rate.counts_rise);
  for (int col = 0; col < shape.cols; ++col) {
    if (near_label(label, row_busy, shape, row, col)) continue;
    const auto j = static_cast<std::size_t>(col);
    baseline_q8[j] = moved(baseline_q8[j], tracking_step(difference[j], m, rate));
  }
}

}  // namespace bareglass
