// How much of the glass stands above a level around a peak, and whether a finger can do that.
#include "bareglass/core/arith.hpp"
#include "contact_field.hpp"

namespace bareglass {

namespace {

std::int32_t distance_sq(const Peak& peak, int row, int col) {
  return (row - peak.row) * (row - peak.row) + (col - peak.col) * (col - peak.col);
}

/// Grows an area row by row from its peak. Finds all of it unless it turns back on itself.
class Growth {
 public:
  Growth(const Field& field, const PeakList& peaks, int at, PeakSet rivals, const Box& box,
         std::int32_t level)
      : field_(field),
        peaks_(peaks),
        peak_(peaks.peak[at]),
        rivals_(rivals),
        box_(box),
        level_(level) {}

  PeakArea grown() {
    int first = peak_.col;
    int last = peak_.col;
    take_row(peak_.row, first, last);
    for (int step = -1; step <= 1; step += 2) {
      int from = first;
      int to = last;
      for (int row = peak_.row + step; row >= box_.row0 && row <= box_.row1; row += step)
        if (!take_row(row, --from, ++to)) break;
    }
    return area_;
  }

 private:
  bool belongs(int row, int col) const {
    return field_.at(row, col) >= level_ && (rivals_ == 0 || is_nearest(row, col));
  }
  bool is_nearest(int row, int col) const {
    const std::int32_t mine = distance_sq(peak_, row, col);
    for (int k = 0; k < peaks_.count; ++k)
      if ((rivals_ >> k & 1) != 0 && distance_sq(peaks_.peak[k], row, col) <= mine) return false;
    return true;
  }
  // Takes the nodes of a row that hang together with columns first..last, which may lie outside,
  // and leaves the outermost of them there. False if there are none.
  bool take_row(int row, int& first, int& last) {
    first = first < box_.col0 ? box_.col0 : first;
    last = last > box_.col1 ? box_.col1 : last;
    while (first <= last && !belongs(row, first)) ++first;
    if (first > last) return false;
    while (!belongs(row, last)) --last;
    while (first > box_.col0 && belongs(row, first - 1)) --first;
    while (last < box_.col1 && belongs(row, last + 1)) ++last;
    for (int col = first; col <= last; ++col)
      if (belongs(row, col)) take(row, col);
    const int c0 = first - peak_.col;
    const int c1 = last - peak_.col;
    area_.left = c0 < area_.left ? c0 : area_.left;
    area_.right = c1 > area_.right ? c1 : area_.right;
    return true;
  }
  void take(int row, int col) {
    const std::int32_t d = field_.at(row, col);
    const int r = row - peak_.row;
    const int c = col - peak_.col;
    ++area_.nodes;
    if (2 * d >= peak_.strength) ++area_.half;
    if (4 * d >= 3 * peak_.strength) ++area_.flat;
    area_.sum_row += r;
    area_.sum_col += c;
    area_.sum_row_row += r * r;
    area_.sum_col_col += c * c;
    area_.sum_row_col += r * c;
    area_.top = r < area_.top ? r : area_.top;
    area_.bottom = r > area_.bottom ? r : area_.bottom;
    if (row == 0) ++area_.on_top;
    if (row == field_.shape.rows - 1) ++area_.on_bottom;
    if (col == 0) ++area_.on_left;
    if (col == field_.shape.cols - 1) ++area_.on_right;
    const std::int32_t weight = d - level_;
    area_.weight += weight;
    area_.weight_row += weight * r;
    area_.weight_col += weight * c;
  }

  const Field& field_;
  const PeakList& peaks_;
  const Peak& peak_;
  PeakSet rivals_;
  const Box& box_;
  std::int32_t level_;
  PeakArea area_;
};

// Sum of products of two coordinates over n nodes, less that of their means: nodes squared, Q8.
std::int32_t moment_q8(std::int32_t products, std::int32_t sum_a, std::int32_t sum_b,
                       std::int32_t nodes) {
  const auto n = static_cast<std::uint32_t>(nodes);
  const std::uint64_t size = static_cast<std::uint64_t>(abs_i32(products)) << 8;
  const auto mean = static_cast<std::int32_t>(divide_u64(size, n));
  return (products < 0 ? -mean : mean) - (sum_a * 16 / nodes) * (sum_b * 16 / nodes);
}

// The border hides a part of the area if the area is about as wide there as anywhere.
bool is_cut(std::int32_t on_border, int extent) {
  return on_border > 0 && 8 * on_border >= 7 * extent;
}

}  // namespace

PeakArea area_of(const Field& field, const PeakList& peaks, int at, PeakSet rivals, const Box& box,
                 std::int32_t level) {
  return Growth(field, peaks, at, rivals, box, level).grown();
}

bool is_palm(const PeakArea& area, const Settings& settings, const Limits& limits) {
  std::int32_t nodes = area.nodes;
  std::int32_t rows = moment_q8(area.sum_row_row, area.sum_row, area.sum_row, nodes);
  std::int32_t cols = moment_q8(area.sum_col_col, area.sum_col, area.sum_col, nodes);
  const std::int32_t both = moment_q8(area.sum_row_col, area.sum_row, area.sum_col, nodes);
  // What a border hides is not known. A quarter more area and half as much again of spread tell a
  // palm from half of it on, and make none of the largest thumb.
  const int width = area.right - area.left + 1;
  const int height = area.bottom - area.top + 1;
  if (is_cut(area.on_top, width) || is_cut(area.on_bottom, width)) {
    nodes += nodes / 4;
    rows += rows / 2;
  }
  if (is_cut(area.on_left, height) || is_cut(area.on_right, height)) {
    nodes += nodes / 4;
    cols += cols / 2;
  }
  if (nodes < limits.palm_nodes) return false;
  // Fingers side by side make a large area, but a narrow one. The narrow way of an area is its
  // least principal moment; of a disc of diameter D both are D²/16. Asked for is what a disc of
  // palm_mm2 has, times (3/4)²: A · 9/16 / (4 pi) = 0.0448 A, in nodes of this panel, Q8.
  const std::int32_t disc_q8 = limits.palm_nodes * 23 / 2;
  const std::int32_t spare_rows = rows - disc_q8 * settings.pitch_col_um / settings.pitch_row_um;
  const std::int32_t spare_cols = cols - disc_q8 * settings.pitch_row_um / settings.pitch_col_um;
  return spare_rows > 0 && spare_cols > 0 &&
         static_cast<std::int64_t>(spare_rows) * spare_cols >=
             static_cast<std::int64_t>(both) * both;
}

}  // namespace bareglass
