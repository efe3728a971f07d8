#pragma once
// What reaches the panel by wire, and pairs of lines that have become one: told from statistics
// that cost a frame next to nothing.

#include <cstdint>

#include "bareglass/core/conditioning.hpp"
#include "bareglass/core/contacts.hpp"
#include "bareglass/core/lines.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass {

/// Rows within this many of a touch's peak belong to it.
constexpr int kTouchReach = 3;
/// Rows that must vote before a column is called noisy.
constexpr int kLeastVotes = 4;
/// Noise along one column in one frame, away from a touch on it, counts: median of |difference|
/// over the rows that vote, which are those not within kTouchReach of `row`. 0 if it is less than
/// `least`, mostly of one sign, or if fewer than kLeastVotes vote. `difference`: rows * cols
/// counts; least: 1 or more; `sort`: scratch, one element per row.
std::int32_t column_noise(View<const std::int16_t> difference, Shape shape, int row, int col,
                          std::int32_t least, View<std::int16_t> sort);

/// Offset of a row that swings beyond `quiet`, where row_offset gives none: its median, if three
/// quarters of its nodes lie within `quiet` of that, as no touch does, and it is at most
/// `farthest`, as no broken line is. `sort`: scratch, one element per column.
RowOffset swing_of_row(View<const std::int16_t> difference, std::int32_t quiet,
                       std::int32_t farthest, View<std::int16_t> sort);

/// True for a touch as wide as a finger's whose signal is far too small for that: the device, or
/// the hand, has no path to earth. A grounded 6 mm disc shows 94 % of an 8 mm disc's signal; on
/// 3 pF to earth the 8 mm disc shows 39 %, with neighbours of 55 % of that (field solution, 1.1 mm
/// glass). Peaks more than a quarter pitch off a node are not judged.
bool is_weak_and_wide(const Peak& peak, View<const std::int16_t> difference, Shape shape,
                      std::int32_t finger);
/// Share of a finger's signal below which a wide touch is weak, permille.
constexpr std::int32_t kWeakPermille = 650;

/// Two neighbouring lines: rows first and first + 1, or columns.
struct LinePair {
  bool of_rows = true;
  int first = 0;
};
/// How much of the two lines' own difference is left: the sum over crossings of known * seen, and
/// of known * known. Their ratio is 1 for two lines and 0 for two that are one. `now` sums seen *
/// seen: without a reference a pair is held against all other pairs.
struct Likeness {
  std::int64_t seen = 0, known = 0, now = 0;  ///< counts²
  int votes = 0;
};
/// `level_q8` is the baseline, or the mean of a look if `level_is_reading`; together with
/// `difference` it gives what is known of the lines and what is seen. Nodes beyond `quiet` and
/// those of `faulty` lines don't vote.
Likeness likeness_of(LinePair pair, View<const BaselineQ8> level_q8, bool level_is_reading,
                     View<const std::int16_t> difference, Shape shape, bool counts_rise,
                     std::int32_t quiet, const FaultyNodes& faulty = {});
/// Likeness is judged only if what the two lines differ by, summed over `votes` crossings, stands
/// five times above what noise makes of it, and above a hundredth of a finger at each; counts².
constexpr std::int64_t least_known(int votes, std::int32_t sigma_q4, std::int32_t finger) {
  const std::int64_t by_noise = (25 * (2 * static_cast<std::int64_t>(sigma_q4) * sigma_q4)) >> 8;
  const std::int64_t by_finger = votes * (finger * finger / 10000 + 1);
  return by_noise > by_finger ? by_noise : by_finger;
}
/// Less than this share of their own difference left: one line, permille.
constexpr std::int32_t kBridgedPermille = 350;

}  // namespace bareglass
