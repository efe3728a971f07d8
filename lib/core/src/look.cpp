#include "bareglass/core/look.hpp"

#include "bareglass/core/arith.hpp"
#include "bareglass/core/lines.hpp"

namespace bareglass {

namespace {

// Means are 0..65535; levels are kept around zero so that they fit a signed 16-bit word.
constexpr std::int32_t kLevelOffset = 32768;

std::int32_t counts_of(BaselineQ8 mean_q8) {
  return static_cast<std::int32_t>((mean_q8 + 128) >> 8);
}

// Median of the neighbourhood of `line`, two lines each way, fewer near a border but always
// symmetric, so that a slope across the panel passes unchanged.
std::int16_t neighbourhood_median(View<const std::int16_t> level, int line) {
  const int last = static_cast<int>(level.size) - 1;
  const int reach = clamp_i32(line < last - line ? line : last - line, 0, 2);
  std::int16_t window[5] = {};
  const int n = 2 * reach + 1;
  for (int k = 0; k < n; ++k) window[k] = level[static_cast<std::size_t>(line - reach + k)];
  return median_in_place({window, static_cast<std::size_t>(n)});
}

// One sweep of the fit: the level of every row (or column) is the median of what the columns' (or
// rows') levels leave of it. A border line that is wet over more than half of it has no line beside
// it to tell: its upper quartile is bare.
void fit(SmoothScratch scratch, View<const BaselineQ8> mean_q8, Shape shape, bool of_rows,
         bool counts_rise, std::int32_t line_limit) {
  const int count = of_rows ? shape.rows : shape.cols;
  const int length = of_rows ? shape.cols : shape.rows;
  const View<std::int16_t> own = of_rows ? scratch.row_level : scratch.col_level;
  const View<std::int16_t> crossing = of_rows ? scratch.col_level : scratch.row_level;
  for (int line = 0; line < count; ++line) {
    int at = of_rows ? line * length : line;
    for (int k = 0; k < length; ++k, at += of_rows ? 1 : count) {
      const std::int32_t level = crossing[static_cast<std::size_t>(k)] + kLevelOffset;
      scratch.sort[static_cast<std::size_t>(k)] =
          saturate_i16(counts_of(mean_q8[static_cast<std::size_t>(at)]) - level);
    }
    const View<std::int16_t> left{scratch.sort.data, static_cast<std::size_t>(length)};
    std::int16_t& level = own[static_cast<std::size_t>(line)];
    level = median_in_place(left);
    if (line_limit <= 0 || (line != 0 && line != count - 1)) continue;
    const std::int16_t bare =
        nth_in_place(left, counts_rise ? length / 4 : length - 1 - length / 4);
    if (2 * abs_i32(bare - level) > line_limit) level = bare;
  }
}

}  // namespace

void LookSampler::add(Arrays arrays, View<const std::uint16_t> raw) {
  const std::size_t n = arrays.sum.size;
  const bool first = taken_ == 0;
  for (std::size_t i = 0; i < n; ++i) {
    const std::uint16_t v = raw[i];
    arrays.sum[i] = first ? v : arrays.sum[i] + v;
    arrays.least[i] = first || v < arrays.least[i] ? v : arrays.least[i];
    arrays.greatest[i] = first || v > arrays.greatest[i] ? v : arrays.greatest[i];
  }
  ++taken_;
}

LookSampler::Result LookSampler::finish(Arrays arrays) {
  Result result;
  const auto kept = static_cast<std::uint32_t>(taken_ - 2);
  std::uint32_t range_sum = 0;  // at most 2^14 nodes of 16 bits
  const std::size_t n = arrays.sum.size;
  for (std::size_t i = 0; i < n; ++i) {
    const std::uint32_t trimmed = arrays.sum[i] - arrays.least[i] - arrays.greatest[i];
    // trimmed <= 23 * 65535, so Q8 still fits 32 bits.
    arrays.sum[i] = ((trimmed << 8) + kept / 2) / kept;
    const std::int32_t range = arrays.greatest[i] - arrays.least[i];
    arrays.greatest[i] = static_cast<std::uint16_t>(range);
    range_sum += static_cast<std::uint32_t>(range);
    if (range > result.largest_range) {
      result.largest_range = range;
      result.node = static_cast<int>(i);
    }
  }
  result.typical_range = n == 0 ? 0 : static_cast<std::int32_t>(range_sum / n);
  return result;
}

void depart_from_reference(View<std::int16_t> difference, View<const BaselineQ8> mean_q8,
                           View<const std::uint16_t> reference, bool counts_rise) {
  for (std::size_t i = 0; i < difference.size; ++i) {
    const std::int32_t d = reference[i] - counts_of(mean_q8[i]);
    difference[i] = saturate_i16(counts_rise ? -d : d);
  }
}

NodeMark mark_of(View<const std::uint16_t> reference, Shape shape, std::size_t i, std::uint16_t low,
                 std::uint16_t high) {
  const auto is_bad = [&](std::size_t at) { return reference[at] <= low || reference[at] >= high; };
  if (!is_bad(i)) return NodeMark::good;
  const int row = static_cast<int>(i) / shape.cols;
  const int col = static_cast<int>(i) % shape.cols;
  int bad = 0;
  for (int r = row - 1; r <= row + 1; ++r)
    for (int c = col - 1; c <= col + 1; ++c) {
      if (r < 0 || c < 0 || r >= shape.rows || c >= shape.cols) continue;
      bad += is_bad(static_cast<std::size_t>(r * shape.cols + c)) ? 1 : 0;
    }
  return bad == 1 ? NodeMark::known_bad : NodeMark::unusable;
}

std::int32_t spread_q4(View<const std::int16_t> difference, SmoothScratch scratch, Shape shape) {
  const auto cols = static_cast<std::size_t>(shape.cols);
  const auto rows = static_cast<std::size_t>(shape.rows);
  for (std::size_t r = 0; r < rows; ++r) {
    const std::int16_t* d = difference.data + r * cols;
    for (std::size_t c = 0; c + 1 < cols; ++c)
      scratch.sort[c] = saturate_i16(abs_i32(d[c + 1] - d[c]));
    scratch.row_level[r] = median_in_place({scratch.sort.data, cols - 1});
  }
  // The median of |x - y| of two normal values is 0.954 of their standard deviation.
  return median_in_place({scratch.row_level.data, rows}) * 16 * 1048 / 1000;
}

std::int32_t shared_departure(View<const std::int16_t> difference, SmoothScratch scratch,
                              Shape shape) {
  const auto cols = static_cast<std::size_t>(shape.cols);
  const auto rows = static_cast<std::size_t>(shape.rows);
  for (std::size_t r = 0; r < rows; ++r) {
    for (std::size_t c = 0; c < cols; ++c) scratch.sort[c] = difference[r * cols + c];
    scratch.row_level[r] = median_in_place({scratch.sort.data, cols});
  }
  return median_in_place({scratch.row_level.data, rows});
}

std::int32_t smooth_departure(View<std::int16_t> smooth_q4, View<const std::int16_t> difference,
                              SmoothScratch scratch, Shape shape) {
  const std::int32_t level = shared_departure(difference, scratch, shape);
  for (int row = 0; row < shape.rows; ++row)
    for (int col = 0; col < shape.cols; ++col) {
      std::int32_t sum = 0;
      std::int32_t nodes = 0;
      for (int r = row - 1; r <= row + 1; ++r)
        for (int c = col - 1; c <= col + 1; ++c) {
          if (r < 0 || c < 0 || r >= shape.rows || c >= shape.cols) continue;
          sum += difference[static_cast<std::size_t>(r * shape.cols + c)];
          ++nodes;
        }
      smooth_q4[static_cast<std::size_t>(row * shape.cols + col)] =
          saturate_i16((sum - level * nodes) * 16 / nodes);
    }
  // 1.48 times the median deviation estimates a normal deviation.
  for (std::int16_t& v : scratch.row_level) v = saturate_i16(abs_i32(v - level) * 24);
  return median_in_place(scratch.row_level);
}

void depart_from_smoothness(View<std::int16_t> difference, SmoothScratch scratch,
                            View<const BaselineQ8> mean_q8, Shape shape, bool counts_rise,
                            std::int32_t line_limit) {
  const View<std::int16_t> rows{scratch.row_level.data, static_cast<std::size_t>(shape.rows)};
  const View<std::int16_t> cols{scratch.col_level.data, static_cast<std::size_t>(shape.cols)};
  for (std::int16_t& level : cols) level = 0;
  // The first sweep's row medians still feel the columns' own differences: an object shifts their
  // rank, and with it the level. The second sweep takes them over what the columns leave.
  for (int sweep = 0; sweep < 4; ++sweep) {
    const bool of_rows = sweep % 2 == 0;
    fit(scratch, mean_q8, shape, of_rows, counts_rise, line_limit);
    if (line_limit > 0) mend_levels(of_rows ? rows : cols, scratch.sort, line_limit, counts_rise);
  }
  // The columns' neighbourhood medians, so that they are found once and not once per node.
  for (int c = 0; c < shape.cols; ++c)
    scratch.sort[static_cast<std::size_t>(c)] = neighbourhood_median(read_only(cols), c);
  for (int r = 0; r < shape.rows; ++r) {
    const std::int32_t row_smooth = neighbourhood_median(read_only(rows), r) + kLevelOffset;
    for (int c = 0; c < shape.cols; ++c) {
      const auto at = static_cast<std::size_t>(r * shape.cols + c);
      const std::int32_t fit = row_smooth + scratch.sort[static_cast<std::size_t>(c)];
      const std::int32_t d = fit - counts_of(mean_q8[at]);
      difference[at] = saturate_i16(counts_rise ? -d : d);
    }
  }
}

}  // namespace bareglass
