// What kind of thing a region of one frame is.
#include "bareglass/core/arith.hpp"
#include "finding_parts.hpp"

namespace bareglass {

namespace {

// A finger pad leaves a region of at most this extent; two nodes of skirt on 5 mm pitch included.
constexpr std::int32_t kFingerUm = 26000;
// A band along a border is at least this long (longer than a finger's region) and this shallow.
constexpr std::int32_t kBandLengthUm = 30000;
constexpr int kBandDepthLines = 2;
// Flat: the mean reaches this share of the peak. A lone finger's region has a mean near 0.45 of its
// peak; a film of even depth keeps 0.7 and more even with its skirt.
constexpr std::int32_t kFlatPermille = 600;

// A raised place of at most this extent is a drop; its skirt is below the limit.
constexpr std::int32_t kDropUm = 17000;
bool is_flat(const Region& region) {
  return abs_i32(region.mean()) >= permille_of(abs_i32(region.peak), kFlatPermille);
}

std::int32_t height_um(const Box& box, const Settings& s) { return box.height() * s.pitch_row_um; }
std::int32_t width_um(const Box& box, const Settings& s) { return box.width() * s.pitch_col_um; }

bool is_finger_sized(const Region& region, const Settings& s) {
  return height_um(region.box, s) <= kFingerUm && width_um(region.box, s) <= kFingerUm;
}

// A drop's rim is weak beside it; the other sign of a streak is stronger than itself.
bool is_rim_of(const Region& rim, const Region& drop) {
  return rim.peak > 0 && overlaps(rim.box, drop.box, 1) && 5 * rim.peak <= 2 * abs_i32(drop.peak);
}

}  // namespace

bool is_border_band(const Region& region, Shape shape, const Settings& s) {
  const Box& b = region.box;
  const bool shallow_rows = b.height() <= kBandDepthLines && width_um(b, s) >= kBandLengthUm;
  const bool shallow_cols = b.width() <= kBandDepthLines && height_um(b, s) >= kBandLengthUm;
  const bool at_row_border = b.row0 == 0 || b.row1 == shape.rows - 1;
  const bool at_col_border = b.col0 == 0 || b.col1 == shape.cols - 1;
  return (shallow_rows && at_row_border) || (shallow_cols && at_col_border);
}

bool is_drop(const RegionTable& regions, const Region& region, const Settings& s) {
  const bool small = region.box.height() * s.pitch_row_um <= kDropUm &&
                     region.box.width() * s.pitch_col_um <= kDropUm;
  if (region.explained || region.peak >= 0 || !small) return false;
  for (int k = 0; k < regions.count; ++k) {
    const Region& other = regions.region[k];
    if (other.peak > 0 && is_two_sign_pair(region, other) && !is_rim_of(other, region))
      return false;
  }
  return true;
}

bool is_rim_in_splash(const RegionTable& regions, const Region& region, const Settings& s) {
  for (int k = 0; k < regions.count; ++k)
    if (is_rim_of(region, regions.region[k]) && is_drop(regions, regions.region[k], s)) return true;
  return false;
}

const char* name_of(FindingKind kind) {
  // Three small tables: one over the whole range of numbers would be half a kilobyte of holes.
  static constexpr const char* kSurface[] = {"none",
                                             "held touch",
                                             "raised plateau",
                                             "lowered plateau",
                                             "lowered band at the border",
                                             "two-signed conductor",
                                             "unknown",
                                             "lone node",
                                             "faint film",
                                             "drops"};
  static constexpr const char* kLines[] = {"dead line", "cut line",   "bridged pair",
                                           "weak line", "tail group", "loose line"};
  static constexpr const char* kWire[] = {"interference", "common mode", "weak coupling",
                                          "supply sag"};
  const int n = static_cast<int>(kind);
  if (n < 10) return kSurface[n];
  if (n >= 64 && n < 70) return kLines[n - 64];
  if (n >= 128 && n < 132) return kWire[n - 128];
  return "unknown";
}

FindingKind kind_of(const Region& region, Shape shape, const Settings& settings,
                    const Limits& limits) {
  if (region.lone) return FindingKind::lone_node;
  if (region.peak < 0) {
    if (is_flat(region) || region.nodes <= 4) return FindingKind::raised_plateau;
    return FindingKind::unknown;
  }
  if (is_border_band(region, shape, settings)) return FindingKind::border_band;
  // What is no larger than a finger and weaker is no wide conductor, however flat: a rim, or
  // chance.
  if (is_finger_sized(region, settings))
    return region.peak >= limits.touch_off ? FindingKind::held_touch : FindingKind::unknown;
  return is_flat(region) ? FindingKind::lowered_plateau : FindingKind::unknown;
}

}  // namespace bareglass
