#include "bareglass/core/contacts.hpp"

#include "bareglass/core/arith.hpp"

namespace bareglass {

namespace {

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

// Greater than the four neighbours scanned before it, at least equal to the four after, so that of
// two equal neighbours exactly one is the maximum.
bool is_maximum(const Field& field, int row, int col) {
  const std::int32_t d = field.at(row, col);
  for (int dr = -1; dr <= 1; ++dr)
    for (int dc = -1; dc <= 1; ++dc) {
      if ((dr == 0 && dc == 0) || !field.inside(row + dr, col + dc)) continue;
      const std::int32_t other = field.at(row + dr, col + dc);
      const bool before = dr < 0 || (dr == 0 && dc < 0);
      if (before ? other >= d : other > d) return false;
    }
  return true;
}

// Lowest value met on the straight line between two peaks (Bresenham's line, ends left out).
std::int32_t valley_between(const Field& field, const Peak& a, const Peak& b) {
  const int rows = abs_i32(b.row - a.row);
  const int cols = abs_i32(b.col - a.col);
  const int steps = rows > cols ? rows : cols;
  std::int32_t lowest = a.strength < b.strength ? a.strength : b.strength;
  for (int k = 1; k < steps; ++k) {
    // Rounded to the nearest node; positions are positive, so the division rounds as intended.
    const int row = (2 * (a.row * (steps - k) + b.row * k) + steps) / (2 * steps);
    const int col = (2 * (a.col * (steps - k) + b.col * k) + steps) / (2 * steps);
    const std::int32_t d = field.at(row, col);
    lowest = d < lowest ? d : lowest;
  }
  return lowest;
}

void insert_sorted(PeakList& peaks, const Peak& peak) {
  int at = peaks.count;
  while (at > 0 && peaks.peak[at - 1].strength < peak.strength) --at;
  if (at >= PeakList::kMaxPeaks) return;
  const int last = peaks.count < PeakList::kMaxPeaks ? peaks.count : PeakList::kMaxPeaks - 1;
  Peak moved = peak;
  for (int k = at; k <= last; ++k) {
    const Peak before = peaks.peak[k];
    peaks.peak[k] = moved;
    moved = before;
  }
  peaks.count = static_cast<std::uint8_t>(last + 1);
}

void collect_maxima(PeakList& peaks, const Region& region, int number, const Field& field,
                    View<const std::uint8_t> label, std::int32_t least) {
  for (int r = region.box.row0; r <= region.box.row1; ++r)
    for (int c = region.box.col0; c <= region.box.col1; ++c) {
      const auto i = static_cast<std::size_t>(r * field.shape.cols + c);
      if (field.difference[i] < least || label[i] != number + 1 || !is_maximum(field, r, c))
        continue;
      Peak peak;
      peak.strength = field.difference[i];
      peak.row = static_cast<std::uint8_t>(r);
      peak.col = static_cast<std::uint8_t>(c);
      peak.region = static_cast<std::uint8_t>(number);
      insert_sorted(peaks, peak);
    }
}

// A weaker maximum that no valley parts from a stronger one of its region is a bump of the same
// touch.
bool stands_alone(const PeakList& kept, const Peak& peak, const Field& field,
                  std::int32_t saddle_permille) {
  for (int k = 0; k < kept.count; ++k) {
    const Peak& stronger = kept.peak[k];
    if (stronger.region != peak.region) continue;
    if (stronger.palm) return false;
    if (valley_between(field, stronger, peak) >= permille_of(peak.strength, saddle_permille))
      return false;
  }
  return true;
}

// Position from the two lines that exist at a border. For a Gaussian profile with the value n at
// one pitch from its centre, d1/d0 = n^(1 - 2x), so x = 1/2 + ln(d1/d0) / (2 ln(1/n)).
std::int32_t border_offset_q8(std::int32_t d0, std::int32_t d1, std::int32_t neighbour_permille) {
  if (d1 <= 0) return -128;
  const std::int32_t width_q8 =
      log2_q8(256000) - log2_q8(static_cast<std::uint32_t>(neighbour_permille) * 256);
  const std::int32_t ratio_q8 =
      log2_q8(static_cast<std::uint32_t>(d1) * 256) - log2_q8(static_cast<std::uint32_t>(d0) * 256);
  return clamp_i32(128 + ratio_q8 * 128 / (width_q8 > 0 ? width_q8 : 1), -128, 128);
}

// Offset along one axis from the summed weights of the line before, at and after the maximum.
std::int32_t offset_q8(const std::int32_t (&line)[3], bool has_before, bool has_after,
                       std::int32_t neighbour_permille) {
  if (!has_before) return border_offset_q8(line[1], line[2], neighbour_permille);
  if (!has_after) return -border_offset_q8(line[1], line[0], neighbour_permille);
  // A centroid of three lines jumps where the maximum passes from one line to the next, by what the
  // line beyond would have weighed. The less the maximum stands out of its stronger neighbour, the
  // more of the weakest line is taken off all three: nothing at the middle of a line, all of it
  // half way between two, where the remainder is the same seen from either.
  const std::int32_t step = line[2] - line[0];
  const std::int32_t least = step > 0 ? line[0] : line[2];
  const std::int32_t rise = line[1] - least;
  if (step == 0 || rise <= 0) return 0;
  const std::int32_t even_q8 = clamp_i32(abs_i32(step) * 256 / rise, 0, 256);
  const std::int32_t off = 3 * least * (even_q8 * even_q8 >> 8) >> 8;
  const std::int32_t total = line[0] + line[1] + line[2] - off;
  return (step * 256 + (step > 0 ? total / 2 : -total / 2)) / total;
}

}  // namespace

void locate(Peak& peak, View<const std::int16_t> difference, const Settings& settings) {
  const Field field{difference, settings.shape};
  std::int32_t by_col[3] = {};
  std::int32_t by_row[3] = {};
  for (int dr = -1; dr <= 1; ++dr)
    for (int dc = -1; dc <= 1; ++dc) {
      const std::int32_t w = field.weight(peak.row + dr, peak.col + dc);
      by_row[dr + 1] += w;
      by_col[dc + 1] += w;
    }
  const Shape shape = settings.shape;
  const std::int32_t n = settings.neighbour_permille;
  const std::int32_t x = offset_q8(by_col, peak.col > 0, peak.col + 1 < shape.cols, n);
  const std::int32_t y = offset_q8(by_row, peak.row > 0, peak.row + 1 < shape.rows, n);
  peak.x_q8 = saturate_i16(peak.col * 256 + x);
  peak.y_q8 = saturate_i16(peak.row * 256 + y);
}

void find_peaks(PeakList& peaks, const RegionTable& regions, View<const std::uint8_t> label,
                View<const std::int16_t> difference, const Settings& settings,
                const Limits& limits) {
  const Field field{difference, settings.shape};
  peaks.count = 0;
  for (int k = 0; k < regions.count; ++k) {
    const Region& region = regions.region[k];
    if (region.explained || region.two_signed || region.lone) continue;
    if (region.peak < limits.touch_off) continue;
    collect_maxima(peaks, region, k, field, label, limits.touch_off);
  }
  const int found = peaks.count;
  peaks.count = 0;
  for (int k = 0; k < found; ++k) {
    Peak peak = peaks.peak[k];  // entries up to count are kept ones and lie before k
    if (!stands_alone(peaks, peak, field, settings.saddle_permille)) continue;
    peak.palm = regions.region[peak.region].nodes >= limits.palm_nodes;
    locate(peak, difference, settings);
    peaks.peak[peaks.count++] = peak;
  }
}

}  // namespace bareglass
