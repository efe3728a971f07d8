// Where a peak lies between the nodes.
#include "bareglass/core/arith.hpp"
#include "contact_field.hpp"

namespace bareglass {

namespace {

// Up to so wide between its half heights a contact is placed by its three middle lines, from
// kWideQ8 on by the centroid of its area, between them by a mixture. An 8 mm finger on 5 mm pitch
// and 1.1 mm glass is 1.8 pitches wide.
constexpr std::int32_t kNarrowQ8 = 512;
constexpr std::int32_t kWideQ8 = 608;

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

/// Distance from a node to where the profile falls to half of the peak.
struct Reach {
  std::int32_t q8 = 0;      ///< 1/256 pitch
  std::int32_t border = 0;  ///< counts of the border line, if the panel ends first; 0: it doesn't
};

Reach reach(const Field& field, std::int32_t peak, int row, int col, int row_step, int col_step) {
  std::int32_t before = field.at(row, col);
  for (std::int32_t k = 0;; ++k) {
    if (2 * before <= peak) return {k * 256, 0};  // only of the node itself
    row += row_step;
    col += col_step;
    if (!field.inside(row, col)) return {k * 256 + 128, before};
    const std::int32_t d = field.at(row, col);
    if (2 * d <= peak) return {k * 256 + (2 * before - peak) * 128 / (before - d), 0};
    before = d;
  }
}

/// What is known of a contact along one axis.
struct Axis {
  std::int32_t narrow_q8 = 0;  ///< offset from the peak, by the three middle lines
  std::int32_t wide_q8 = 0;    ///< the same, by the centroid of the area
  int middle = 0;              ///< the node next to the centroid, from the peak
  Reach before, after;         ///< from that node

  std::int32_t width_q8() const { return before.q8 + after.q8; }
  bool cut() const { return before.border != 0 || after.border != 0; }
};

// part * 256 / whole, to the nearest; |part| at most 128 times whole, whole above 0.
std::int32_t quotient_q8(std::int64_t part, std::int32_t whole) {
  while (whole > 32767) {
    whole >>= 1;
    part >>= 1;
  }
  const std::int32_t twice = static_cast<std::int32_t>(part) * 512;
  return (twice + (twice < 0 ? -whole : whole)) / (2 * whole);
}

// A border hides the outer edge of a wide contact, and its centroid lies too far inside. Most
// contacts are about as wide one way as the other, so three quarters of what this way lacks against
// the other are added, and the contact is placed by its inner edge, the more so the higher the
// border line stands.
void uncover(Axis& axis, std::int32_t& width, std::int32_t across, std::int32_t peak) {
  if (across > width) width += (across - width) * 3 / 4;
  const bool inner_after = axis.after.border == 0;
  const std::int32_t border = inner_after ? axis.before.border : axis.after.border;
  const std::int32_t by_edge =
      axis.middle * 256 + (inner_after ? axis.after.q8 - width / 2 : width / 2 - axis.before.q8);
  axis.wide_q8 +=
      (by_edge - axis.wide_q8) * clamp_i32((2 * border - peak) * 256 / peak, 0, 256) / 256;
}

std::int32_t placed_q8(Axis axis, const Axis& other, std::int32_t peak) {
  std::int32_t width = axis.width_q8();
  if (axis.cut() && !other.cut()) uncover(axis, width, other.width_q8(), peak);
  const std::int32_t part = clamp_i32(width - kNarrowQ8, 0, kWideQ8 - kNarrowQ8);
  return axis.narrow_q8 + (axis.wide_q8 - axis.narrow_q8) * part / (kWideQ8 - kNarrowQ8);
}

std::int16_t on_panel_q8(std::int32_t place, int lines) {
  return static_cast<std::int16_t>(clamp_i32(place, -128, lines * 256 - 128));  // at most 32,640
}

// What the 3 × 3 nodes around a peak tell: all of a narrow contact.
void look_around(Axis& x, Axis& y, Peak& peak, const Field& field,
                 std::int32_t neighbour_permille) {
  std::int32_t by_col[3] = {};
  std::int32_t by_row[3] = {};
  peak.half_nodes = peak.flat_nodes = 0;
  for (int dr = -1; dr <= 1; ++dr)
    for (int dc = -1; dc <= 1; ++dc) {
      const std::int32_t w = field.weight(peak.row + dr, peak.col + dc);
      by_row[dr + 1] += w;
      by_col[dc + 1] += w;
      if (2 * w >= peak.strength) ++peak.half_nodes;
      if (4 * w >= 3 * peak.strength) ++peak.flat_nodes;
    }
  const Shape shape = field.shape;
  x.narrow_q8 = offset_q8(by_col, peak.col > 0, peak.col + 1 < shape.cols, neighbour_permille);
  y.narrow_q8 = offset_q8(by_row, peak.row > 0, peak.row + 1 < shape.rows, neighbour_permille);
}

void reach_out(Axis& x, Axis& y, const Peak& peak, const Field& field) {
  const int row = peak.row + y.middle;
  const int col = peak.col + x.middle;
  x.before = reach(field, peak.strength, row, col, 0, -1);
  x.after = reach(field, peak.strength, row, col, 0, 1);
  y.before = reach(field, peak.strength, row, col, -1, 0);
  y.after = reach(field, peak.strength, row, col, 1, 0);
}

// Level from which a wide peak's area is taken, counts: an eighth of it, but not among what no
// region holds.
std::int32_t skirt_level(const Peak& peak, std::int32_t surface) {
  const std::int32_t level = peak.strength >> 3 > surface ? peak.strength >> 3 : surface;
  return level < peak.strength ? level : peak.strength - 1;  // a weight remains
}

}  // namespace

void place(PeakList& peaks, int at, PeakSet rivals, const Box& box, const Field& field,
           const Settings& settings, std::int32_t surface) {
  Peak& peak = peaks.peak[at];
  Axis x, y;
  look_around(x, y, peak, field, settings.neighbour_permille);
  reach_out(x, y, peak, field);
  // Most contacts are narrow, and then their area need not be grown.
  if (x.width_q8() > kNarrowQ8 || y.width_q8() > kNarrowQ8) {
    const PeakArea area = area_of(field, peaks, at, rivals, box, skirt_level(peak, surface));
    peak.half_nodes = static_cast<std::uint16_t>(area.half);
    peak.flat_nodes = static_cast<std::uint16_t>(area.flat);
    x.wide_q8 = quotient_q8(area.weight_col, area.weight);
    y.wide_q8 = quotient_q8(area.weight_row, area.weight);
    x.middle = (x.wide_q8 + 128) >> 8;
    y.middle = (y.wide_q8 + 128) >> 8;
    reach_out(x, y, peak, field);
  }
  const std::int32_t height = peak.strength;
  peak.x_q8 = on_panel_q8(peak.col * 256 + placed_q8(x, y, height), field.shape.cols);
  peak.y_q8 = on_panel_q8(peak.row * 256 + placed_q8(y, x, height), field.shape.rows);
}

void locate(Peak& peak, View<const std::int16_t> difference, const Settings& settings) {
  const Shape shape = settings.shape;
  const Box panel{0, static_cast<std::uint8_t>(shape.rows - 1), 0,
                  static_cast<std::uint8_t>(shape.cols - 1)};
  PeakList one;
  one.peak[0] = peak;
  one.count = 1;
  place(one, 0, 0, panel, {difference, shape}, settings,
        permille_of(settings.finger_counts, settings.surface_permille));
  peak = one.peak[0];
}

}  // namespace bareglass
