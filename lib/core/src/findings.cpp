#include "bareglass/core/findings.hpp"

#include "bareglass/core/arith.hpp"
#include "bareglass/core/lines.hpp"

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

/// What a surface finding's confidence is held against.
struct Sureness {
  std::int32_t limit = 0;     ///< counts
  std::int32_t sigma_q4 = 0;  ///< counts Q4
  std::int32_t permille = 1000;
};

// An intermittent line rests between its failures, for as long as a unit is not moved.
constexpr std::uint64_t kIntermittentRestUs = 30000000;

/// How long a finding is kept unseen.
std::uint64_t hold_us(FindingKind kind, std::uint64_t gone_us) {
  if (kind == FindingKind::intermittent_line) return kIntermittentRestUs;
  // A bridge is seen while the baseline still tells the two lines apart, and then no more.
  return kind == FindingKind::bridged_lines ? ~std::uint64_t{0} : gone_us;
}

bool is_flat(const Region& region) {
  return abs_i32(region.mean()) >= permille_of(abs_i32(region.peak), kFlatPermille);
}

std::int32_t height_um(const Box& box, const Settings& s) { return box.height() * s.pitch_row_um; }
std::int32_t width_um(const Box& box, const Settings& s) { return box.width() * s.pitch_col_um; }

// Hugging one border: touches it, no deeper than two lines, and long.
bool is_border_band(const Region& region, Shape shape, const Settings& s) {
  const Box& b = region.box;
  const bool shallow_rows = b.height() <= kBandDepthLines && width_um(b, s) >= kBandLengthUm;
  const bool shallow_cols = b.width() <= kBandDepthLines && height_um(b, s) >= kBandLengthUm;
  const bool at_row_border = b.row0 == 0 || b.row1 == shape.rows - 1;
  const bool at_col_border = b.col0 == 0 || b.col1 == shape.cols - 1;
  return (shallow_rows && at_row_border) || (shallow_cols && at_col_border);
}

bool is_finger_sized(const Region& region, const Settings& s) {
  return height_um(region.box, s) <= kFingerUm && width_um(region.box, s) <= kFingerUm;
}

// A raised place of at most this extent is a drop; its skirt is below the limit.
constexpr std::int32_t kDropUm = 17000;
// A lone finding without a reference is held against what the panel seems to be.
constexpr std::int32_t kUnknownPermille = 500;

// What speaks against a surface finding's kind: an unknown is a guess by definition; a plateau of a
// few nodes is flat by chance.
std::int32_t against_of(const Region& region, FindingKind kind) {
  if (kind == FindingKind::unknown) return kUnknownPermille;
  return region.nodes < 3 ? 800 : 1000;
}

Finding seen_region(const Region& region, FindingKind kind, std::uint64_t t_us,
                    const Sureness& sureness) {
  Finding f;
  f.measured = region.peak;
  f.limit = saturate_i16(sureness.limit);
  f.confidence = confidence_of(region.peak, sureness.limit, (sureness.sigma_q4 + 15) >> 4,
                               against_of(region, kind) * sureness.permille / 1000);
  f.kind = kind;
  f.box = region.box;
  f.peak_row = region.peak_row;
  f.peak_col = region.peak_col;
  f.nodes = region.nodes;
  f.peak = f.first_peak = region.peak;
  f.mean = saturate_i16(region.mean());
  f.first_us = f.last_us = t_us;
  return f;
}

void take_peak(Finding& f, const Region& region) {
  f.measured = region.peak;
  f.peak = f.first_peak = region.peak;
  f.peak_row = region.peak_row;
  f.peak_col = region.peak_col;
  f.mean = saturate_i16(region.mean());
}

// Folds another part of a two-signed conductor into its finding. The stronger sign is the peak.
void add_half(Finding& f, const Region& half) {
  f.box = enclosing(f.box, half.box);
  f.nodes = static_cast<std::uint16_t>(f.nodes + half.nodes);
  const bool same_sign = (half.peak > 0) == (f.peak > 0);
  if (abs_i32(half.peak) > abs_i32(f.peak)) {
    if (!same_sign) f.opposite = f.peak;
    take_peak(f, half);
  } else if (!same_sign && abs_i32(half.peak) > abs_i32(f.opposite)) {
    f.opposite = half.peak;
  }
}

