#include "bareglass/core/electrical.hpp"

#include "bareglass/core/arith.hpp"

namespace bareglass {

namespace {

/// The crossings of two neighbouring lines.
struct Crossings {
  LinePair pair;
  Shape shape;

  int count() const { return pair.of_rows ? shape.cols : shape.rows; }
  std::size_t at(int line, int k) const {
    return static_cast<std::size_t>(pair.of_rows ? line * shape.cols + k : k * shape.cols + line);
  }
  bool is_faulty(const FaultyNodes& faulty, int line, int k) const {
    return pair.of_rows ? faulty.covers(line, k) : faulty.covers(k, line);
  }
};

// Mean change from row to row, of the mean size: a sine of eight rows has as much.
constexpr std::int32_t kRoughTenths = 8;

std::int32_t counts_of(BaselineQ8 q8) { return static_cast<std::int32_t>((q8 + 128) >> 8); }

// Noise changes from row to row, white noise by 1.4 times its mean size; a hand, which can have
// both signs, is smooth.
bool is_rough(View<const std::int16_t> difference, Shape shape, int row, int col, int step) {
  std::int32_t change = 0;
  std::int32_t size = 0;
  for (int r = step; r < shape.rows; r += step) {
    if (abs_i32(r - row) <= kTouchReach || abs_i32(r - step - row) <= kTouchReach) continue;
    const std::int32_t d = difference[static_cast<std::size_t>(r * shape.cols + col)];
    const std::int32_t last = difference[static_cast<std::size_t>((r - step) * shape.cols + col)];
    change += abs_i32(d - last);
    size += abs_i32(d) + abs_i32(last);
  }
  return 20 * change >= kRoughTenths * size;
}

}  // namespace

std::int32_t column_noise(View<const std::int16_t> difference, Shape shape, int row, int col,
                          std::int32_t least, View<std::int16_t> sort) {
  std::int32_t votes = 0;
  std::int32_t loud = 0;
  std::int32_t sum = 0;
  std::int32_t absolute = 0;
  // Half of the rows of a large panel are votes enough.
  const int step = shape.rows >= 32 ? 2 : 1;
  for (int r = 0; r < shape.rows; r += step) {
    if (abs_i32(r - row) <= kTouchReach) continue;
    const std::int32_t d = difference[static_cast<std::size_t>(r * shape.cols + col)];
    const std::int32_t size = abs_i32(d);
    sum += d;
    absolute += size;
    loud += size >= least ? 1 : 0;
    sort[static_cast<std::size_t>(votes++)] = static_cast<std::int16_t>(size);
  }
  // The median reaches `least` only if half of the rows do: most columns need none. Noise has both
  // signs; a film or a fault has one.
  if (votes < kLeastVotes || 2 * loud <= votes - 1 || 10 * abs_i32(sum) > 6 * absolute) return 0;
  if (!is_rough(difference, shape, row, col, step)) return 0;
  return median_in_place({sort.data, static_cast<std::size_t>(votes)});
}

RowOffset swing_of_row(View<const std::int16_t> difference, std::int32_t quiet,
                       std::int32_t farthest, View<std::int16_t> sort) {
  const std::size_t cols = difference.size;
  for (std::size_t c = 0; c < cols; ++c) sort[c] = difference[c];
  const std::int32_t median = median_in_place({sort.data, cols});
  std::size_t alike = 0;
  for (const std::int16_t d : difference) alike += abs_i32(d - median) <= quiet ? 1u : 0u;
  return {median, 4 * alike >= 3 * cols && abs_i32(median) <= farthest};
}

bool is_weak_and_wide(const Peak& peak, View<const std::int16_t> difference, Shape shape,
                      std::int32_t finger) {
  constexpr int kOffNode = 64;  // 1/256 pitch
  constexpr std::int32_t kWideTenths = 3;
  if (peak.palm || peak.strength * 1000 > kWeakPermille * finger) return false;
  if (abs_i32(peak.x_q8 - peak.col * 256) > kOffNode ||
      abs_i32(peak.y_q8 - peak.row * 256) > kOffNode)
    return false;
  if (peak.row < 1 || peak.col < 1 || peak.row + 1 >= shape.rows || peak.col + 1 >= shape.cols)
    return false;
  const auto at = [&](int r, int c) -> std::int32_t {
    return difference[static_cast<std::size_t>(r * shape.cols + c)];
  };
  const std::int32_t along = at(peak.row, peak.col - 1) + at(peak.row, peak.col + 1);
  const std::int32_t across = at(peak.row - 1, peak.col) + at(peak.row + 1, peak.col);
  const std::int32_t wide = 2 * kWideTenths * peak.strength / 10;
  return along >= wide && across >= wide;
}

Likeness likeness_of(LinePair pair, View<const BaselineQ8> level_q8, bool level_is_reading,
                     View<const std::int16_t> difference, Shape shape, bool counts_rise,
                     std::int32_t quiet, const FaultyNodes& faulty) {
  const Crossings lines{pair, shape};
  Likeness sum;
  for (int k = 0; k < lines.count(); ++k) {
    const std::size_t a = lines.at(pair.first, k);
    const std::size_t b = lines.at(pair.first + 1, k);
    if (abs_i32(difference[a]) > quiet || abs_i32(difference[b]) > quiet) continue;
    if (faulty.any() &&
        (lines.is_faulty(faulty, pair.first, k) || lines.is_faulty(faulty, pair.first + 1, k)))
      continue;
    const std::int32_t level = counts_of(level_q8[a]) - counts_of(level_q8[b]);
    const std::int32_t lost = difference[a] - difference[b];
    const std::int32_t moved = counts_rise ? lost : -lost;  // of the reading
    const std::int64_t known = level_is_reading ? level - moved : level;
    const std::int64_t now = level_is_reading ? level : level + moved;
    sum.seen += known * now;
    sum.now += now * now;
    sum.known += known * known;
    ++sum.votes;
  }
  return sum;
}

}  // namespace bareglass
