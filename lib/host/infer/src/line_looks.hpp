#pragma once
// What one averaged map says of each line: sound, open, cut, low or doubled.

#include <vector>

#include "line_axis.hpp"
#include "line_survey.hpp"

namespace bareglass::host {

/// One look for each line of an axis.
using Looks = std::vector<LineLook>;

/// Open, cut and very slow lines of window k. Returns, per node, whether one of them explains it.
std::vector<char> find_dead_lines(Looks& rows, Looks& columns, const Reading& reading,
                                  std::size_t k);

/// What a line is held against: the factory reference or the smooth panel (Reading::base()), or the
/// beginning of the dump, which tells what changed since as well as a reference does.
class LineYardstick {
 public:
  static LineYardstick bare(const Reading& reading) { return {reading, {}}; }
  static LineYardstick beginning(const Reading& reading);

  /// Reading of a node in window k over what it should be.
  float ratio(std::size_t k, std::size_t node) const;
  /// Whether lines agree with it within a few permille.
  bool is_exact() const { return !begin_.empty() || reading_.has_reference(); }

 private:
  LineYardstick(const Reading& reading, std::vector<float> begin)
      : reading_(reading), begin_(std::move(begin)) {}
  const Reading& reading_;
  std::vector<float> begin_;  ///< counts over the gain of that time; empty: Reading::base()
};

/// A line's reading over what it should be, by quarters (medians, without nodes that another line
/// explains).
struct LineLevel {
  float lowest = 1.f, highest = 1.f, middle = 1.f;
  bool known = false;
};

/// Of every line of the axis in window k. `explained`: per node, or empty.
std::vector<LineLevel> line_levels(const LineAxis& axis, const LineYardstick& yardstick,
                                   std::size_t k, const std::vector<char>& explained);

/// A ripple whose period (nearly) divides the frame's stands still or drifts: rows as a whole are
/// lifted and lowered side by side, which no thing and no broken line does. Root mean square over
/// the rows, share of their reading; 0 if it is not that.
double standing_swing(const std::vector<LineLevel>& rows);

/// Low and doubled lines of window k among those that are sound so far; nodes that are `explained`
/// don't count.
void find_low_lines(Looks& looks, const LineAxis& axis, const LineYardstick& yardstick,
                    std::size_t k, const std::vector<char>& explained);

}  // namespace bareglass::host
