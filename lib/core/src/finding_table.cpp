// The table of findings: what of one frame is the same thing as before, since when, and whether it
// is still there.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/lines.hpp"
#include "finding_parts.hpp"

namespace bareglass {

namespace {

// An intermittent line rests between its failures, for as long as a unit is not moved.
constexpr std::uint64_t kIntermittentRestUs = 30000000;

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

// One finding of the same kind may be a row's and another a column's.
bool is_same_thing(const Finding& f, const Box& before, const Finding& seen) {
  if (f.kind != seen.kind) return false;
  if (f.kind == FindingKind::drops || is_electrical_kind(f.kind)) return true;
  if (is_line_kind(f.kind) && f.lines.of_rows != seen.lines.of_rows) return false;
  return overlaps(before, seen.box, is_line_kind(f.kind) ? 0 : 1);
}

// What a finding outweighs when the table is full. What an adopted finding did to input is done,
// but its lines are still held back.
std::int32_t weight_of(const Finding& f) {
  const bool weighs = keeps_off(f.kind) && (!f.in_baseline || is_line_kind(f.kind));
  return (weighs ? 131072 : 0) + (f.confirmed ? 65536 : 0) + abs_i32(f.peak);
}

}  // namespace

std::uint64_t hold_us(FindingKind kind, std::uint64_t gone_us) {
  if (kind == FindingKind::intermittent_line) return kIntermittentRestUs;
  // A bridge is seen while the baseline still tells the two lines apart, and then no more.
  return kind == FindingKind::bridged_lines ? ~std::uint64_t{0} : gone_us;
}

void journal_finding(Journal& journal, JournalCode code, const Finding& f, std::uint64_t t_us,
                     std::int32_t limit) {
  journal.add(
      {t_us, f.peak, limit, code, static_cast<std::uint8_t>(f.kind), f.peak_row, f.peak_col});
}

// A hand that rests still shifts within seconds; a thing lies where it lies, and keeps its strength
// but for noise. What no hand can have made needs no proof of stillness, only time without a hand.
bool FindingTable::has_stayed(Stay& stay, const Finding& f, const Wait& wait) const {
  const auto is_near = [](int a, int b) { return abs_i32(a - b) <= 1; };
  const Box& was = stay.box;
  const std::int32_t quarter = abs_i32(stay.peak) / 4;
  const std::int32_t noise = (6 * sigma_q4_ + 15) >> 4;
  const bool still = is_near(f.box.row0, was.row0) && is_near(f.box.row1, was.row1) &&
                     is_near(f.box.col0, was.col0) && is_near(f.box.col1, was.col1) &&
                     abs_i32(f.peak - stay.peak) <= (quarter > noise ? quarter : noise);
  if (!still) stay = {f.box, f.peak, f.last_us, stay.no_hand_us};
  if (wait.could_be_a_hand) {
    stay.no_hand_us = f.last_us;
    return f.last_us - stay.still_us >= wait.confirm_us;
  }
  return f.last_us - stay.no_hand_us >= wait.confirm_us;
}

void FindingTable::see(Journal& journal, const Finding& seen, std::int32_t limit,
                       const Wait& wait) {
  for (std::size_t k = 0; k < count_; ++k) {
    Finding& f = finding_[k];
    // While input is in use, what is seen at an adopted finding's place has come on top of it.
    if (f.gone || (wait.input_in_use && f.in_baseline)) continue;
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
    f.confirmed = has_stayed(stay_[k], f, wait) || before.confirmed;
    if (f.confirmed && !before.confirmed)
      journal_finding(journal, JournalCode::finding_began, f, f.last_us, limit);
    return;
  }
  Finding fresh = seen;
  fresh.confirmed = wait.confirm_us == 0;
  enter(journal, fresh, limit);
}

void FindingTable::enter(Journal& journal, const Finding& fresh, std::int32_t limit) {
  Finding* place = place_for_new(fresh);
  if (place == nullptr) return;
  *place = fresh;
  before_[place - finding_] = fresh.box;
  away_[place - finding_] = returns_[place - finding_] = 0;
  stay_[place - finding_] = {fresh.box, fresh.peak, fresh.last_us, fresh.last_us};
  if (fresh.confirmed)
    journal_finding(journal, JournalCode::finding_began, fresh, fresh.last_us, limit);
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
    stay_[k] = {seen.box, seen.peak, first_us, first_us};
    if (returns < kReturns) return;
    f.kind = FindingKind::intermittent_line;
    f.confidence = confidence_of(f.kind, 1000);
    f.confirmed = true;
    journal_finding(journal, JournalCode::finding_began, f, f.last_us, limit);
    return;
  }
  see(journal, seen, limit, {confirm_us, false, input_in_use});
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
    f.confidence = confidence_of(f.kind, fault.score * against_permille_ / 1000);
    f.first_us = f.last_us = t_us;
    if (is_line_kind(f.kind))
      see_line(journal, f, limit, confirm_us, input_in_use);
    else
      see(journal, f, limit, {confirm_us, false, input_in_use});
  }
}

