#include "bareglass/core/contacts.hpp"

#include "bareglass/core/arith.hpp"
#include "contact_field.hpp"
#include "finding_parts.hpp"

namespace bareglass {

namespace {

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

// Maxima that no valley parts from a stronger one of their region are left out already here, so
// that the bumps of a noisy palm don't fill the list.
bool joins_stronger(const PeakList& peaks, const Peak& peak, const Field& field,
                    const Parting& parting) {
  for (int k = 0; k < peaks.count; ++k) {
    const Peak& other = peaks.peak[k];
    if (other.region == peak.region && other.strength >= peak.strength &&
        !parting.parts(field, other, peak))
      return true;
  }
  return false;
}

void collect_maxima(PeakList& peaks, const Region& region, int number, const Field& field,
                    View<const std::uint8_t> label, std::int32_t least, const Parting& parting) {
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
      if (!joins_stronger(peaks, peak, field, parting)) insert_sorted(peaks, peak);
    }
}

// A stronger maximum may have been found after the ones that it takes in.
void drop_joined(PeakList& peaks, const Field& field, const Parting& parting) {
  const int found = peaks.count;
  peaks.count = 0;
  for (int k = 0; k < found; ++k) {
    const Peak peak = peaks.peak[k];  // entries up to count are kept ones and lie before k
    if (!joins_stronger(peaks, peak, field, parting)) peaks.peak[peaks.count++] = peak;
  }
}

// The bumps of a palm are parted by shallower valleys than fingers side by side, which reach 80 %
// of the lower one only where they press against each other.
constexpr std::int32_t kBodyPermille = 800;

// The peaks of a region other than `at`, all of them or those that a deep valley parts from it.
PeakSet rivals_of(const PeakList& peaks, int at, const Field& field, const Parting* deep) {
  PeakSet rivals = 0;
  const Peak& peak = peaks.peak[at];
  for (int k = 0; k < peaks.count; ++k) {
    if (k == at || peaks.peak[k].region != peak.region) continue;
    if (deep == nullptr || deep->parts(field, peaks.peak[k], peak)) rivals |= PeakSet{1} << k;
  }
  return rivals;
}

// Drops the other peaks of the region of peak `at`; returns where that peak is now.
int keep_of_region(PeakList& peaks, int at) {
  const Peak kept = peaks.peak[at];
  const int found = peaks.count;
  int now = 0;
  peaks.count = 0;
  for (int k = 0; k < found; ++k) {
    if (k == at) now = peaks.count;
    if (k == at || peaks.peak[k].region != kept.region) peaks.peak[peaks.count++] = peaks.peak[k];
  }
  return now;
}

// No row of fingertips that a valley fails to part is so long: a flat-lying finger, the edge of a
// hand, a trickle that reaches the bezel.
constexpr int kRidgeUm = 60000;
// Along a border, where fluid creeps in, this length without a dip is enough.
constexpr int kBandUm = 40000;

int length_um(int rows, int cols, const Settings& s) {
  const int high = rows * s.pitch_row_um;
  const int wide = cols * s.pitch_col_um;
  return high > wide ? high : wide;
}

// Long above half of its peak; a band also level: three quarters of that reach three quarters of
// it.
bool is_ridge(const PeakArea& area, bool band, const Settings& s) {
  const int long_um = length_um(area.bottom - area.top + 1, area.right - area.left + 1, s);
  return long_um > kRidgeUm || (band && long_um >= kBandUm && 4 * area.flat >= 3 * area.half);
}

// Of a region with a palm in it the palm alone is kept: whatever hangs together with it may be a
// part of the hand.
void find_palms(PeakList& peaks, const RegionTable& regions, const Field& field,
                const Settings& settings, const Limits& limits) {
  const Parting deep{kBodyPermille, 0};
  for (int k = 0; k < peaks.count; ++k) {
    const Region& region = regions.region[peaks.peak[k].region];
    const int long_um = length_um(region.box.height(), region.box.width(), settings);
    // Two borders can make an area count for 25/16 of itself.
    if (25 * region.nodes < 16 * limits.palm_nodes && long_um < kBandUm) continue;
    const bool band = is_border_band(region, settings.shape, settings);
    const PeakSet rivals = rivals_of(peaks, k, field, &deep);
    const PeakArea area = area_of(field, peaks, k, rivals, region.box, half_level(peaks.peak[k]));
    if (!is_palm(area, settings, limits) && !is_ridge(area, band, settings)) continue;
    peaks.peak[k].palm = true;
    k = keep_of_region(peaks, k);
  }
}

void place_all(PeakList& peaks, const RegionTable& regions, const Field& field,
               const Settings& settings, std::int32_t surface) {
  for (int k = 0; k < peaks.count; ++k)
    place(peaks, k, rivals_of(peaks, k, field, nullptr), regions.region[peaks.peak[k].region].box,
          field, settings, surface);
}

}  // namespace

void find_peaks(PeakList& peaks, const RegionTable& regions, View<const std::uint8_t> label,
                View<const std::int16_t> difference, const Settings& settings, const Limits& limits,
                std::int32_t sigma_q4) {
  const Field field{difference, settings.shape};
  const Parting parting{settings.saddle_permille, sigma_q4};
  peaks.count = 0;
  for (int k = 0; k < regions.count; ++k) {
    const Region& region = regions.region[k];
    if (region.explained || region.two_signed || region.lone) continue;
    if (region.peak < limits.touch_off) continue;
    collect_maxima(peaks, region, k, field, label, limits.touch_off, parting);
  }
  drop_joined(peaks, field, parting);
  find_palms(peaks, regions, field, settings, limits);
  place_all(peaks, regions, field, settings, limits.surface);
}

}  // namespace bareglass
