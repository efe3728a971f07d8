// The engine's view of line faults and of what comes by wire.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/engine.hpp"

namespace bareglass {

namespace {

// Frames in a row (quiet ones count backwards) before something electrical is a finding.
constexpr std::uint8_t kSureFrames = 8;
// A pair of lines that looks like one is watched for so many frames before it is called bridged.
constexpr std::uint8_t kPairFrames = 8;
// A peak this many times the noise along its column is a touch in spite of it: of normal noise one
// node in a million is so far out (the median of |x| is 0.67 sigma).
constexpr std::int32_t kAboveNoise = 6;
// Noise along a column counts from this share of a finger on, and of the panel's own noise.
constexpr std::int32_t kNoisePermille = 20;
// A mean swing of rows from this share of a finger on is beyond what the estimate may be relied on.
constexpr std::int32_t kSwingPermille = 30;

std::uint8_t count_towards(std::uint8_t count, bool up) {
  if (up) return count < 2 * kSureFrames ? static_cast<std::uint8_t>(count + 1) : count;
  return count > 0 ? static_cast<std::uint8_t>(count - 1) : count;
}

}  // namespace

FaultyNodes Engine::faulty_nodes() const {
  return {{memory_.row_faulty.data, static_cast<std::size_t>(settings_.shape.rows)},
          {memory_.col_faulty.data, static_cast<std::size_t>(settings_.shape.cols)}};
}

// Noise of the mean of a look, counts Q4.
std::int32_t Engine::look_sigma_q4() const {
  const int kept = sampler_.taken() - 2;
  const std::int32_t one = typical_range_ * 16 * 1024 / d2_q10(sampler_.taken());
  std::int32_t root_q4 = 16;  // of the frames kept
  while (root_q4 * root_q4 < kept * 256) ++root_q4;
  return one * 16 / root_q4 + 1;
}

void Engine::read_lines(bool level_is_reading) {
  LineReadings readings;
  readings.difference = {memory_.difference.data, nodes()};
  readings.level_q8 = {memory_.baseline_q8.data, nodes()};
  readings.level_is_reading = level_is_reading;
  readings.counts_rise = settings_.counts_rise;
  readings.shape = settings_.shape;
  readings.finger = settings_.finger_counts;
  readings.limit = region_limit_;
  readings.sigma_q4 = level_is_reading ? look_sigma_q4() : panel_sigma_q4_;
  for (const Finding& f : findings_.all())
    readings.was_sagging = readings.was_sagging || (f.kind == FindingKind::supply_sag && !f.gone);
  readings.supply_is_good = supply_known_ && !supply_low_;
  readings.row_loss = {memory_.row_level.data, static_cast<std::size_t>(settings_.shape.rows)};
  readings.col_loss = {memory_.col_level.data, static_cast<std::size_t>(settings_.shape.cols)};
  readings.sort = memory_.sort;
  find_line_faults(faults_, faulty_nodes(), readings);
  masked_ = faults_.count != 0;
}

// Of a run of frames with too many faults the first is entered.
void Engine::note_lines_overflow(std::uint64_t t_us) {
  if (faults_.dropped != 0 && !lines_overflowed_)
    note(t_us, JournalCode::lines_overflow, faults_.dropped, LineFaults::kMaxFaults);
  lines_overflowed_ = faults_.dropped != 0;
}

// Lines that are known to be at fault but don't show it in this frame tell nothing either.
void Engine::hold_known_lines() {
  const FaultyNodes faulty = faulty_nodes();
  bool clear = masked_;
  for (const Finding& f : findings_.all()) {
    const bool lasts = f.in_baseline || f.kind == FindingKind::intermittent_line ||
                       f.kind == FindingKind::bridged_lines;
    if (f.gone || !f.confirmed || !lasts || !is_line_kind(f.kind)) continue;
    masked_ = true;
    if (!clear) {
      for (LineSpan& span : faulty.row) span = LineSpan{};
      for (LineSpan& span : faulty.col) span = LineSpan{};
    }
    clear = true;
    for (int line = f.lines.first; line <= f.lines.last; ++line) {
      const auto at = static_cast<std::size_t>(line);
      if (f.lines.of_rows)
        faulty.row[at] = {f.box.col0, static_cast<std::uint8_t>(f.box.col1 + 1)};
      else
        faulty.col[at] = {f.box.row0, static_cast<std::uint8_t>(f.box.row1 + 1)};
    }
  }
}

void Engine::note_supply(std::uint16_t millivolts, std::uint16_t least_millivolts,
                         std::uint64_t t_us) {
  const bool low = millivolts < least_millivolts;
  if (low && !(supply_known_ && supply_low_))
    note(t_us, JournalCode::supply_low, millivolts, least_millivolts, kNoLine, kNoLine);
  supply_known_ = true;
  supply_low_ = low;
}

// --- pairs of lines ------------------------------------------------------------------------------

void Engine::add_pair(LinePair pair, std::int32_t left_permille, std::int32_t against) {
  if (faults_.count >= LineFaults::kMaxFaults) {
    ++faults_.dropped;
    return;
  }
  LineFault& fault = faults_.fault[faults_.count++];
  fault = LineFault{};
  fault.kind = FindingKind::bridged_lines;
  const auto first = static_cast<std::uint8_t>(pair.first);
  const auto last = static_cast<std::uint8_t>(pair.first + 1);
  fault.place = {pair.of_rows, first, last, kNoLine, kNoLine};
  const auto end_row = static_cast<std::uint8_t>(settings_.shape.rows - 1);
  const auto end_col = static_cast<std::uint8_t>(settings_.shape.cols - 1);
  fault.box = pair.of_rows ? Box{first, last, 0, end_col} : Box{0, end_row, first, last};
  fault.loss = saturate_i16(left_permille);
  fault.limit = kBridgedPermille;
  // A bridge hides until it is touched: its evidence in counts is the half of a finger that it
  // takes.
  fault.peak = saturate_i16(settings_.finger_counts / 2);
  fault.peak_row = fault.box.row0;
  fault.peak_col = fault.box.col0;
  const std::int32_t unlike = clamp_i32(1000 - abs_i32(left_permille), 0, 1000);
  fault.score = static_cast<std::int16_t>(score_of(unlike, 1000 - kBridgedPermille, 0, against));
}

Likeness Engine::likeness_in_look(LinePair pair, std::int32_t quiet) const {
  return likeness_of(pair, {memory_.baseline_q8.data, nodes()}, true,
                     {memory_.difference.data, nodes()}, settings_.shape, settings_.counts_rise,
                     quiet, faulty_nodes());
}

// Median over pairs of the mean square by which neighbours differ, counts² in units of 16; what
// lies on the glass has no vote.
std::int64_t Engine::typical_unlikeness(bool of_rows) {
  const int count = (of_rows ? settings_.shape.rows : settings_.shape.cols) - 1;
  for (int k = 0; k < count; ++k) {
    const Likeness like = likeness_in_look({of_rows, k}, limits_.quiet);
    const std::uint64_t mean = divide_u64(static_cast<std::uint64_t>(like.now),
                                          static_cast<std::uint32_t>(16 * like.votes + 1));
    memory_.sort[static_cast<std::size_t>(k)] =
        static_cast<std::int16_t>(mean > 32767 ? 32767 : mean);
  }
  return median_in_place({memory_.sort.data, static_cast<std::size_t>(count)});
}

// Two lines that have become one read the same. What their own difference was, the reference says;
// without one, the other pairs say what a difference is: a sixteenth of it is one line.
void Engine::find_pairs_in_look() {
  const Shape shape = settings_.shape;
  if (shape.rows < kLeastLines || shape.cols < kLeastLines) return;
  const bool known = has_reference();
  const std::int32_t sigma = look_sigma_q4();
  // A reference may have been stored from a single frame: what two lines differ by in it has to be
  // more than three times what that frame's noise makes of it, or it is known of neither.
  const std::int32_t frame_sigma = typical_range_ * 1024 / d2_q10(sampler_.taken()) + 1;
  const std::int64_t noise_of_reference =
      3 * 2 * static_cast<std::int64_t>(frame_sigma) * frame_sigma;
  for (int way = 0; way < 2; ++way) {
    const bool of_rows = way == 0;
    const std::int64_t typical = known ? 0 : typical_unlikeness(of_rows);
    const int count = (of_rows ? shape.rows : shape.cols) - 1;
    for (int k = 0; k < count; ++k) {
      const LinePair pair{of_rows, k};
      const Likeness like = likeness_in_look(pair, 32767);
      // A broken line that crosses the pair takes one vote; a pair that is broken itself has none.
      if (2 * like.votes < (of_rows ? shape.cols : shape.rows)) continue;
      const std::int64_t part = known ? like.seen : like.now;
      const std::int64_t whole = known ? like.known : typical * 16 * like.votes;
      if (whole < least_known(like.votes, sigma, settings_.finger_counts)) continue;
      if (known && whole < like.votes * noise_of_reference) continue;
      // What lies on one of the two is a difference of its own; lines that are one have none.
      if (4 * like.now > whole) continue;
      const std::int32_t left = share_permille(part, whole);
      if (abs_i32(left) <= (known ? kBridgedPermille : 62))
        add_pair(pair, left, known ? 1000 : 900);
    }
  }
}

LinePair Engine::pair_now() const {
  const int row_pairs = settings_.shape.rows - 1;
  return pair_ < row_pairs ? LinePair{true, pair_} : LinePair{false, pair_ - row_pairs};
}

// One pair a frame; a pair that looks like one line keeps its turn until that is certain.
void Engine::watch_pair(std::uint64_t t_us) {
  const Shape shape = settings_.shape;
  if (shape.rows < kLeastLines || shape.cols < kLeastLines) return;
  // A suspect is watched in every frame; otherwise every fourth frame is soon enough.
  if (pair_frames_ == 0 && (turn_ & 3) != 0) return;
  const LinePair pair = pair_now();
  const Likeness now =
      likeness_of(pair, {memory_.baseline_q8.data, nodes()}, false,
                  {memory_.difference.data, nodes()}, shape, settings_.counts_rise, limits_.quiet);
  judge_pair(pair, now, t_us);
  if (pair_frames_ != 0) return;
  pair_seen_ = pair_known_ = 0;
  pair_ = static_cast<std::uint16_t>(pair_ + 1 < shape.rows + shape.cols - 2 ? pair_ + 1 : 0);
}

void Engine::judge_pair(LinePair pair, const Likeness& now, std::uint64_t t_us) {
  const int crossings = pair.of_rows ? settings_.shape.cols : settings_.shape.rows;
  const bool told = 2 * now.votes >= crossings &&
                    now.known >= least_known(now.votes, panel_sigma_q4_, settings_.finger_counts);
  if (!told || now.seen * 2 >= now.known) {
    pair_frames_ = 0;
    return;
  }
  pair_seen_ += now.seen;
  pair_known_ += now.known;
  if (++pair_frames_ < kPairFrames) return;
  pair_frames_ = 0;
  const std::int32_t left = share_permille(pair_seen_, pair_known_);
  if (abs_i32(left) <= kBridgedPermille) report_bridge(pair, left, t_us);
}

void Engine::report_bridge(LinePair pair, std::int32_t left_permille, std::uint64_t t_us) {
  faults_.count = 0;
  add_pair(pair, left_permille, 1000);
  findings_.update_lines(journal_, faults_, region_limit_, t_us, 0, true);
  faults_.count = 0;
}

// --- what comes by wire --------------------------------------------------------------------------

void Engine::observe(const Observed& seen, std::uint64_t t_us) {
  Finding f;
  f.kind = seen.kind;
  f.box = seen.box;
  f.peak_row = seen.box.row0;
  f.peak_col = seen.box.col0;
  f.nodes = static_cast<std::uint16_t>(seen.nodes);
  f.peak = f.first_peak = f.mean = saturate_i16(seen.peak);
  f.measured = saturate_i16(seen.measured);
  f.limit = saturate_i16(seen.limit);
  f.confidence = confidence_of(f.kind, score_of(seen.margin_permille, 1000, 0, 1000));
  f.first_us = f.last_us = t_us;
  findings_.observe(journal_, f, region_limit_);
}

// Noise along a touched column makes touches that nobody made, and regions of both signs. Those
// that don't stand far above it are neither contacts nor findings.
void Engine::hold_back_interference(std::uint64_t t_us) {
  const std::int32_t by_finger = permille_of(settings_.finger_counts, kNoisePermille);
  const std::int32_t by_noise = (3 * panel_sigma_q4_) >> 4;
  const std::int32_t least = by_finger > by_noise ? by_finger : by_noise;
  const std::int32_t limit = least < 1 ? 1 : least;
  std::int32_t worst = 0;
  std::uint8_t col = 0;
  bool touched = false;
  for (int k = 0; k < regions_.count; ++k) {
    Region& region = regions_.region[k];
    if (region.lone || abs_i32(region.peak) < limits_.touch_off) continue;
    touched = true;
    const std::int32_t noise = column_noise({memory_.difference.data, nodes()}, settings_.shape,
                                            region.peak_row, region.peak_col, limit, memory_.sort);
    if (noise == 0) continue;
    if (noise > worst) {
      worst = noise;
      col = region.peak_col;
    }
    if (abs_i32(region.peak) >= kAboveNoise * noise) continue;
    region.explained = true;
    if (!noise_noted_)
      note(t_us, JournalCode::interference_held_back, noise, limit, region.peak_row,
           region.peak_col);
    noise_noted_ = true;
  }
  if (!touched) noise_noted_ = false;
  if (touched) noisy_ = count_towards(noisy_, worst != 0);
  if (worst == 0) return;
  // The columns beside it carry a share of the noise: too small to be told, too large for nothing.
  for (int k = 0; k < regions_.count; ++k) {
    Region& region = regions_.region[k];
    if (abs_i32(region.peak_col - col) <= kTouchReach && abs_i32(region.peak) < kAboveNoise * worst)
      region.explained = true;
  }
  if (noisy_ < kSureFrames) return;
  const Box box{0, static_cast<std::uint8_t>(settings_.shape.rows - 1), col, col};
  observe({FindingKind::interference, box, settings_.shape.rows, worst, worst, limit,
           worst * 1000 / limit},
          t_us);
}

void Engine::watch_coupling(std::uint64_t t_us) {
  if (noisy_ >= kSureFrames) return;  // noise along its column makes any peak wide
  const Peak* weak = nullptr;
  bool strong = false;
  for (int k = 0; k < peaks_.count; ++k) {
    const Peak& peak = peaks_.peak[k];
    if (is_weak_and_wide(peak, {memory_.difference.data, nodes()}, settings_.shape,
                         settings_.finger_counts))
      weak = weak == nullptr ? &peak : weak;
    else
      strong = strong || peak.strength * 1000 > kWeakPermille * settings_.finger_counts;
  }
  if (weak == nullptr && !strong) return;
  weak_ = count_towards(weak_, weak != nullptr && !strong);
  if (weak == nullptr || weak_ < kSureFrames) return;
  const Box box{weak->row, weak->row, weak->col, weak->col};
  const std::int32_t share = weak->strength * 1000 / settings_.finger_counts;
  observe({FindingKind::weak_coupling, box, 1, weak->strength, share, kWeakPermille,
           kWeakPermille * 1000 / (share + 1)},
          t_us);
}

void Engine::watch_common_mode(std::uint64_t t_us) {
  const std::int32_t mean_q4 = frame_swing_ * 16 / settings_.shape.rows;
  swing_q4_ = ewma_step(swing_q4_, mean_q4, 4096);
  const std::int32_t share = permille_of(settings_.finger_counts, kSwingPermille);
  const std::int32_t limit = share < 1 ? 1 : share;
  if (swing_q4_ < limit * 16) return;
  const Box box{0, static_cast<std::uint8_t>(settings_.shape.rows - 1), 0,
                static_cast<std::uint8_t>(settings_.shape.cols - 1)};
  const std::int32_t swing = swing_q4_ >> 4;
  observe({FindingKind::common_mode, box, settings_.shape.nodes(), swing, swing, limit,
           swing * 1000 / limit},
          t_us);
}

}  // namespace bareglass
