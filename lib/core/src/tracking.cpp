// How the baseline follows. Every row has its turn every kRowTurns frames, so these loops are built
// for size where the image is.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/conditioning.hpp"
#include "node_limits.hpp"

namespace bareglass {

namespace {

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
