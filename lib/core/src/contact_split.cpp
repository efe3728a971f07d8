// Whether two maxima are two contacts.
#include "bareglass/core/arith.hpp"
#include "contact_field.hpp"

namespace bareglass {

namespace {

// A valley that is shallower than this many standard deviations may be noise. With it and a saddle
// of 95 %, 2 of 89,000 single fingers and thumbs with noise of 1 % of a finger were split.
constexpr std::int32_t kLeastSigmas = 3;

// Peaks so far apart can lie at opposite ends of one thumb, whose middle sags a little (it passes
// charge from row to column); a section as wide as a finger sees that its middle is no waist.
constexpr int kFarApart = 4;

/// The way between two peaks, and sections across it.
class Way {
 public:
  Way(const Field& field, const Peak& a, const Peak& b) : field_(field), a_(a), b_(b) {
    const int rows = abs_i32(b.row - a.row);
    const int cols = abs_i32(b.col - a.col);
    const int less = rows < cols ? rows : cols;
    steps_ = rows < cols ? cols : rows;
    if (2 * less > steps_) {
      across_row_ = 1;
      across_col_ = (b.row > a.row) == (b.col > a.col) ? -1 : 1;
    } else {
      across_row_ = rows < cols ? 1 : 0;
      across_col_ = 1 - across_row_;
    }
  }

  int steps() const { return steps_; }
  /// Of a section's weights: a node's noise, summed in squares, is below this.
  std::int32_t scale() const { return steps_ < kFarApart ? 4 : 5; }

  /// Section at k of steps() steps from a to b; between two nodes, the mean by distance.
  std::int32_t section(int k) const {
    const int row = a_.row * (steps_ - k) + b_.row * k;
    const int col = a_.col * (steps_ - k) + b_.col * k;
    const int row_part = row % steps_;
    const int col_part = col % steps_;
    const int part = row_part + col_part;  // the longer way steps by whole lines
    const std::int32_t before = section_at(row / steps_, col / steps_);
    if (part == 0) return before;
    const std::int32_t after =
        section_at(row / steps_ + (row_part != 0), col / steps_ + (col_part != 0));
    return (before * (steps_ - part) + after * part) / steps_;
  }

 private:
  std::int32_t beside(int row, int col, int lines) const {
    return field_.weight(row - lines * across_row_, col - lines * across_col_) +
           field_.weight(row + lines * across_row_, col + lines * across_col_);
  }
  std::int32_t section_at(int row, int col) const {
    const std::int32_t middle = field_.weight(row, col);
    const std::int32_t near = beside(row, col, 1);
    return steps_ < kFarApart ? 2 * middle + near : middle + near + beside(row, col, 2);
  }

  const Field& field_;
  const Peak& a_;
  const Peak& b_;
  int steps_ = 0;
  int across_row_ = 0, across_col_ = 0;
};

}  // namespace

bool Parting::parts(const Field& field, const Peak& a, const Peak& b) const {
  const Way way(field, a, b);
  const std::int32_t at_a = way.section(0);
  const std::int32_t at_b = way.section(way.steps());
  const std::int32_t lower = at_a < at_b ? at_a : at_b;
  std::int32_t valley = lower;
  for (int k = 1; k < way.steps(); ++k) {
    const std::int32_t section = way.section(k);
    valley = section < valley ? section : valley;
  }
  return valley * 1000 < lower * saddle_permille &&
         (lower - valley) * 16 >= kLeastSigmas * way.scale() * sigma_q4;
}

}  // namespace bareglass