// Joins to the finding of region `first` every later region that shows it to be one conductor with
// two signs: first its opposite, then whatever else touches the two. An L-shaped streak has one
// corner and two arms that do not touch each other.
void gather_halves(Finding& f, const RegionTable& regions, int first, std::uint32_t& taken) {
  static_assert(RegionTable::kMaxRegions <= 32, "regions fit a bit set");
  if (f.kind == FindingKind::lone_node || f.kind == FindingKind::drops) return;
  for (bool grew = true; grew;) {
    grew = false;
    for (int m = first + 1; m < regions.count; ++m) {
      const Region& other = regions.region[m];
      if ((taken & (1u << m)) || other.explained || other.lone) continue;
      const bool joined = f.kind == FindingKind::two_sign_conductor;
      const bool belongs =
          joined ? overlaps(f.box, other.box, 1) && 5 * abs_i32(other.peak) >= abs_i32(f.peak)
                 : is_two_sign_pair(regions.region[first], other);
      if (!belongs) continue;
      taken |= 1u << m;
      f.kind = FindingKind::two_sign_conductor;
      add_half(f, other);
      grew = true;
    }
  }
}

// Two regions of one frame that belong to the same finding.
void merge(Finding& f, const Finding& part) {
  const std::int32_t sum = f.mean * f.nodes + part.mean * part.nodes;
  f.box = enclosing(f.box, part.box);
  f.nodes = static_cast<std::uint16_t>(f.nodes + part.nodes);
  f.mean = saturate_i16(sum / f.nodes);
  if (abs_i32(part.peak) <= abs_i32(f.peak)) return;
  f.measured = part.measured;
  f.confidence = part.confidence;
  f.peak = part.peak;
  f.peak_row = part.peak_row;
  f.peak_col = part.peak_col;
}

// A drop's rim is weak beside it; the other sign of a streak is stronger than itself.
bool is_rim_of(const Region& rim, const Region& drop) {
  return rim.peak > 0 && overlaps(rim.box, drop.box, 1) && 5 * rim.peak <= 2 * abs_i32(drop.peak);
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

// Several small raised places at once are a splash, however far apart. A lone node may be one of
// them (a small drop's rim drowns in noise), but lone nodes alone are a fault of the panel.
// `is_new`: not what is left of a thing that was there before. A splash lasts while one with a rim
// is left.
template <typename IsNew>
bool are_drops(const RegionTable& regions, const Settings& s, bool before, IsNew is_new) {
  const int several = before ? 1 : 3;
  int drops = 0;
  int lone = 0;
  for (int k = 0; k < regions.count; ++k) {
    if (!is_drop(regions, regions.region[k], s) || !is_new(regions.region[k])) continue;
    ++drops;
    lone += regions.region[k].lone ? 1 : 0;
  }
  return drops >= several && drops - lone >= (before ? 1 : 2);
}

// In a splash a drop's rim belongs to it.
bool is_rim_in_splash(const RegionTable& regions, const Region& region, const Settings& s) {
  for (int k = 0; k < regions.count; ++k)
    if (is_rim_of(region, regions.region[k]) && is_drop(regions, regions.region[k], s)) return true;
  return false;
}

// One finding of the same kind may be a row's and another a column's.
bool is_same_thing(const Finding& f, const Box& before, const Finding& seen) {
  if (f.kind != seen.kind) return false;
  if (f.kind == FindingKind::drops || is_electrical_kind(f.kind)) return true;
  if (is_line_kind(f.kind) && f.lines.of_rows != seen.lines.of_rows) return false;
  return overlaps(before, seen.box, is_line_kind(f.kind) ? 0 : 1);
}

void journal_finding(Journal& journal, JournalCode code, const Finding& f, std::uint64_t t_us,
                     std::int32_t limit) {
  journal.add(
      {t_us, f.peak, limit, code, static_cast<std::uint8_t>(f.kind), f.peak_row, f.peak_col});
}

}  // namespace

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

