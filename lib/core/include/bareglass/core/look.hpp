#pragma once
// A look at the glass: a short sample of frames while input is off, reduced to one steady value per
// node and then held against the factory reference or, without one, the panel's own smoothness.

#include <cstdint>

#include "bareglass/core/conditioning.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass {

/// Streaming trimmed mean over n frames: sum, least and greatest of each node are kept, and the
/// mean is taken without the two extremes, so that one spoiled frame leaves no trace. The three
/// live in arrays that have no other use before a baseline exists (storage.hpp).
class LookSampler {
 public:
  /// sum, least, greatest: one element per node each.
  struct Arrays {
    View<std::uint32_t> sum;
    View<std::uint16_t> least;
    View<std::uint16_t> greatest;
  };

  void begin() { taken_ = 0; }
  /// Adds a frame of raw counts, as many as the arrays hold. At most 25 frames.
  void add(Arrays arrays, View<const std::uint16_t> raw);
  int taken() const { return taken_; }

  struct Result {
    std::int32_t largest_range = 0;  ///< counts, of the least steady node
    std::int32_t typical_range = 0;  ///< counts, mean over all nodes
    int node = 0;                    ///< the least steady node
  };
  /// Turns `sum` into the trimmed mean, counts Q8, and `greatest` into the range, counts.
  /// Precondition: taken() >= 4.
  Result finish(Arrays arrays);

 private:
  int taken_ = 0;
};

/// Scratch of the smoothness fit: one element per row, per column, and the longer of both.
struct SmoothScratch {
  View<std::int16_t> row_level;
  View<std::int16_t> col_level;
  View<std::int16_t> sort;
};

/// difference = reference - mean (sign as everywhere), per node.
void depart_from_reference(View<std::int16_t> difference, View<const BaselineQ8> mean_q8,
                           View<const std::uint16_t> reference, bool counts_rise);

/// What a factory reference says of a node. Its value is no reading if it is at or beyond the
/// converter's limits (Settings::raw_low, raw_high; 0 always is). A single such node is known as
/// bad; of two side by side (eight neighbours) neither is: they would hide what lies there.
enum class NodeMark : std::uint8_t { good, known_bad, unusable };
NodeMark mark_of(View<const std::uint16_t> reference, Shape shape, std::size_t i, std::uint16_t low,
                 std::uint16_t high);

/// difference = smooth surface - mean. The surface is row level + column level by two sweeps of
/// medians (the median polish of exploratory data analysis, Tukey 1977), so a thing covering fewer
/// than half of a line's nodes cannot bend it; afterwards inner lines whose level departs from the
/// median of their five-line neighbourhood are given back that departure, so that a thing covering
/// a whole line shows too. Border lines differ by construction and are trusted. A film over more
/// than three quarters of the panel is invisible to this: only a factory reference shows it. With a
/// `line_limit` (counts, 0: none) lines that stand apart from the run of levels are mended in every
/// sweep (mend_levels of lines.hpp), so that a worn tail and a film over more than half of a line
/// show; and of a border line, which has bare lines on one side only, the upper quartile is the
/// level where it stands half a limit from the median, so that fluid along up to three quarters of
/// a border shows.
void depart_from_smoothness(View<std::int16_t> difference, SmoothScratch scratch,
                            View<const BaselineQ8> mean_q8, Shape shape, bool counts_rise,
                            std::int32_t line_limit = 0);

/// How much nodes differ by themselves: standard deviation, counts Q4, of a departure from
/// smoothness. Taken from the steps between neighbours along rows, the median of each row's median:
/// a thing on the glass makes steps only at its edges, so whatever it covers it does not raise the
/// spread that it is held against, as it would raise a deviation from the panel's median.
/// `scratch.row_level` has one element per row; `scratch.col_level` is not used.
std::int32_t spread_q4(View<const std::int16_t> difference, SmoothScratch scratch, Shape shape);

/// What all nodes depart by together: the median over rows of each row's median, counts; afterwards
/// `scratch.row_level` holds those, in no order. A gain that has changed does this, and so does a
/// cover over all of the panel. `scratch.col_level` is not used.
std::int32_t shared_departure(View<const std::int16_t> difference, SmoothScratch scratch,
                              Shape shape);

/// What a dry film is looked for in: `smooth_q4`, counts Q4, receives for each node the mean
/// departure of it and its neighbours (3 x 3, what exists of it) less the panel's median departure.
/// A film that lies still and wide keeps its departure there, and noise loses two thirds.
/// Returns how much the rows differ as wholes, which no averaging along them removes: standard
/// deviation, counts Q4. Departures 0..2000 counts either way. `scratch.row_level` has one element
/// per row; `scratch.col_level` is not used.
std::int32_t smooth_departure(View<std::int16_t> smooth_q4, View<const std::int16_t> difference,
                              SmoothScratch scratch, Shape shape);

}  // namespace bareglass
