// Lines before anything is known of them: dead nodes of a raw frame, levels that fall out of a
// look's run of levels.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/lines.hpp"
#include "line_runs.hpp"

namespace bareglass {

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
                 std::int32_t bare_level) {
  const int count = static_cast<int>(level.size);
  if (count < kLeastLines) return;
  for (int i = 0; i < count; ++i)
    sort[static_cast<std::size_t>(i)] = level[static_cast<std::size_t>(i)];
  const std::int32_t typical = median_in_place({sort.data, level.size});
  const auto value = [&](int i) -> std::int32_t { return level[static_cast<std::size_t>(i)]; };
  // A border line is weaker by construction, but no border reads next to nothing.
  const std::int32_t at_border = bare_level * kDoubledPermille / 1000;
  for_runs(
      count, [&](int i) { return value(i) < typical - limit; },
      [&](int first, int last) {
        if (2 * (last - first + 1) > count) return;
        const bool border = first == 0 || last == count - 1;
        const std::int32_t least = border ? at_border : (limit * 3) / 4;
        const std::int32_t before = first > 0 ? value(first - 1) : value(last + 1);
        const std::int32_t after = last < count - 1 ? value(last + 1) : before;
        // A film's skirt lies between its edge and the bare lines.
        const std::int32_t depth = before - value(first);
        if (first > 1 && value(first - 2) - before > depth * kLineSkirtPermille / 1000) return;
        if (last < count - 2 && value(last + 2) - after > depth * kLineSkirtPermille / 1000) return;
        if (before - value(first) < least || after - value(last) < least) return;
        for (int i = first; i <= last; ++i)
          level[static_cast<std::size_t>(i)] = static_cast<std::int16_t>((before + after) / 2);
      });
}

}  // namespace bareglass
