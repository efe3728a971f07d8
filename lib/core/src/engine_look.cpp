// What a look at the glass with no trusted baseline concludes: what departs, how much could lie
// there unseen, and the verdict.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/engine.hpp"

namespace bareglass {

namespace {

// A faint film is wide: at least so many nodes side by side whose 3 x 3 means stand so far above
// their noise and above a share of a finger. 100 um of dry tape reach 5 permille on 1.1 mm glass
// and 25 on 0.7 mm; what the rows of a large panel drift by during a look stays below 4.
constexpr int kLeastFaintNodes = 6;
constexpr std::int32_t kFaintSigmasTenths = 42;
constexpr std::int32_t kFaintPermille = 4;
// Share of the limit below which a glass that was refused counts as bare again.
constexpr std::int32_t kReturnPermille = 750;

// Without a reference the limit stands so many standard deviations of the panel's own spread off,
// tenths: of a hundred bare panels of 100 to 3000 nodes one or two have a node beyond it (normal
// spread, polished; the estimate itself is off by 15 % on the smallest). What exceeds it by
// kSurelySigmasTenths more shows whatever its place adds.
constexpr std::int32_t kSpreadTenths = 48;
constexpr std::int32_t kSurelySigmasTenths = 35;

constexpr Box kNoPlace{kNoLine, kNoLine, kNoLine, kNoLine};

// Of noise alone the largest range of a few thousand nodes is twice the mean range: a panel as
// noisy as that is not unsteady. Not more than twice the setting: one frame that is spoiled as a
// whole raises the mean range too.
std::int32_t unsteady_limit_of(std::int32_t limit, std::int32_t typical_range) {
  const std::int32_t by_noise = 3 * typical_range;
  return clamp_i32(by_noise, limit, 2 * limit);
}

Box box_of_node(int node, Shape shape) {
  const auto row = static_cast<std::uint8_t>(node / shape.cols);
  const auto col = static_cast<std::uint8_t>(node % shape.cols);
  return {row, row, col, col};
}

}  // namespace

// A node that the factory reference knows as bad is as it was: it neither departs nor moves.
void Engine::forgive_known_nodes() {
  const LookSampler::Arrays arrays = look_arrays();
  for (std::size_t i = 0; i < nodes(); ++i) {
    if (mark_at(i) != NodeMark::known_bad) continue;
    const auto mean =
        static_cast<std::uint16_t>(arrays.sum[i] / static_cast<std::uint32_t>(sampler_.taken()));
    arrays.least[i] = arrays.greatest[i] = mean;
  }
}

// Without a reference: the limit of this look after the panel's own spread.
void Engine::limit_by_spread() {
  const Shape shape = settings_.shape;
  spread_ = spread_q4({memory_.difference.data, nodes()}, row_scratch(), shape);
  spread_limit_ = spread_ * kSpreadTenths / 160;
  if (region_limit_ < spread_limit_) region_limit_ = saturate_i16(spread_limit_);
}

// Departures of this look as regions; the limit depends on what they are measured against.
void Engine::depart_and_find(std::uint64_t t_us) {
  const View<std::int16_t> difference{memory_.difference.data, nodes()};
  const View<const BaselineQ8> mean{memory_.baseline_q8.data, nodes()};
  const Shape shape = settings_.shape;
  const auto rows = static_cast<std::size_t>(shape.rows);
  const auto cols = static_cast<std::size_t>(shape.cols);
  const std::int32_t limit = has_reference() ? limits_.surface : limits_.smooth;
  // After a refusal the glass must be clearly bare: a film that dries past the limit is still a
  // film.
  region_limit_ = resting_ == InputState::unpowered ? limit : permille_of(limit, kReturnPermille);
  if (has_reference()) {
    depart_from_reference(difference, mean, reference_, settings_.counts_rise);
    for (std::size_t i = 0; i < nodes(); ++i) {
      const NodeMark mark = mark_at(i);
      if (mark == NodeMark::known_bad) difference[i] = 0;
      // Whatever it reads: what is under it can't be told, and that is as good as a thing there.
      if (mark == NodeMark::unusable) difference[i] = saturate_i16(settings_.finger_counts);
    }
  } else {
    const SmoothScratch scratch{
        {memory_.row_level.data, rows}, {memory_.col_level.data, cols}, memory_.sort};
    depart_from_smoothness(difference, scratch, mean, shape, settings_.counts_rise, limits_.smooth);
    limit_by_spread();
  }
  for (std::size_t r = 0; r < rows; ++r) memory_.row_busy[r] = 1;
  read_lines(true);
  find_pairs_in_look();
  note_lines_overflow(t_us);
  find_regions(regions_, memory_.label, read_only(difference), read_only(memory_.row_busy), shape,
               region_limit_, faulty_now());
  note_regions_overflow(t_us);
  mark_lone(regions_, read_only(difference), shape, region_limit_);
}

// A dry film is far below every limit, but it lies still and wide: where a look shows nothing else,
// the means of neighbouring nodes may show one, against the factory reference. A dielectric can
// only raise; what lowers so little is a line or the temperature.
void Engine::find_faint_film(std::uint64_t t_us) {
  if (!has_reference() || regions_.count != 0 || faults_.count != 0) return;
  // The least values of the look are no longer needed: their place is free.
  const View<std::int16_t> smooth_q4{reinterpret_cast<std::int16_t*>(memory_.previous.data),
                                     nodes()};
  const std::int32_t rows_differ = smooth_departure(smooth_q4, {memory_.difference.data, nodes()},
                                                    row_scratch(), settings_.shape);
  // Nine nodes have a third of one node's noise; three rows more than half of one row's.
  const std::int32_t of_nodes = look_sigma_q4() / 3;
  const std::int32_t of_rows = rows_differ / 2;
  const std::int32_t by_noise = (of_nodes > of_rows ? of_nodes : of_rows) * kFaintSigmasTenths / 10;
  const std::int32_t share = permille_of(settings_.finger_counts, kFaintPermille);
  const std::int32_t by_finger = (share < 1 ? 1 : share) * 16;
  const std::int32_t limit = by_noise > by_finger ? by_noise : by_finger;
  find_regions(regions_, memory_.label, read_only(smooth_q4), read_only(memory_.row_busy),
               settings_.shape, limit, {});
  for (int k = 0; k < regions_.count; ++k) {
    const Region& region = regions_.region[k];
    if (region.peak > 0 || region.nodes < kLeastFaintNodes) continue;
    const std::int32_t mean = region.mean() / 16;
    observe({FindingKind::faint_film, region.box, region.nodes, mean, mean, limit / 16,
             region.mean() * 1000 / limit},
            t_us);
  }
  regions_.count = 0;
  regions_.dropped = 0;  // patches of noise, below every limit
  for (std::size_t i = 0; i < nodes(); ++i) memory_.label[i] = 0;
}

void Engine::conclude_look(std::uint64_t t_us) {
  if (has_reference()) forgive_known_nodes();
  const LookSampler::Result sample = sampler_.finish(look_arrays());
  ++looks_;
  typical_range_ = sample.typical_range;
  depart_and_find(t_us);
  Limits limits = limits_;
  limits.surface = region_limit_;  // the findings' evidence names the limit that was used
  // Against smoothness a departure is an opinion about the panel as well.
  findings_.judge_by(look_sigma_q4(), has_reference() ? 1000 : 800);
  findings_.update_lines(journal_, faults_, region_limit_, t_us, 0, false);
  // A film that was lifted during the look is no faint film: nothing may have moved. (Of normal
  // noise the largest range of 16 samples over a thousand nodes is twice the mean.)
  if (sample.largest_range <= 3 * sample.typical_range) find_faint_film(t_us);
  mark_two_signed(regions_);
  findings_.update(journal_, regions_, settings_.shape, settings_, limits, t_us, {});

  const std::int32_t unsteady_limit = unsteady_limit_of(limits_.unsteady, sample.typical_range);
  const bool moved = sample.largest_range > unsteady_limit;
  const bool unsteady = moved || unsettled_;
  unsettled_ = false;
  const Verdict verdict = judge_glass();
  const bool news = looks_ == 1 || verdict.kind != last_verdict_ || unsteady != last_unsteady_;
  last_verdict_ = verdict.kind;
  last_unsteady_ = unsteady;

  const Box restless = box_of_node(sample.node, settings_.shape);
  if (news) {
    note(t_us, JournalCode::sampled, sample.largest_range, unsteady_limit, restless.row0,
         restless.col0);
    if (moved)
      note(t_us, JournalCode::unsteady, sample.largest_range, unsteady_limit, restless.row0,
           restless.col0);
    note_verdict(t_us, verdict);
  }
  // One spoiled frame is no reason to refuse a panel: only what a second look confirms is.
  const bool again = verdict.bare && unsteady && !unsteady_before_;
  unsteady_before_ = unsteady;
  if (again)
    begin_look();
  else if (verdict.bare && !unsteady)
    conclude_bare(t_us);
  else if (!verdict.bare)
    decide_on_object(t_us, verdict.value, verdict.limit, verdict.place, verdict.kind);
  else
    decide_on_object(t_us, sample.largest_range, unsteady_limit, restless, FindingKind::none);
}

// How much could lie there unseen belongs to a verdict of "bare"; a verdict that can't be given
// says what it would take.
void Engine::note_verdict(std::uint64_t t_us, const Verdict& verdict) {
  if (!has_reference())
    note(t_us, JournalCode::seen_from, region_limit_ + spread_ * kSurelySigmasTenths / 160,
         region_limit_);
  if (verdict.bare)
    note(t_us, JournalCode::glass_bare, abs_i32(verdict.value), verdict.limit);
  else if (verdict.kind == FindingKind::none)
    note(t_us, JournalCode::spread_hides, verdict.value, verdict.limit);
  else
    note(t_us, JournalCode::glass_not_bare, verdict.value, verdict.limit, verdict.place.row0,
         verdict.place.col0, static_cast<std::uint8_t>(verdict.kind));
}

// The node that departs most from `level`.
std::size_t Engine::farthest_node(std::int32_t level) const {
  std::size_t at = 0;
  for (std::size_t i = 0; i < nodes(); ++i)
    if (abs_i32(memory_.difference[i] - level) > abs_i32(memory_.difference[at] - level)) at = i;
  return at;
}

// What all nodes share, as at another temperature, hides what departs the other way: the largest
// departure without it.
std::int32_t Engine::departure_apart(std::size_t& at) const {
  const std::int32_t shared =
      shared_departure({memory_.difference.data, nodes()}, row_scratch(), settings_.shape);
  at = farthest_node(shared);
  return memory_.difference[at] - shared;
}

// A finger between four nodes shows 600 permille on each. Their mean has half of a node's spread,
// so twice the mean is held against the limit of one; below `smooth` a panel's own bends may lie
// so. 0 if no square departs by so much.
std::int32_t Engine::departure_of_squares(std::size_t& at) const {
  const std::int16_t* d = memory_.difference.data;
  std::int32_t largest = 0;
  for (int r = 0; r + 1 < settings_.shape.rows; ++r)
    for (int c = 0; c + 1 < settings_.shape.cols; ++c) {
      const std::size_t i = node_at(r, c);
      const std::size_t below = node_at(r + 1, c);
      const std::int32_t sum = d[i] + d[i + 1] + d[below] + d[below + 1];
      if (abs_i32(sum) <= abs_i32(largest)) continue;
      largest = sum;
      at = i;
    }
  return abs_i32(largest) < 4 * limits_.smooth ? 0 : largest / 2;
}

// The worst finding; without one, the largest departure of all, whatever it is taken for: a lone
// node can be a small thing on thin glass.
Engine::Verdict Engine::judge_glass() const {
  const Finding* worst = findings_.worst();
  if (worst != nullptr)
    return {false, worst->kind, worst->peak, region_limit_,
            Box{worst->peak_row, worst->peak_row, worst->peak_col, worst->peak_col}};
  const auto verdict = [this](bool bare, FindingKind kind, std::int32_t value, std::size_t at) {
    return Verdict{bare, kind, value, region_limit_,
                   box_of_node(static_cast<int>(at), settings_.shape)};
  };
  const std::size_t at = farthest_node(0);
  const std::int32_t value = memory_.difference[at];
  const bool overflow = regions_.dropped != 0 || faults_.dropped != 0 || findings_.overflow() != 0;
  if (abs_i32(value) >= region_limit_ || overflow) {
    const std::uint8_t label = memory_.label[at];
    const bool lone = label != 0 && regions_.region[label - 1].lone;
    return verdict(false, lone ? FindingKind::lone_node : FindingKind::unknown, value, at);
  }
  std::size_t doubtful = 0;
  const std::int32_t doubt =
      has_reference() ? departure_apart(doubtful) : departure_of_squares(doubtful);
  if (abs_i32(doubt) >= region_limit_) return verdict(false, FindingKind::unknown, doubt, doubtful);
  // Where the nodes' own spread would hide a finger, a glass that shows nothing is not bare.
  if (spread_limit_ > limits_.smooth_most)
    return {false, FindingKind::none, spread_limit_, limits_.smooth_most, kNoPlace};
  return verdict(true, FindingKind::none, value, at);
}

}  // namespace bareglass
