// The things on the glass of one frame or look, as findings.

#include "bareglass/core/arith.hpp"
#include "bareglass/core/lines.hpp"
#include "finding_parts.hpp"

namespace bareglass {

namespace {

// A place of one or two nodes could be chance.
constexpr int kFewNodes = 2;
constexpr std::int32_t kFewNodesPermille = 600;

void take_peak(Finding& f, const Region& region) {
  f.measured = region.peak;
  f.peak = f.first_peak = region.peak;
  f.peak_row = region.peak_row;
  f.peak_col = region.peak_col;
  f.mean = saturate_i16(region.mean());
}

// Folds another part of a two-signed conductor into its finding. The stronger sign is the peak.
void add_half(Finding& f, std::int32_t& net, const Region& half) {
  net += half.sum;
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
// Returns what all of it loses less what it gains, counts.
std::int32_t gather_halves(Finding& f, const RegionTable& regions, int first,
                           std::uint32_t& taken) {
  static_assert(RegionTable::kMaxRegions <= 32, "regions fit a bit set");
  std::int32_t net = regions.region[first].sum;
  if (f.kind == FindingKind::lone_node || f.kind == FindingKind::drops) return net;
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
      add_half(f, net, other);
      grew = true;
    }
  }
  return net;
}

// The nodes that hands may reach into: the least box round all that touches. A hand with 60 pF to
// earth still couples the rows it spans to the columns it spans, so what rises between its fingers
// is the hand's. Empty (row0 > row1) if nothing touches.
Box span_of_hands(const RegionTable& regions, std::int32_t least) {
  Box span{255, 0, 255, 0};
  for (int k = 0; k < regions.count; ++k) {
    const Region& region = regions.region[k];
    if (region.lone || region.explained || region.peak < least) continue;
    span = span.row0 > span.row1 ? region.box : enclosing(span, region.box);
  }
  return span;
}

// Whether a person could have made it. What lowers counts can be a hand, a sleeve with an arm in
// it, or what a touch sends along its lines; what raises them only beside a hand. A body takes more
// charge to earth than it hands on from rows to columns; a conductor that reaches no earth cannot.
bool could_be_a_hand(const Finding& f, std::int32_t net, const RegionTable& regions,
                     std::int32_t touch_off) {
  if (f.kind == FindingKind::lone_node) return false;
  if (f.kind == FindingKind::two_sign_conductor) return net > 0;
  if (f.peak > 0) return true;
  const Box hands = span_of_hands(regions, touch_off);
  return hands.row0 <= hands.row1 && overlaps(hands, f.box, 1);
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

}  // namespace

Finding seen_region(const Region& region, FindingKind kind, std::uint64_t t_us,
                    std::int32_t limit) {
  Finding f;
  f.limit = saturate_i16(limit);
  f.kind = kind;
  f.box = region.box;
  f.nodes = region.nodes;
  take_peak(f, region);
  f.first_us = f.last_us = t_us;
  return f;
}

void FindingTable::update(Journal& journal, const RegionTable& regions, Shape shape,
                          const Settings& settings, const Limits& limits, std::uint64_t t_us,
                          const Patience& patience) {
  const bool input_in_use = patience.input_in_use;
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
    Finding f = seen_region(regions.region[k], kind, t_us, limits.surface);
    const std::int32_t net = gather_halves(f, regions, k, taken);
    const std::int32_t against =
        f.nodes <= kFewNodes ? against_permille_ * kFewNodesPermille / 1000 : against_permille_;
    f.confidence =
        confidence_of(f.kind, score_of(f.measured, limits.surface, (sigma_q4_ + 15) >> 4, against));
    const bool is_contact = f.peak >= limits.touch_on && !regions.region[k].lone &&
                            f.kind != FindingKind::two_sign_conductor;
    if (input_in_use && is_contact) {
      see_again(f);
      continue;
    }
    const bool hand = input_in_use && could_be_a_hand(f, net, regions, limits.touch_off);
    see(journal, f, limits.surface,
        {hand ? patience.hand_us : patience.confirm_us, hand, input_in_use});
  }
  for (std::size_t k = 0; k < count_; ++k) {
    Finding& f = finding_[k];
    // Against a baseline that holds it, a thing cannot be seen. A look would show it, if it is
    // strong enough for the look's limit.
    const bool hidden = f.in_baseline && (input_in_use || abs_i32(f.peak) < limits.surface);
    if (f.last_us == t_us) continue;
    if (away_[k] < 255) ++away_[k];
    if (f.gone || hidden || t_us - f.last_us < hold_us(f.kind, patience.gone_us)) continue;
    f.gone = true;
    f.in_baseline = false;
    if (f.confirmed) journal_finding(journal, JournalCode::finding_ended, f, t_us, limits.surface);
  }
  note_overflow(journal, t_us);
}

}  // namespace bareglass
