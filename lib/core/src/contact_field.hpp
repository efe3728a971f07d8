#pragma once
// What the stages of contact finding share: the difference by row and column, the valley between
// two peaks, and the area around a peak.

#include <cstdint>

#include "bareglass/core/contacts.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass {

struct Field {
  View<const std::int16_t> difference;
  Shape shape;

  bool inside(int row, int col) const {
    return row >= 0 && row < shape.rows && col >= 0 && col < shape.cols;
  }
  std::int32_t at(int row, int col) const {
    return difference[static_cast<std::size_t>(row * shape.cols + col)];
  }
  /// Positive part, 0 outside.
  std::int32_t weight(int row, int col) const {
    if (!inside(row, col)) return 0;
    const std::int32_t d = at(row, col);
    return d > 0 ? d : 0;
  }
};

/// What it takes to be two contacts.
struct Parting {
  std::int32_t saddle_permille;  ///< of the lower peak
  std::int32_t sigma_q4;         ///< standard deviation of a node, counts Q4

  /// A valley lies between the two: see find_peaks().
  bool parts(const Field& field, const Peak& a, const Peak& b) const;
};

/// Some of a PeakList, by bit.
using PeakSet = std::uint32_t;
static_assert(PeakList::kMaxPeaks <= 32, "a bit for each peak");

/// The nodes around a peak that hang together at or above a level. Rows and columns count from the
/// peak.
struct PeakArea {
  std::int32_t nodes = 0;
  std::int32_t half = 0;  ///< of these, nodes at half of the peak or above
  std::int32_t flat = 0;  ///< of these, nodes at three quarters of the peak or above
  std::int32_t sum_row = 0, sum_col = 0, sum_row_row = 0, sum_col_col = 0, sum_row_col = 0;
  int top = 0, bottom = 0, left = 0, right = 0;
  std::int32_t on_top = 0, on_bottom = 0, on_left = 0, on_right = 0;  ///< nodes on border lines
  std::int32_t weight = 0;                      ///< counts above the level, summed
  std::int64_t weight_row = 0, weight_col = 0;  ///< the same times row or column
};

/// Area of peak `at` within `box`. Nodes that lie as near to a rival as to the peak, or nearer, are
/// left out. `level`: counts, at most the peak's; below it for a weight.
PeakArea area_of(const Field& field, const PeakList& peaks, int at, PeakSet rivals, const Box& box,
                 std::int32_t level);

/// Sub-node place of peak `at`, see locate(), and its half_nodes and flat_nodes. Rivals and `box`
/// as in area_of(); `surface`: counts below which nothing belongs to a touch.
void place(PeakList& peaks, int at, PeakSet rivals, const Box& box, const Field& field,
           const Settings& settings, std::int32_t surface);

/// Level of the half height, counts: nodes at it reach half of the peak.
constexpr std::int32_t half_level(const Peak& peak) { return (peak.strength + 1) / 2; }

/// True if an area grown at half of a peak is what no finger makes: see Settings::palm_mm2.
bool is_palm(const PeakArea& area, const Settings& settings, const Limits& limits);

}  // namespace bareglass
