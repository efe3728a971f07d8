#pragma once
// What is wrong with whole lines: open, cut, low, doubled, or all of them together. Nothing on the
// glass reads like this: a full grounded cover takes one finger's signal (field solution, 1.1 mm
// glass: -179.5 fF of 1140), and whatever lies there shows a skirt on the next line.

#include <cstdint>

#include "bareglass/core/conditioning.hpp"
#include "bareglass/core/findings.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass {

/// One line fault of one frame or look.
struct LineFault {
  FindingKind kind = FindingKind::none;
  LinePlace place;
  Box box;                 ///< the nodes it takes
  std::int16_t loss = 0;   ///< permille of the bare reading, positive: lost
  std::int16_t limit = 0;  ///< permille
  std::int16_t peak = 0;   ///< counts, largest departure, signed as a difference
  std::uint8_t peak_row = 0, peak_col = 0;
  std::int16_t score = 0;  ///< permille, see score_of
};

struct LineFaults {
  static constexpr int kMaxFaults = 5;
  LineFault fault[kMaxFaults];
  std::uint8_t count = 0;
  std::uint8_t dropped = 0;  ///< faults that found no place
};

/// What the line faults are read from. `level_q8` is the baseline, or the mean of a look if
/// `level_is_reading`; the bare reading of a node is the former, or the latter plus its difference.
struct LineReadings {
  View<const std::int16_t> difference;  ///< rows * cols counts
  View<const BaselineQ8> level_q8;      ///< rows * cols counts Q8
  bool level_is_reading = false;
  bool counts_rise = false;
  Shape shape;
  std::int32_t finger = 0;      ///< counts
  std::int32_t limit = 0;       ///< counts; what departs by less is nothing
  std::int32_t sigma_q4 = 0;    ///< counts Q4; noise of a difference
  bool supply_is_good = false;  ///< the device measured its supply and it suffices: no sag
  bool was_sagging = false;     ///< the frames before fell in proportion
  View<std::int16_t> row_loss, col_loss;  ///< scratch: one element per row, per column
  View<std::int16_t> sort;                ///< scratch: one element per line of the longer side

  /// Reading of the bare node, counts; 0 where none was left when the baseline was taken.
  std::int32_t bare(std::size_t i) const {
    const auto level = static_cast<std::int32_t>((level_q8[i] + 128) >> 8);
    const std::int32_t reading = counts_rise ? 65535 - level : level;
    return level_is_reading ? reading + difference[i] : reading;
  }
  std::size_t at(int row, int col) const {
    return static_cast<std::size_t>(row * shape.cols + col);
  }
};

/// Lines that read low by less are left to the tracking, permille of the bare reading. (A worn tail
/// of 10 kOhm takes 60 of a row, 20 kOhm take 40 of a column.)
constexpr std::int32_t kLowLinePermille = 20;
/// From here on a node or line reads nothing.
constexpr std::int32_t kDeadPermille = 700;
/// A pair that gains this much reads each other's charge.
constexpr std::int32_t kDoubledPermille = 300;
/// Smallest panel whose lines are judged, lines each way.
constexpr int kLeastLines = 5;

/// Fills `faults` with what is wrong with lines and `nodes` with what they take, including
/// neighbours that rise because a dead line no longer screens them. Does nothing on panels below
/// kLeastLines. A fall of all lines together is reported as supply_sag.
void find_line_faults(LineFaults& faults, FaultyNodes nodes, const LineReadings& readings);

/// How many nodes of a raw frame are on dead lines. A line that is broken reads nothing, frame
/// after frame: that is a reading, not a spoiled frame. Counted are nodes at the empty end of the
/// range that lie in a run of two or more on a line; none if more than half of the panel is
/// empty.
std::int32_t dead_nodes(const Frame& frame, const Settings& settings);

/// Gives lines whose level stands apart from the panel's run of levels the level of the bare lines
/// beside them, so that what did it stands out: dead and weak lines, and a film over more than half
/// of the lines it crosses. A run of lines counts from `limit` (counts) on, more on a slope, if it
/// begins and ends within three lines; one that reaches a border needs a sharp edge on its inner
/// side, and then the low side is not bare (the high side, if `counts_rise`). A border line alone
/// is mended only if it departs by ten limits. `level`: counts less any offset,
/// kLeastLines..kMaxLines lines (fewer: nothing is done); `sort`: scratch of as many.
void mend_levels(View<std::int16_t> level, View<std::int16_t> sort, std::int32_t limit,
                 bool counts_rise);

}  // namespace bareglass
