// What a frame with a trusted baseline means: is the baseline at fault, is something on the glass,
// may input stay on.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/engine.hpp"
#include "finding_parts.hpp"

namespace bareglass {

namespace {

constexpr std::uint64_t us_of(std::uint32_t ms) { return static_cast<std::uint64_t>(ms) * 1000; }

}  // namespace

// Is the region the baseline's fault rather than the glass's? Two witnesses: the factory reference,
// which shows where the baseline is off by itself; and a finding that was adopted into the baseline
// and whose place now shows the opposite sign, as it does when the thing has been taken away. What
// a witness explains is at most twice what it shows: a finger on an adopted film is a finger.
Engine::Doubt Engine::doubt_baseline(const Region& region) {
  const std::size_t i = node_at(region.peak_row, region.peak_col);
  const std::int32_t half = (abs_i32(region.peak) + 1) / 2;
  if (has_reference()) {
    if (mark_at(i) != NodeMark::good) return {};  // nothing is known of its baseline
    const std::int32_t above =
        static_cast<std::int32_t>((memory_.baseline_q8[i] + 128) >> 8) - reference_[i];
    std::int32_t error = settings_.counts_rise ? -above : above;
    if ((error > 0) != (region.peak > 0) || abs_i32(error) < half) return {};
    error -= baseline_shift();
    if ((error > 0) != (region.peak > 0) || abs_i32(error) < half) return {};
    return {JournalCode::baseline_disproved, error, half, region.peak_row, region.peak_col};
  }
  const Finding* adopted = findings_.in_baseline_at(region.box);
  if (adopted == nullptr) return {};
  const bool turned =
      (adopted->peak > 0) != (region.peak > 0) || adopted->kind == FindingKind::two_sign_conductor;
  const std::int32_t shown = abs_i32(adopted->peak);
  const std::int32_t other = abs_i32(adopted->opposite);
  if (!turned || (shown > other ? shown : other) < half) return {};
  return {JournalCode::object_lifted, region.peak, region_limit_, region.peak_row, region.peak_col};
}

// What the whole panel has moved by since the factory: temperature and supply move every node, and
// no touch on a warm panel is a phantom. A mean, so that what was adopted over less than half of
// the panel leaves more than half of its own. It moves over minutes.
std::int32_t Engine::baseline_shift() {
  constexpr std::uint32_t kFrames = 64;
  if (shift_turn_ != 0 && turn_ - shift_turn_ < kFrames) return shift_;
  shift_turn_ = turn_;
  std::int32_t sum = 0;  // at most 2^14 nodes of 17 bits
  for (std::size_t i = 0; i < nodes(); ++i)
    sum += static_cast<std::int32_t>((memory_.baseline_q8[i] + 128) >> 8) - reference_[i];
  shift_ = sum / settings_.shape.nodes();
  if (settings_.counts_rise) shift_ = -shift_;
  return shift_;
}

// Whether anything that could be a finger or a hand is on the glass, other than what the baseline
// makes up.
bool Engine::is_touched() const {
  for (int k = 0; k < regions_.count; ++k) {
    const Region& region = regions_.region[k];
    if (!region.explained && !region.lone && region.peak >= limits_.touch_off) return true;
  }
  return false;
}

// Marks the regions that the baseline explains. Returns the strongest one's reason; `phantom` is
// the strongest that would be taken for a touch.
Engine::Doubt Engine::explain_regions(const Region*& phantom) {
  Doubt strongest;
  std::int32_t size = 0;
  for (int k = 0; k < regions_.count; ++k) {
    Region& region = regions_.region[k];
    const Doubt doubt = doubt_baseline(region);
    if (doubt.code == JournalCode::none) continue;
    region.explained = true;
    if (abs_i32(region.peak) > size) {
      size = abs_i32(region.peak);
      strongest = doubt;
    }
    const bool like_touch = region.peak >= limits_.touch_off;
    if (like_touch && (phantom == nullptr || region.peak > phantom->peak)) phantom = &region;
  }
  return strongest;
}

// Takes explained regions out, so that they are neither contacts nor findings; when they stay, the
// baseline is taken anew and the journal says why. True if a new look has begun.
bool Engine::audit_baseline(std::uint64_t t_us) {
  const Region* phantom = nullptr;
  const Doubt doubt = explain_regions(phantom);
  if (doubt.code == JournalCode::none) {
    suspect_since_us_ = 0;
    return false;
  }
  if (suspect_since_us_ == 0) {
    suspect_since_us_ = t_us;
    if (phantom != nullptr)
      note(t_us, JournalCode::phantom_held_back, phantom->peak, limits_.touch_off,
           phantom->peak_row, phantom->peak_col);
  }
  if (t_us - suspect_since_us_ < us_of(settings_.clear_ms)) return false;
  // A look could bring input back, which a paused panel's policy may forbid.
  if (state_ == InputState::paused && !may_return()) return false;
  // A look would find the hand that is on the glass now. The phantom is held back meanwhile.
  if (is_touched()) return false;
  note(t_us, doubt.code, doubt.value, doubt.limit, doubt.row, doubt.col);
  findings_.end_all(journal_, t_us, region_limit_);
  tracker_.lift_all();
  suspect_since_us_ = 0;
  relook_ = true;
  begin_look();
  return true;
}

bool Engine::Run::begins(std::uint64_t t_us) {
  constexpr std::uint64_t kGapUs = 500000;
  const bool fresh = last_us == 0 || t_us - last_us > kGapUs;
  last_us = t_us;
  return fresh;
}

// A two-signed pair makes peaks where nothing lies; waiting until it is a confirmed finding would
// let those through as touches first.
void Engine::hold_back_two_signed(std::uint64_t t_us) {
  mark_two_signed(regions_);
  const Region* pair = nullptr;
  for (int k = 0; k < regions_.count && pair == nullptr; ++k)
    if (regions_.region[k].two_signed && regions_.region[k].peak >= limits_.touch_off)
      pair = &regions_.region[k];
  if (pair != nullptr && pair_run_.begins(t_us))
    note(t_us, JournalCode::phantom_held_back, pair->peak, limits_.touch_off, pair->peak_row,
         pair->peak_col);
}

// Says once why no contact is a deliberate touch.
void Engine::watch_palm(std::uint64_t t_us) {
  if (!tracker_.has_palm() || !palm_run_.begins(t_us)) return;
  int k = 0;
  while (!peaks_.peak[k].palm) ++k;
  const Peak& palm = peaks_.peak[k];
  note(t_us, JournalCode::palm_held_back, palm.strength, limits_.touch_off, palm.row, palm.col);
}

// What has lain for too long, as a palm or as a contact that stands still: the finding that it
// becomes; kind none if nothing has. `limit_ms`: how long is too long.
Finding Engine::find_overstayed(std::uint32_t& limit_ms, std::uint64_t t_us) const {
  limit_ms = settings_.palm_ms;
  std::uint64_t first_us = t_us - tracker_.palm_lain_us();
  FindingKind kind = FindingKind::held_touch;
  const Region* region = nullptr;
  if (tracker_.palm_lain_us() >= us_of(limit_ms))
    for (int k = 0; k < peaks_.count && region == nullptr; ++k)
      if (peaks_.peak[k].palm) region = &regions_.region[peaks_.peak[k].region];
  if (region != nullptr) {
    kind = is_border_band(*region, settings_.shape, settings_) ? FindingKind::border_band
                                                               : FindingKind::lowered_plateau;
  } else {
    Contact held;
    limit_ms = settings_.held_ms;
    if (!tracker_.find_held(held, t_us, us_of(limit_ms))) return {};
    first_us = held.since_us;
    const int row = clamp_i32((held.y_q8 + 128) >> 8, 0, settings_.shape.rows - 1);
    const int col = clamp_i32((held.x_q8 + 128) >> 8, 0, settings_.shape.cols - 1);
    for (int k = 0; k < regions_.count && region == nullptr; ++k)
      if (regions_.region[k].box.contains(row, col)) region = &regions_.region[k];
    if (region == nullptr) return {};
  }
  Finding f = seen_region(*region, kind, t_us, region_limit_);
  f.first_us = first_us;
  return f;
}

// What has lain for too long becomes a finding, and the reason to pause. True if it did.
bool Engine::judge_contacts(std::uint64_t t_us) {
  std::uint32_t limit_ms = 0;
  Finding f = find_overstayed(limit_ms, t_us);
  if (f.kind == FindingKind::none) return false;
  note(t_us, JournalCode::contact_judged,
       static_cast<std::int32_t>(divide_u64(t_us - f.first_us, 1000)),
       static_cast<std::int32_t>(limit_ms), f.peak_row, f.peak_col,
       static_cast<std::uint8_t>(f.kind));
  f.confidence =
      confidence_of(f.kind, score_of(f.peak, region_limit_, (panel_sigma_q4_ + 15) >> 4, 1000));
  findings_.add(journal_, f, region_limit_);
  pause_input(t_us, f);
  return true;
}

// Findings of this frame, and what they mean for input.
void Engine::supervise(std::uint64_t t_us) {
  const bool running = state_ == InputState::running;
  Limits limits = limits_;
  limits.surface = region_limit_;
  findings_.judge_by(panel_sigma_q4_, 1000);
  findings_.update(
      journal_, regions_, settings_.shape, settings_, limits, t_us,
      {us_of(settings_.surface_ms), us_of(settings_.palm_ms), us_of(settings_.clear_ms), true});
  if (running) {
    if (judge_contacts(t_us)) return;
    const Finding* worst = findings_.worst();
    if (worst != nullptr) pause_input(t_us, *worst);
    return;
  }
  // Paused: back when nothing has been on the glass for clear_ms, unless the policy forbids it.
  if (!glass_is_bare()) {
    bare_since_us_ = 0;
    return;
  }
  if (bare_since_us_ == 0) bare_since_us_ = t_us;
  if (!may_return() || t_us - bare_since_us_ < us_of(settings_.clear_ms)) return;
  note(t_us, JournalCode::input_on, static_cast<std::int32_t>(looks_), 0);
  enter(InputState::running);
}

bool Engine::glass_is_bare() const {
  if (regions_.dropped != 0 || faults_.count != 0) return false;
  for (const Finding& f : findings_.all())
    if (f.kind == FindingKind::bridged_lines && f.confirmed && !f.gone && !f.in_baseline)
      return false;
  for (int k = 0; k < regions_.count; ++k)
    if (!regions_.region[k].lone) return false;
  return true;
}

void Engine::pause_input(std::uint64_t t_us, const Finding& cause) {
  note(t_us, JournalCode::input_off, cause.peak, region_limit_, cause.peak_row, cause.peak_col,
       static_cast<std::uint8_t>(cause.kind));
  tracker_.lift_reported();
  bare_since_us_ = 0;
  if (settings_.policy == StartPolicy::adopt) {
    findings_.mark_in_baseline();
    note(t_us, JournalCode::adopted, cause.peak, region_limit_, cause.peak_row, cause.peak_col,
         static_cast<std::uint8_t>(cause.kind));
    begin_look();
    return;
  }
  enter(InputState::paused);
}

}  // namespace bareglass
