// Lines before anything is known of them: dead nodes of a raw frame, levels that fall out of a
// look's run of levels.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/lines.hpp"
#include "line_runs.hpp"

namespace bareglass {

namespace {

// Lines on a slope differ too. Of the steps between neighbours the lower quartile is the slope's (a
// film has few edges), and three lines in a row may be three times as steep as that.
constexpr std::int32_t kSlopeSteps = 10;
// What hides behind a deeper or a raised line shows once that is mended.
constexpr int kPasses = 2;
// By so many limits a border line is no border's: two fingers, where construction takes half of one
// and a full cover 1.2 (field solution).
constexpr std::int32_t kBorderLimits = 10;

// Gives the lines first..end, which stand apart, the level of the bare lines beside them, if the
// run begins and ends sharply. The line before and the line after may be a film's skirt. Border
// lines are weaker by construction: a covered one keeps what it is lower by than the line beside
// it, and one that is higher than that is not covered.
void mend_run(View<std::int16_t> level, int first, int end, std::int32_t limit) {
  const int last = static_cast<int>(level.size) - 1;
  const auto at = [&](int i) -> std::int16_t& { return level[static_cast<std::size_t>(i)]; };
  const int skirt = first > 2 || end < last - 2 ? 1 : 0;
  const bool left = first > 1 + skirt;
  const bool right = end < last - 1 - skirt;
  if (end == 0 || first == last || !(left || right)) return;
  const std::int32_t before = at(first > 2 ? first - 2 : 1);
  const std::int32_t after = at(end < last - 2 ? end + 2 : last - 1);
  const int inside = first < end ? 1 : 0;
  if (left && 4 * abs_i32(before - at(first + inside)) < 3 * limit) return;
  if (right && 4 * abs_i32(after - at(end - inside)) < 3 * limit) return;
  // The higher side: the lower may still be a skirt, or a dead line.
  const std::int32_t bare = left && (!right || before > after) ? before : after;
  for (int i = 0; i <= last; i += last) {
    // The line next to the border may be a skirt, where there are more.
    const int covered = i == 0 ? (end < 2 ? end : 2) : (first > last - 2 ? first : last - 2);
    const std::int32_t lift = bare - at(covered);
    if ((i == 0 ? first == 0 : end == last) && 2 * (at(i) + lift - bare) < limit)
      at(i) = static_cast<std::int16_t>(at(i) + lift);
  }
  for (int i = first > 2 ? first - 1 : 1; i <= end + 1 && i < last; ++i)
    at(i) = static_cast<std::int16_t>(bare);
}

}  // namespace

std::int32_t dead_nodes(const Frame& frame, const Settings& settings) {
  const int rows = frame.shape.rows;
  const int cols = frame.shape.cols;
  const std::int32_t empty = settings.counts_rise ? settings.raw_high : settings.raw_low;
  const auto above_empty = [&](int r, int c) {
    const std::int32_t v = frame.raw[r * cols + c];
    return settings.counts_rise ? empty - v : v - empty;
  };
  // Noise lifts some nodes of a dead line off the end of the range; they still belong to the run.
  const auto is_dead = [&](int r, int c) {
    return r >= 0 && c >= 0 && r < rows && c < cols &&
           above_empty(r, c) <= settings.finger_counts / 8;
  };
  const auto in_run = [&](int r, int c) {
    return is_dead(r - 1, c) || is_dead(r + 1, c) || is_dead(r, c - 1) || is_dead(r, c + 1);
  };
  std::int32_t n = 0;
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < cols; ++c) n += above_empty(r, c) <= 0 && in_run(r, c) ? 1 : 0;
  return 2 * n <= frame.shape.nodes() ? n : 0;
}

void mend_levels(View<std::int16_t> level, View<std::int16_t> sort, std::int32_t limit,
                 bool counts_rise) {
  const int last = static_cast<int>(level.size) - 1;
  if (last + 1 < kLeastLines) return;
  const auto at = [&](int i) -> std::int16_t& { return level[static_cast<std::size_t>(i)]; };
  for (int i = 0; i < last; ++i)
    sort[static_cast<std::size_t>(i)] = saturate_i16(abs_i32(at(i + 1) - at(i)));
  limit += kSlopeSteps * nth_in_place({sort.data, static_cast<std::size_t>(last)}, last / 4);
  for (int pass = 0; pass < kPasses; ++pass) {
    std::int32_t most = -32768;
    for (int i = 1; i < last; ++i)
      if (at(i) > most) most = at(i);
    const auto is_low = [&](int i) { return at(i) < most - limit; };
    // Bare is what lies on both sides. Where the sides differ it is the one that has lost nothing:
    // what an isolated film gives stays below the limit on most glass.
    const bool bare_is_low = is_low(1) == is_low(last - 1) ? is_low(1) : counts_rise;
    for_runs(
        last + 1, [&](int i) { return is_low(i) != bare_is_low; },
        [&](int first, int end) { mend_run(level, first, end, limit); });
  }
  for (int i = 0; i <= last; i += last) {
    const std::int16_t next = at(i == 0 ? 1 : last - 1);
    if (abs_i32(at(i) - next) > kBorderLimits * limit) at(i) = next;
  }
}

}  // namespace bareglass