void FindingTable::update(Journal& journal, const RegionTable& regions, Shape shape,
                          const Settings& settings, const Limits& limits, std::uint64_t t_us,
                          std::uint64_t confirm_us, std::uint64_t gone_us, bool input_in_use) {
  for (std::size_t k = 0; k < count_; ++k) before_[k] = finding_[k].box;
  std::uint32_t taken = 0;  // bit k: region k is part of an earlier finding of this frame
  // A film that dries breaks up into patches and stays one finding.
  const auto is_new = [this](const Region& region) {
    for (std::size_t k = 0; k < count_; ++k)
      if (!finding_[k].gone && finding_[k].confirmed && finding_[k].kind != FindingKind::drops &&
          finding_[k].kind != FindingKind::lone_node &&
          finding_[k].kind != FindingKind::faint_film && is_surface_kind(finding_[k].kind) &&
          overlaps(before_[k], region.box, 0))
        return false;
    return true;
  };
  bool before = false;
  for (std::size_t k = 0; k < count_; ++k)
    before = before || (finding_[k].kind == FindingKind::drops && !finding_[k].gone);
  const bool splash = are_drops(regions, settings, before, is_new);
  for (int k = 0; k < regions.count; ++k) {
    if ((taken & (1u << k)) || regions.region[k].explained) continue;
    if (splash && is_rim_in_splash(regions, regions.region[k], settings)) continue;
    const bool drop =
        splash && is_drop(regions, regions.region[k], settings) && is_new(regions.region[k]);
    const FindingKind kind =
        drop ? FindingKind::drops : kind_of(regions.region[k], shape, settings, limits);
    Finding f =
        seen_region(regions.region[k], kind, t_us, {limits.surface, sigma_q4_, against_permille_});
    gather_halves(f, regions, k, taken);
    const bool is_contact = f.kind == FindingKind::held_touch ||
                            (f.kind == FindingKind::lowered_plateau && f.peak >= limits.touch_on);
    if (input_in_use && is_contact)
      see_again(f);
    else
      see(journal, f, limits.surface, confirm_us, input_in_use);
  }
  for (std::size_t k = 0; k < count_; ++k) {
    Finding& f = finding_[k];
    // Against a baseline that holds it, a thing cannot be seen. A look would show it, if it is
    // strong enough for the look's limit.
    const bool hidden = f.in_baseline && (input_in_use || abs_i32(f.peak) < limits.surface);
    if (f.last_us == t_us) continue;
    if (away_[k] < 255) ++away_[k];
    if (f.gone || hidden || t_us - f.last_us < hold_us(f.kind, gone_us)) continue;
    f.gone = true;
    f.in_baseline = false;
    if (f.confirmed) journal_finding(journal, JournalCode::finding_ended, f, t_us, limits.surface);
  }
}

void FindingTable::see(Journal& journal, const Finding& seen, std::int32_t limit,
                       std::uint64_t confirm_us, bool input_in_use) {
  for (std::size_t k = 0; k < count_; ++k) {
    Finding& f = finding_[k];
    // While input is in use, what is seen at an adopted finding's place has come on top of it.
    if (f.gone || (input_in_use && f.in_baseline)) continue;
    if (!is_same_thing(f, before_[k], seen)) continue;
    if (f.last_us == seen.last_us) {
      merge(f, seen);
      return;
    }
    const Finding before = f;
    f = seen;
    away_[k] = 0;
    f.first_us = before.first_us;
    f.first_peak = before.first_peak;
    f.confirmed = before.confirmed || f.last_us - f.first_us >= confirm_us;
    if (f.confirmed && !before.confirmed)
      journal_finding(journal, JournalCode::finding_began, f, f.last_us, limit);
    return;
  }
  Finding* place = place_for_new();
  if (place == nullptr) return;
  *place = seen;
  before_[place - finding_] = seen.box;
  away_[place - finding_] = returns_[place - finding_] = 0;
  place->confirmed = confirm_us == 0;
  if (place->confirmed)
    journal_finding(journal, JournalCode::finding_began, seen, seen.last_us, limit);
}

// A line that is seen anew after it was whole for a while, several times, is a loose contact.
bool FindingTable::is_return(std::size_t k, const Finding& seen) const {
  const Finding& f = finding_[k];
  return is_line_kind(f.kind) && f.lines.of_rows == seen.lines.of_rows &&
         seen.lines.first <= f.lines.last && seen.lines.last >= f.lines.first &&
         seen.last_us - f.last_us < kIntermittentRestUs;
}

void FindingTable::see_line(Journal& journal, const Finding& seen, std::int32_t limit,
                            std::uint64_t confirm_us, bool input_in_use) {
  constexpr int kWholeFrames = 2;  // one frame could be chance
  constexpr int kReturns = 2;
  for (std::size_t k = 0; k < count_; ++k) {
    Finding& f = finding_[k];
    if (!is_return(k, seen)) continue;
    if (f.kind == FindingKind::intermittent_line && !f.gone) {
      f.last_us = seen.last_us;
      away_[k] = 0;
      return;
    }
    const bool clear = 2 * abs_i32(seen.limit) <= 3 * abs_i32(seen.measured);
    if (!input_in_use || f.in_baseline || away_[k] < kWholeFrames || !clear) continue;
    const std::uint8_t returns = ++returns_[k];
    const std::uint64_t first_us = returns < kReturns ? seen.first_us : f.first_us;
    const bool was_open = f.confirmed && !f.gone;
    if (was_open) journal_finding(journal, JournalCode::finding_ended, f, seen.last_us, limit);
    f = seen;
    f.first_us = first_us;
    away_[k] = 0;
    before_[k] = seen.box;
    if (returns < kReturns) return;
    f.kind = FindingKind::intermittent_line;
    f.confirmed = true;
    journal_finding(journal, JournalCode::finding_began, f, f.last_us, limit);
    return;
  }
  see(journal, seen, limit, confirm_us, input_in_use);
}

