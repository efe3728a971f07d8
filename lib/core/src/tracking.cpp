// How noise and baseline follow. Every row has its turn every kRowTurns frames, so these loops are
// not worth unrolling.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/conditioning.hpp"

namespace bareglass {

namespace {

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

/// The lesser of v and 4095, for v >= 0.
inline std::int32_t limit_jump(std::int32_t v) {
#ifdef __ARM_FEATURE_SAT
  return static_cast<std::int32_t>(__builtin_arm_usat(v, 12));
#else
  return v < 4095 ? v : 4095;
#endif
}

constexpr BaselineQ8 kLargestBaseline = 65535u << 8;

BaselineQ8 moved(BaselineQ8 baseline, std::int32_t step) {
  const std::int32_t z = static_cast<std::int32_t>(baseline) - step;
  return static_cast<BaselineQ8>(clamp_i32(z, 0, static_cast<std::int32_t>(kLargestBaseline)));
}

/// One node's tracking; the sign and the need of a slew limit are settled before the loop.
template <bool kRise, bool kSlewed>
struct Follower {
  std::int32_t lambda_q16, slew_q8, quiet;

  std::int32_t step(std::int32_t difference) const {
    // |difference| < 2^15 and lambda <= 2^16: the product fits 31 bits.
    std::int32_t by = (difference * lambda_q16 + 128) >> 8;
    if (kSlewed) by = clamp_i32(by, -slew_q8, slew_q8);
    return is_within(difference, quiet) ? by : 0;
  }
  BaselineQ8 operator()(BaselineQ8 baseline, std::int32_t difference) const {
    return moved(baseline, kRise ? -step(difference) : step(difference));
  }
};

/// Calls `each` with the follower that `rate` needs.
template <typename Each>
void with_follower(const TrackRate& rate, Each each) {
  // Quiet differences often cannot reach the slew limit; then it costs nothing.
  const bool slewed = (rate.quiet * rate.lambda_q16 + 255) >> 8 > rate.slew_q8;
  const std::int32_t lambda = rate.lambda_q16;
  if (rate.counts_rise && slewed)
    each(Follower<true, true>{lambda, rate.slew_q8, rate.quiet});
  else if (rate.counts_rise)
    each(Follower<true, false>{lambda, rate.slew_q8, rate.quiet});
  else if (slewed)
    each(Follower<false, true>{lambda, rate.slew_q8, rate.quiet});
  else
    each(Follower<false, false>{lambda, rate.slew_q8, rate.quiet});
}

/// Whether a column carries a label in a row or in the rows beside it.
class LabelledColumns {
 public:
  LabelledColumns(View<const std::uint8_t> label, View<const std::uint8_t> row_busy, Shape shape,
                  int row) {
    const int last = row + 1 < shape.rows ? row + 1 : row;
    for (int r = row > 0 ? row - 1 : row; r <= last; ++r)
      if (row_busy[static_cast<std::size_t>(r)]) row_[rows_++] = label.data + r * shape.cols;
  }
  bool any(int col) const {
    int seen = 0;
    for (int k = 0; k < rows_; ++k) seen |= row_[k][col];
    return seen != 0;
  }

 private:
  const std::uint8_t* row_[3] = {};
  int rows_ = 0;
};

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

void track_row(View<BaselineQ8> baseline_q8, View<const std::int16_t> difference,
               const TrackRate& rate) {
  BaselineQ8* base = baseline_q8.data;
  const std::int16_t* d = difference.data;
  const std::size_t cols = difference.size;
  with_follower(rate, [=](auto follow) {
    for (std::size_t j = 0; j < cols; ++j) base[j] = follow(base[j], d[j]);
  });
}

void track_row_around_regions(View<BaselineQ8> baseline_q8, View<const std::int16_t> difference,
                              View<const std::uint8_t> label, View<const std::uint8_t> row_busy,
                              Shape shape, int row, const TrackRate& rate) {
  const LabelledColumns labelled(label, row_busy, shape, row);
  BaselineQ8* base = baseline_q8.data;
  const std::int16_t* d = difference.data;
  // Few rows are near a touch: one loop for both signs, with the slew limit always in.
  const Follower<false, true> follow{rate.lambda_q16, rate.slew_q8, rate.quiet};
  bool before = false;
  bool here = labelled.any(0);
  for (int col = 0; col < shape.cols; ++col) {
    const bool after = col + 1 < shape.cols && labelled.any(col + 1);
    if (!before && !here && !after) {
      const std::int32_t step = follow.step(d[col]);
      base[col] = moved(base[col], rate.counts_rise ? -step : step);
    }
    before = here;
    here = after;
  }
}

}  // namespace bareglass
