#include "bareglass/core/arith.hpp"
#include "bareglass/core/contacts.hpp"

namespace bareglass {

namespace {

// Squared distance in (1/16 mm)²: fine enough to order candidates, small enough for 32 bits.
std::int32_t distance_sq(const Contact& contact, const Peak& peak, const Settings& settings) {
  const std::int32_t dx = (contact.x_q8 - peak.x_q8) * (settings.pitch_col_um / 125) / 128;
  const std::int32_t dy = (contact.y_q8 - peak.y_q8) * (settings.pitch_row_um / 125) / 128;
  const std::int32_t x = clamp_i32(dx, -32000, 32000);
  const std::int32_t y = clamp_i32(dy, -32000, 32000);
  return x * x + y * y;
}

// The averages of four frames range over some 2.6 sigma of one in a minute.
constexpr std::int32_t kStillSigmas = 3;

}  // namespace

void ContactTracker::Course::begin(std::int32_t value) {
  mean_q4 = value * 16;
  least = most = value;
}

void ContactTracker::Course::follow(std::int32_t value) {
  mean_q4 += (value * 16 - mean_q4) >> 2;
  const std::int32_t mean = (mean_q4 + 8) >> 4;
  least = mean < least ? mean : least;
  most = mean > most ? mean : most;
}

ContactTracker::Nearest ContactTracker::nearest_to(const Slot& slot, const PeakList& peaks,
                                                   const Settings& settings, std::uint32_t used) {
  static_assert(PeakList::kMaxPeaks <= 32, "peaks fit a bit set");
  const std::int32_t reach = settings.match_um * 2 / 125;  // 1/16 mm
  Nearest nearest;
  for (int k = 0; k < peaks.count; ++k) {
    if (used & (1u << k)) continue;
    const std::int32_t d = distance_sq(slot.contact, peaks.peak[k], settings);
    if (d > reach * reach || d >= nearest.distance_sq) continue;
    nearest.distance_sq = d;
    nearest.peak = k;
  }
  return nearest;
}

void ContactTracker::reset() {
  for (Slot& slot : slot_) slot = Slot{};
  reported_ = 0;
  palm_seen_us_ = 0;
  has_palm_ = false;
}

void ContactTracker::report(const Contact& contact) {
  if (reported_ < 2 * kMaxContacts) report_[reported_++] = contact;
}

void ContactTracker::update(const PeakList& peaks, const Settings& settings, const Limits& limits,
                            std::uint64_t t_us) {
  begin_report();
  watch_palms(peaks, t_us);
  std::uint32_t used = 0;  // bit k: peak k belongs to a slot
  match(peaks, settings, limits, t_us, used);
  for (int k = 0; k < peaks.count; ++k)
    if (!(used & (1u << k)) && peaks.peak[k].strength >= limits.touch_on)
      begin(peaks.peak[k], settings, t_us);
  report_down();
}

void ContactTracker::begin_report() {
  reported_ = 0;
  fresh_ = 0;
  for (Slot& slot : slot_)
    if (slot.state == State::leaving) lift(slot);
}

void ContactTracker::report_down() {
  for (const Slot& slot : slot_)
    if (slot.state == State::down) report(slot.contact);
}

// A hand that shifts may be no palm for a moment, and where one contact of it ends another begins.
void ContactTracker::watch_palms(const PeakList& peaks, std::uint64_t t_us) {
  has_palm_ = false;
  for (int k = 0; k < peaks.count; ++k) has_palm_ = has_palm_ || peaks.peak[k].palm;
  if (!has_palm_) return;
  if (palm_seen_us_ == 0 || t_us - palm_seen_us_ > kPalmGapUs) palm_since_us_ = t_us;
  palm_seen_us_ = t_us;
}

void ContactTracker::clip(Shape shape) {
  for (Slot& slot : slot_) {
    Contact& c = slot.contact;
    // A new panel that is larger holds the place anyway.
    const int right = shape.cols * 256 - 128;
    const int bottom = shape.rows * 256 - 128;
    if (c.x_q8 > right) c.x_q8 = static_cast<std::int16_t>(right);
    if (c.y_q8 > bottom) c.y_q8 = static_cast<std::int16_t>(bottom);
  }
}

void ContactTracker::lift(Slot& slot) {
  slot.contact.tip = false;
  report(slot.contact);
  slot = Slot{};
}

// Nearest pairs first. Each slot keeps the nearest peak that is left; only slots that lose theirs
// to another look again.
void ContactTracker::match(const PeakList& peaks, const Settings& settings, const Limits& limits,
                           std::uint64_t t_us, std::uint32_t& used) {
  Nearest nearest[kMaxContacts];
  for (int s = 0; s < kMaxContacts; ++s)
    if (slot_[s].state != State::free) nearest[s] = nearest_to(slot_[s], peaks, settings, used);
  std::uint32_t matched = 0;
  for (;;) {
    int best = 0;
    for (int s = 1; s < kMaxContacts; ++s)
      if (nearest[s].distance_sq < nearest[best].distance_sq) best = s;
    const int peak = nearest[best].peak;
    if (peak < 0) break;
    matched |= 1u << best;
    used |= 1u << peak;
    Slot& slot = slot_[best];
    // Hysteresis: a candidate needs touch_on in every frame, a contact lives on from touch_off.
    if (slot.state == State::candidate && peaks.peak[peak].strength < limits.touch_on)
      slot = Slot{};
    else
      refresh(slot, peaks.peak[peak], settings, t_us);
    nearest[best] = Nearest{};
    for (int s = 0; s < kMaxContacts; ++s)
      if (nearest[s].peak == peak) nearest[s] = nearest_to(slot_[s], peaks, settings, used);
  }
  for (int s = 0; s < kMaxContacts; ++s)
    if (slot_[s].state != State::free && !(matched & (1u << s))) miss(slot_[s], settings);
}

void ContactTracker::refresh(Slot& slot, const Peak& peak, const Settings& settings,
                             std::uint64_t t_us) {
  Contact& contact = slot.contact;
  contact.x_q8 = peak.x_q8;
  contact.y_q8 = peak.y_q8;
  contact.strength = peak.strength;
  // Beside a resting hand nothing is a deliberate touch, and what was held back stays so.
  contact.confidence = contact.confidence && !has_palm_;
  slot.missed = 0;
  if (slot.state == State::candidate && ++slot.seen >= settings.debounce_down) {
    slot.state = State::down;
    fresh_ = static_cast<std::uint16_t>(fresh_ | 1u << contact.id);
    contact.tip = true;
    contact.since_us = t_us;
    stand_still(slot, peak, t_us);
  }
  slot.x.follow(peak.x_q8);
  slot.y.follow(peak.y_q8);
  slot.strength.follow(peak.strength);
  if (has_moved(slot, settings)) stand_still(slot, peak, t_us);
}

// A centroid moves by sigma / strength pitches with each node's noise. A pressing finger's signal
// changes by more than a sixteenth, an object's does not.
bool ContactTracker::has_moved(const Slot& slot, const Settings& settings) const {
  const std::int32_t strength = slot.contact.strength > 0 ? slot.contact.strength : 1;
  const std::int32_t place = settings.held_jitter_q8 + kStillSigmas * 16 * sigma_q4_ / strength;
  const std::int32_t press = (strength + kStillSigmas * sigma_q4_) >> 4;  // a sixteenth, and noise
  return slot.x.range() > place || slot.y.range() > place || slot.strength.range() > press;
}

void ContactTracker::stand_still(Slot& slot, const Peak& peak, std::uint64_t t_us) {
  slot.x.begin(peak.x_q8);
  slot.y.begin(peak.y_q8);
  slot.strength.begin(peak.strength);
  slot.still_us = t_us;
}

void ContactTracker::begin(const Peak& peak, const Settings& settings, std::uint64_t t_us) {
  const int free = free_slot();
  if (free < 0) return;  // an eleventh finger waits until another lifts
  Slot& slot = slot_[free];
  slot = Slot{};
  slot.state = State::candidate;
  slot.contact.id = static_cast<std::uint8_t>(free);
  slot.contact.confidence = true;
  stand_still(slot, peak, t_us);
  refresh(slot, peak, settings, t_us);
}

void ContactTracker::miss(Slot& slot, const Settings& settings) {
  if (slot.state == State::candidate) {
    slot = Slot{};
    return;
  }
  if (++slot.missed >= settings.debounce_up) lift(slot);
}

// A frame that cannot be read says nothing against a touch that is just beginning: between whole
// frames, one from elsewhere on the same line must not keep every touch from being one.
void ContactTracker::miss_frame(const Settings& settings) {
  begin_report();
  for (Slot& slot : slot_) {
    if (slot.state == State::down)
      miss(slot, settings);
    else if (slot.state == State::candidate && ++slot.missed >= settings.debounce_up)
      slot = Slot{};
  }
  report_down();
}

void ContactTracker::drop_lifted() {
  std::uint8_t kept = 0;
  for (int k = 0; k < reported_; ++k)
    if (report_[k].tip) report_[kept++] = report_[k];
  reported_ = kept;
}

int ContactTracker::free_slot() const {
  // An id whose lift is in this very report is not given out again before the next frame.
  for (int s = 0; s < kMaxContacts; ++s) {
    bool just_lifted = false;
    for (int k = 0; k < reported_; ++k) just_lifted = just_lifted || report_[k].id == s;
    if (slot_[s].state == State::free && !just_lifted) return s;
  }
  return -1;
}

void ContactTracker::lift_all() {
  leave();
  begin_report();
}

void ContactTracker::leave() {
  reported_ = 0;
  palm_seen_us_ = 0;
  has_palm_ = false;
  for (Slot& slot : slot_) {
    if (slot.state == State::down)
      slot.state = State::leaving;
    else if (slot.state == State::candidate)
      slot = Slot{};
  }
}

// A contact that nobody has been told of yet is not lifted either.
void ContactTracker::lift_reported() {
  const int all = reported_;
  reported_ = 0;
  for (int k = 0; k < all; ++k) {
    report_[k].tip = false;
    if ((fresh_ >> report_[k].id & 1) == 0) report_[reported_++] = report_[k];
  }
  for (Slot& slot : slot_) slot = Slot{};
}

bool ContactTracker::find_held(Contact& held, std::uint64_t t_us, std::uint64_t held_us) const {
  for (const Slot& slot : slot_) {
    if (slot.state != State::down || slot.missed != 0 || t_us - slot.still_us < held_us) continue;
    held = slot.contact;
    return true;
  }
  return false;
}

}  // namespace bareglass