void FindingTable::update_lines(Journal& journal, const LineFaults& faults, std::int32_t limit,
                                std::uint64_t t_us, std::uint64_t confirm_us, bool input_in_use) {
  for (std::size_t k = 0; k < count_; ++k) before_[k] = finding_[k].box;
  for (int k = 0; k < faults.count; ++k) {
    const LineFault& fault = faults.fault[k];
    Finding f;
    f.kind = fault.kind;
    f.lines = fault.place;
    f.box = fault.box;
    f.peak_row = fault.peak_row;
    f.peak_col = fault.peak_col;
    f.nodes = static_cast<std::uint16_t>(f.box.height() * f.box.width());
    f.peak = f.first_peak = f.mean = fault.peak;
    f.measured = fault.loss;
    f.limit = fault.limit;
    f.confidence = static_cast<std::uint16_t>(fault.confidence * against_permille_ / 1000);
    f.first_us = f.last_us = t_us;
    if (is_line_kind(f.kind))
      see_line(journal, f, limit, confirm_us, input_in_use);
    else
      see(journal, f, limit, confirm_us, input_in_use);
  }
}

void FindingTable::observe(Journal& journal, const Finding& seen, std::int32_t limit) {
  for (std::size_t k = 0; k < count_; ++k) before_[k] = finding_[k].box;
  see(journal, seen, limit, 0, true);
}

void FindingTable::see_again(const Finding& seen) {
  for (std::size_t k = 0; k < count_; ++k) {
    Finding& f = finding_[k];
    if (f.gone || f.in_baseline || !f.confirmed || !is_same_thing(f, before_[k], seen)) continue;
    f.last_us = seen.last_us;
    f.box = seen.box;
    f.peak = seen.peak;
    f.mean = seen.mean;
    f.nodes = seen.nodes;
  }
}

Finding* FindingTable::place_for_new() {
  if (count_ < kMaxFindings) return &finding_[count_++];
  // The longest unseen goes first, gone ones before all others; of those seen alike the weakest. A
  // confirmed one that is still there is never pushed out.
  const auto is_better = [](const Finding& a, const Finding& b) {
    if (a.gone != b.gone) return a.gone;
    if (a.last_us != b.last_us) return a.last_us < b.last_us;
    return abs_i32(a.peak) < abs_i32(b.peak);
  };
  Finding* place = nullptr;
  for (Finding& f : finding_) {
    if (!f.gone && f.confirmed) continue;
    if (place == nullptr || is_better(f, *place)) place = &f;
  }
  return place;
}

void FindingTable::add(Journal& journal, const Finding& finding, std::int32_t limit) {
  Finding* place = place_for_new();
  if (place == nullptr) return;
  *place = finding;
  before_[place - finding_] = finding.box;
  away_[place - finding_] = returns_[place - finding_] = 0;
  place->confirmed = true;
  journal_finding(journal, JournalCode::finding_began, finding, finding.last_us, limit);
}

void FindingTable::mark_in_baseline() {
  for (std::size_t k = 0; k < count_; ++k)
    if (!finding_[k].gone && finding_[k].confirmed) finding_[k].in_baseline = true;
}

void FindingTable::end_all(Journal& journal, std::uint64_t t_us, std::int32_t limit) {
  for (std::size_t k = 0; k < count_; ++k) {
    Finding& f = finding_[k];
    if (!f.gone && f.confirmed)
      journal_finding(journal, JournalCode::finding_ended, f, t_us, limit);
    f.gone = true;
    f.in_baseline = false;
  }
}

const Finding* FindingTable::worst() const {
  const Finding* worst = nullptr;
  for (std::size_t k = 0; k < count_; ++k) {
    const Finding& f = finding_[k];
    if (f.gone || f.in_baseline || !f.confirmed || !keeps_off(f.kind)) continue;
    if (worst == nullptr || abs_i32(f.peak) > abs_i32(worst->peak)) worst = &f;
  }
  return worst;
}

const Finding* FindingTable::in_baseline_at(const Box& box) const {
  for (std::size_t k = 0; k < count_; ++k)
    if (finding_[k].in_baseline && !finding_[k].gone && is_surface_kind(finding_[k].kind) &&
        overlaps(finding_[k].box, box, 1))
      return &finding_[k];
  return nullptr;
}

}  // namespace bareglass