void FindingTable::observe(Journal& journal, const Finding& seen, std::int32_t limit) {
  for (std::size_t k = 0; k < count_; ++k) before_[k] = finding_[k].box;
  see(journal, seen, limit, {0, false, true});
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

// What is lost of this frame is told at its end, by the weightiest.
void FindingTable::lose(const Finding& f) {
  const std::int32_t weight = weight_of(f);
  if (lost_ == 0 || weight > lost_weight_) {
    lost_weight_ = weight;
    lost_kind_ = f.kind;
    lost_row_ = f.peak_row;
    lost_col_ = f.peak_col;
  }
  if (lost_ < 255) ++lost_;
}

// Of a run of frames with too many findings the first is entered: what flickers at the limit would
// fill the journal.
void FindingTable::note_overflow(Journal& journal, std::uint64_t t_us) {
  constexpr std::uint8_t kEndOfRun = 64;  // frames without an overflow
  if (lost_ == 0 && overflow_run_ > 0) --overflow_run_;
  if (lost_ != 0 && overflow_run_ == 0)
    journal.add({t_us, lost_, kMaxFindings, JournalCode::findings_overflow,
                 static_cast<std::uint8_t>(lost_kind_), lost_row_, lost_col_});
  if (lost_ != 0) overflow_run_ = kEndOfRun;
  overflow_ = lost_;
  lost_ = 0;
}

// Nobody misses what is gone, or was not seen in the frame before and never made sure of.
bool FindingTable::is_over(std::size_t k, std::uint64_t now_us) const {
  const Finding& f = finding_[k];
  return f.gone || (!f.confirmed && f.last_us != now_us && away_[k] != 0);
}

Finding* FindingTable::place_for_new(const Finding& seen) {
  if (count_ < kMaxFindings) return &finding_[count_++];
  // The longest unseen of those that are over; else the lightest.
  const std::uint64_t now_us = seen.last_us;
  std::size_t least = 0;
  for (std::size_t k = 1; k < kMaxFindings; ++k) {
    const Finding& f = finding_[k];
    const Finding& other = finding_[least];
    const bool over = is_over(k, now_us);
    if (over != is_over(least, now_us)) {
      if (over) least = k;
    } else if (over ? f.last_us < other.last_us : weight_of(f) < weight_of(other)) {
      least = k;
    }
  }
  Finding& place = finding_[least];
  if (is_over(least, now_us)) return &place;
  // One that was there before gives way only to what is clearly stronger: two alike would push each
  // other out frame after frame.
  const std::int32_t margin = place.first_us == seen.first_us ? 0 : abs_i32(place.peak) / 4;
  const bool stays = weight_of(seen) <= weight_of(place) + margin;
  lose(stays ? seen : place);
  return stays ? nullptr : &place;
}

void FindingTable::drop_unconfirmed() {
  for (std::size_t k = 0; k < count_; ++k)
    finding_[k].gone = finding_[k].gone || !finding_[k].confirmed;
}

void FindingTable::add(Journal& journal, const Finding& finding, std::int32_t limit) {
  Finding sure = finding;
  sure.confirmed = true;
  enter(journal, sure, limit);
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
