#pragma once
// Who owns the memory: Storage<Rows, Cols> holds every array a panel of at most that size needs;
// the workers see it through a Memory and are compiled once for all sizes.

#include <cstddef>
#include <cstdint>

#include "bareglass/core/conditioning.hpp"
#include "bareglass/core/regions.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass {

/// Views on the arrays of a Storage. 11 bytes per node, 9 per row, 4 per column and 2 per line of
/// the longer side.
struct Memory {
  View<BaselineQ8> baseline_q8;   ///< 4 bytes a node; holds sums during a look
  View<std::int16_t> difference;  ///< 2; holds the departure of the last look while input is off
  View<std::uint16_t>
      previous;  ///< 2; difference of the frame before + 32768, or least value of a look
  View<std::uint16_t> roughness_q4;  ///< 2; noise, or greatest value, then range, of a look
  View<std::uint8_t> label;          ///< 1; region number + 1
  View<CommonMode> common_mode;      ///< 4 a row
  View<std::uint8_t> row_busy;       ///< 1 a row; non-zero if a node departs beyond the limit
  View<std::int16_t> row_level;      ///< 2 a row; smoothness fit, losses of lines
  View<std::int16_t> col_level;      ///< 2 a column; likewise
  View<std::int16_t> sort;           ///< 2 per line of the longer side; medians
  View<LineSpan> row_faulty;         ///< 2 a row; what line faults take of it
  View<LineSpan> col_faulty;         ///< 2 a column
};

template <int MaxRows, int MaxCols>
class Storage {
  static_assert(MaxRows >= 2 && MaxRows <= kMaxLines, "rows: 2..kMaxLines");
  static_assert(MaxCols >= 2 && MaxCols <= kMaxLines, "columns: 2..kMaxLines");

 public:
  static constexpr std::size_t kRows = MaxRows;
  static constexpr std::size_t kCols = MaxCols;
  static constexpr std::size_t kNodes = kRows * kCols;
  static constexpr std::size_t kLongSide = kRows > kCols ? kRows : kCols;

  Memory memory() {
    return {{baseline_q8_, kNodes},  {difference_, kNodes}, {previous_, kNodes},
            {roughness_q4_, kNodes}, {label_, kNodes},      {common_mode_, kRows},
            {row_busy_, kRows},      {row_level_, kRows},   {col_level_, kCols},
            {sort_, kLongSide},      {row_faulty_, kRows},  {col_faulty_, kCols}};
  }

 private:
  BaselineQ8 baseline_q8_[kNodes] = {};
  std::int16_t difference_[kNodes] = {};
  std::uint16_t previous_[kNodes] = {};
  std::uint16_t roughness_q4_[kNodes] = {};
  std::uint8_t label_[kNodes] = {};
  CommonMode common_mode_[kRows] = {};
  std::uint8_t row_busy_[kRows] = {};
  std::int16_t row_level_[kRows] = {};
  std::int16_t col_level_[kCols] = {};
  std::int16_t sort_[kLongSide] = {};
  LineSpan row_faulty_[kRows];
  LineSpan col_faulty_[kCols];
};

}  // namespace bareglass
