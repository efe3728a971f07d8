// The engine with a trusted baseline: input on, or paused until the glass is bare again.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/engine.hpp"

namespace bareglass {

namespace {

constexpr std::uint64_t us_of(std::uint32_t ms) { return static_cast<std::uint64_t>(ms) * 1000; }

template <typename T>
View<T> row_of(View<T> all, std::size_t row, std::size_t cols) {
  return {all.data + row * cols, cols};
}

}  // namespace

void Engine::start_conditioning() {
  const auto rows = static_cast<std::size_t>(settings_.shape.rows);
  for (std::size_t i = 0; i < nodes(); ++i) {
    memory_.previous[i] = static_cast<std::uint16_t>(kPreviousOffset);
    memory_.label[i] = 0;
  }
  for (std::size_t r = 0; r < rows; ++r) {
    memory_.common_mode[r] = CommonMode{};
    memory_.row_busy[r] = 0;
  }
  faults_.count = 0;
  suspect_ = masked_ = lines_noted_ = noise_noted_ = false;
  noisy_ = weak_ = pair_frames_ = 0;
  pair_ = 0;
  pair_seen_ = pair_known_ = 0;
  swing_q4_ = 0;
  regions_.count = 0;
  regions_.dropped = 0;
  bare_since_us_ = suspect_since_us_ = 0;
  noise_row_ = 0;
  turn_ = shift_turn_ = 0;
}

// At a row's turn its noise is measured, against the frame before, which is kept for that.
RowExtremes Engine::clean(View<std::int16_t> difference, std::size_t row,
                          std::int32_t fluctuation) {
  const std::size_t cols = difference.size;
  const View<std::uint16_t> previous = row_of(memory_.previous, row, cols);
  switch (turn_of(row)) {
    case 0:
      return clean_row(difference, previous, row_of(memory_.roughness_q4, row, cols), fluctuation,
                       limits_.quiet);
    case kRowTurns - 1:
      return keep_row(difference, previous, fluctuation);
    default:
      return level_row(difference, fluctuation);
  }
}

// Difference, common mode and noise of every row. True if any row holds a node beyond the limit.
bool Engine::condition(const Frame& frame) {
  const auto rows = static_cast<std::size_t>(settings_.shape.rows);
  const auto cols = static_cast<std::size_t>(settings_.shape.cols);
  region_limit_ = region_limit_for(limits_.surface, panel_sigma_q4_);
  // No thing on the glass takes or gives so much of a node, nor does it lower a whole row but with
  // the rows beside it.
  const std::int32_t extreme = settings_.finger_counts + settings_.finger_counts / 2;
  std::int32_t busy_rows = 0;
  suspect_ = false;
  frame_swing_ = 0;
  for (std::size_t r = 0; r < rows; ++r) {
    const View<std::int16_t> d = row_of(memory_.difference, r, cols);
    subtract_row(d, read_only(row_of(memory_.baseline_q8, r, cols)), {frame.raw + r * cols, cols},
                 settings_.counts_rise);
    RowOffset offset = row_offset(read_only(d), limits_.quiet);
    if (!offset.valid)
      offset = swing_of_row(read_only(d), limits_.quiet, limits_.touch_off, memory_.sort);
    const std::int32_t fluctuation = common_mode_step(memory_.common_mode[r], offset);
    const RowExtremes extremes = clean(d, r, fluctuation);
    const bool row_busy = extremes.highest >= region_limit_ || extremes.lowest <= -region_limit_;
    memory_.row_busy[r] = row_busy ? 1 : 0;
    frame_swing_ += abs_i32(fluctuation);
    if (!row_busy) continue;
    ++busy_rows;
    suspect_ = suspect_ || extremes.highest > extreme || extremes.lowest < -extreme ||
               extremes.lowest >= region_limit_;
  }
  suspect_ = suspect_ || 4 * busy_rows > 3 * static_cast<std::int32_t>(rows);
  return busy_rows != 0;
}

// One row a frame keeps the cost flat; after as many frames as rows every node has had its say.
void Engine::update_panel_noise() {
  const auto cols = static_cast<std::size_t>(settings_.shape.cols);
  const View<std::uint16_t> row = row_of(memory_.roughness_q4, noise_row_, cols);
  std::uint32_t sum = 0;
  for (const std::uint16_t v : row) sum += v;
  const auto mean = static_cast<std::uint16_t>(sum / cols);
  panel_sigma_q4_ = ewma_step(panel_sigma_q4_, sigma_q4(mean), 4096);
  noise_row_ =
      static_cast<std::uint16_t>(noise_row_ + 1 < settings_.shape.rows ? noise_row_ + 1 : 0);
}

// Of a run of frames with too many regions the first is entered.
void Engine::note_regions_overflow(std::uint64_t t_us) {
  if (regions_.dropped != 0 && !overflowed_)
    note(t_us, JournalCode::regions_overflow, regions_.dropped, RegionTable::kMaxRegions);
  overflowed_ = regions_.dropped != 0;
}

void Engine::step_running(const Frame& frame) {
  ++turn_;
  const bool busy = condition(frame);
  update_panel_noise();
  regions_.count = 0;
  regions_.dropped = 0;
  read_lines_running(frame.t_us, busy);
  if (busy) {
    find_regions(regions_, memory_.label, read_only(memory_.difference),
                 read_only(memory_.row_busy), settings_.shape, region_limit_, faulty_now());
  }
  note_regions_overflow(frame.t_us);
  mark_lone(regions_, read_only(memory_.difference), settings_.shape, region_limit_);
  unlabel_lone_nodes();
  if (audit_baseline(frame.t_us)) return;
  if (busy) hold_back_interference(frame.t_us);
  hold_back_two_signed(frame.t_us);
  peaks_.count = 0;
  if (state_ == InputState::running) {
    find_peaks(peaks_, regions_, read_only(memory_.label), read_only(memory_.difference), settings_,
               limits_, panel_sigma_q4_);
    if (peaks_.count != 0) watch_coupling(frame.t_us);
    watch_common_mode(frame.t_us);
    tracker_.expect_noise(panel_sigma_q4_);
    tracker_.update(peaks_, settings_, limits_, frame.t_us);
    watch_palm(frame.t_us);
  } else {
    tracker_.lift_all();
  }
  supervise(frame.t_us);
  if (state_ == InputState::running) track();
}

// Line faults of this frame, before regions are looked for: their nodes belong to no region. A
// frame without anything on the glass has none; then pairs of lines have their turn.
void Engine::read_lines_running(std::uint64_t t_us, bool busy) {
  faults_.count = faults_.dropped = 0;
  masked_ = false;
  if (suspect_) {
    read_lines(false);
    findings_.judge_by(panel_sigma_q4_, 1000);
    // A sag upsets every node; it need not last as long as a thing on the glass.
    const bool sag = faults_.count == 1 && faults_.fault[0].kind == FindingKind::supply_sag;
    findings_.update_lines(journal_, faults_, region_limit_, t_us,
                           us_of(settings_.surface_ms) >> (sag ? 2 : 0), true);
  } else if (!busy) {
    watch_pair(t_us);
  }
  note_lines_overflow(t_us);
  hold_known_lines();
  if (masked_ && !lines_noted_) note_held_lines(t_us);
  lines_noted_ = lines_noted_ && masked_;
}

// Says once why contacts are not reported on some lines: of what shows now, or of a known fault.
void Engine::note_held_lines(std::uint64_t t_us) {
  for (const Finding& f : findings_.all()) {
    if (f.gone || !(is_line_kind(f.kind) || f.kind == FindingKind::supply_sag)) continue;
    note(t_us, JournalCode::line_held_back, f.measured, f.limit, f.box.row0, f.box.col0,
         static_cast<std::uint8_t>(f.kind));
    lines_noted_ = true;
    return;
  }
}

// The nodes around a touch are not tracked, for its skirt's sake. A lone node has none, and a drift
// that its neighbours could not follow would give it one.
void Engine::unlabel_lone_nodes() {
  for (int k = 0; k < regions_.count; ++k) {
    const Region& region = regions_.region[k];
    if (region.lone) memory_.label[node_at(region.peak_row, region.peak_col)] = 0;
  }
}

void Engine::track() {
  if (limits_.track_lambda_q16 == 0) return;
  if (turn_ / kRowTurns % limits_.track_turns != 0) return;
  const TrackRate rate{limits_.track_lambda_q16, limits_.slew_q8, limits_.quiet,
                       settings_.counts_rise};
  const auto rows = static_cast<std::size_t>(settings_.shape.rows);
  const auto cols = static_cast<std::size_t>(settings_.shape.cols);
  for (std::size_t r = 0; r < rows; ++r) {
    if (turn_of(r) != 1) continue;
    const View<BaselineQ8> base = row_of(memory_.baseline_q8, r, cols);
    const View<const std::int16_t> d = read_only(row_of(memory_.difference, r, cols));
    const bool near_busy = memory_.row_busy[r] || (r > 0 && memory_.row_busy[r - 1]) ||
                           (r + 1 < rows && memory_.row_busy[r + 1]);
    if (near_busy)
      track_row_around_regions(base, d, read_only(memory_.label), read_only(memory_.row_busy),
                               settings_.shape, static_cast<int>(r), rate);
    else
      track_row(base, d, rate);
  }
}

}  // namespace bareglass
