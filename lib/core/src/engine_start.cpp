// The start-up supervisor: everything the engine does while no baseline is trusted.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/engine.hpp"

namespace bareglass {

namespace {

constexpr std::uint64_t us_of(std::uint32_t ms) { return static_cast<std::uint64_t>(ms) * 1000; }

// A faint film is wide: at least so many nodes side by side whose 3 x 3 means stand so far above
// their noise and above a share of a finger. 100 um of dry tape reach 5 permille on 1.1 mm glass
// and 25 on 0.7 mm; what the rows of a large panel drift by during a look stays below 4.
constexpr int kLeastFaintNodes = 6;
constexpr std::int32_t kFaintSigmasTenths = 42;
constexpr std::int32_t kFaintPermille = 4;
// Share of the limit below which a glass that was refused counts as bare again.
constexpr std::int32_t kReturnPermille = 750;

Box box_of_node(int node, Shape shape) {
  const auto row = static_cast<std::uint8_t>(node / shape.cols);
  const auto col = static_cast<std::uint8_t>(node % shape.cols);
  return {row, row, col, col};
}

}  // namespace

LookSampler::Arrays Engine::look_arrays() {
  return {{memory_.baseline_q8.data, nodes()},
          {memory_.previous.data, nodes()},
          {memory_.roughness_q4.data, nodes()}};
}

void Engine::step_settling(const Frame& frame) {
  if (frame.t_us < power_us_ + us_of(settings_.settle_ms)) {
    ++dropped_;
    return;
  }
  note(frame.t_us, JournalCode::settled, static_cast<std::int32_t>(dropped_),
       static_cast<std::int32_t>(settings_.settle_ms));
  begin_look();
  step_looking(frame);
}

void Engine::begin_look() {
  sampler_.begin();
  enter(InputState::looking);
}

void Engine::step_looking(const Frame& frame) {
  sampler_.add(look_arrays(), {frame.raw, nodes()});
  if (sampler_.taken() >= settings_.sample_frames) conclude_look(frame.t_us);
}

void Engine::step_resting(const Frame& frame) {
  if (frame.t_us < look_due_us_) return;
  resting_ = state_;
  begin_look();
  step_looking(frame);
}

// Departures of this look as regions; the limit depends on what they are measured against.
void Engine::depart_and_find() {
  const View<std::int16_t> difference{memory_.difference.data, nodes()};
  const View<const BaselineQ8> mean{memory_.baseline_q8.data, nodes()};
  const Shape shape = settings_.shape;
  const auto rows = static_cast<std::size_t>(shape.rows);
  const auto cols = static_cast<std::size_t>(shape.cols);
  if (has_reference()) {
    depart_from_reference(difference, mean, reference_, settings_.counts_rise);
  } else {
    const SmoothScratch scratch{
        {memory_.row_level.data, rows}, {memory_.col_level.data, cols}, memory_.sort};
    depart_from_smoothness(difference, scratch, mean, shape, settings_.counts_rise, limits_.smooth);
  }
  const std::int32_t limit = has_reference() ? limits_.surface : limits_.smooth;
  // After a refusal the glass must be clearly bare: a film that dries past the limit is still a
  // film.
  region_limit_ = resting_ == InputState::unpowered ? limit : permille_of(limit, kReturnPermille);
  for (std::size_t r = 0; r < rows; ++r) memory_.row_busy[r] = 1;
  read_lines(true);
  find_pairs_in_look();
  find_regions(regions_, memory_.label, read_only(difference), read_only(memory_.row_busy), shape,
               region_limit_, faulty_now());
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
  const SmoothScratch scratch{
      {memory_.row_level.data, static_cast<std::size_t>(settings_.shape.rows)}, {}, memory_.sort};
  const std::int32_t rows_differ =
      smooth_departure(smooth_q4, {memory_.difference.data, nodes()}, scratch, settings_.shape);
  // Nine nodes have a third of one node's noise; three rows more than half of one row's.
  const std::int32_t of_nodes = look_sigma_q4() / 3;
  const std::int32_t of_rows = rows_differ / 2;
  const std::int32_t by_noise = (of_nodes > of_rows ? of_nodes : of_rows) * kFaintSigmasTenths / 10;
  const std::int32_t by_finger = permille_of(settings_.finger_counts, kFaintPermille) * 16;
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
  for (std::size_t i = 0; i < nodes(); ++i) memory_.label[i] = 0;
}

void Engine::conclude_look(std::uint64_t t_us) {
  const LookSampler::Result sample = sampler_.finish(look_arrays());
  ++looks_;
  typical_range_ = sample.typical_range;
  depart_and_find();
  Limits limits = limits_;
  limits.surface = region_limit_;  // the findings' evidence names the limit that was used
  // Against smoothness a departure is an opinion about the panel as well.
  findings_.judge_by(look_sigma_q4(), has_reference() ? 1000 : 800);
  findings_.update_lines(journal_, faults_, region_limit_, t_us, 0, false);
  // A film that was lifted during the look is no faint film: nothing may have moved. (Of normal
  // noise the largest range of 16 samples over a thousand nodes is twice the mean.)
  if (sample.largest_range <= 3 * sample.typical_range) find_faint_film(t_us);
  mark_two_signed(regions_);
  findings_.update(journal_, regions_, settings_.shape, settings_, limits, t_us, 0, 0, false);

  const bool unsteady = sample.largest_range > limits_.unsteady;
  const Verdict verdict = judge_glass();
  const bool news = looks_ == 1 || verdict.kind != last_verdict_ || unsteady != last_unsteady_;
  last_verdict_ = verdict.kind;
  last_unsteady_ = unsteady;

  const bool bare = verdict.kind == FindingKind::none;
  const Box restless = box_of_node(sample.node, settings_.shape);
  if (news) {
    note(t_us, JournalCode::sampled, sample.largest_range, limits_.unsteady, restless.row0,
         restless.col0);
    if (unsteady)
      note(t_us, JournalCode::unsteady, sample.largest_range, limits_.unsteady, restless.row0,
           restless.col0);
    if (bare)
      note(t_us, JournalCode::glass_bare, abs_i32(verdict.value), region_limit_);
    else
      note(t_us, JournalCode::glass_not_bare, verdict.value, region_limit_, verdict.place.row0,
           verdict.place.col0, static_cast<std::uint8_t>(verdict.kind));
  }
  // One spoiled frame is no reason to refuse a panel: only what a second look confirms is.
  const bool again = bare && unsteady && !unsteady_before_;
  unsteady_before_ = unsteady;
  if (again)
    begin_look();
  else if (bare && !unsteady)
    conclude_bare(t_us);
  else if (!bare)
    decide_on_object(t_us, verdict.value, region_limit_, verdict.place, verdict.kind);
  else
    decide_on_object(t_us, sample.largest_range, limits_.unsteady, restless, FindingKind::none);
}

// The worst finding; without one, the largest departure outside the regions (those left are lone
// nodes). That is below the limit unless regions found no place in the table.
Engine::Verdict Engine::judge_glass() const {
  const Finding* worst = findings_.worst();
  if (worst != nullptr)
    return {worst->kind,
            worst->peak,
            {worst->peak_row, worst->peak_row, worst->peak_col, worst->peak_col}};
  Verdict verdict;
  for (std::size_t i = 0; i < nodes(); ++i) {
    const std::int32_t d = memory_.difference[i];
    if (memory_.label[i] != 0 || abs_i32(d) <= abs_i32(verdict.value)) continue;
    const int at = static_cast<int>(i);
    if (masked_ && faulty_nodes().covers(at / settings_.shape.cols, at % settings_.shape.cols))
      continue;
    verdict.value = d;
    verdict.place = box_of_node(static_cast<int>(i), settings_.shape);
  }
  if (abs_i32(verdict.value) >= region_limit_) verdict.kind = FindingKind::unknown;
  return verdict;
}

void Engine::conclude_bare(std::uint64_t t_us) {
  if (resting_ == InputState::off || resting_ == InputState::service) {
    rest(t_us, resting_);  // bare now, but only a power-up ends this
    return;
  }
  start_running(t_us);
}

void Engine::rest(std::uint64_t t_us, InputState state) {
  look_due_us_ = t_us + us_of(settings_.retry_ms);
  enter(state);
}

void Engine::decide_on_object(std::uint64_t t_us, std::int32_t value, std::int32_t limit,
                              const Box& place, FindingKind kind) {
  const auto detail = static_cast<std::uint8_t>(kind);
  if (resting_ == InputState::off || resting_ == InputState::service) {
    rest(t_us, resting_);
    return;
  }
  switch (relook_ ? StartPolicy::wait : settings_.policy) {
    case StartPolicy::lock:
      note(t_us, JournalCode::input_off, value, limit, place.row0, place.col0, detail);
      rest(t_us, InputState::off);
      break;
    case StartPolicy::service:
      note(t_us, JournalCode::service_entered, value, limit, place.row0, place.col0, detail);
      rest(t_us, InputState::service);
      break;
    case StartPolicy::adopt:
      // What moved during the sample has no steady value to adopt; that needs another look.
      if (last_unsteady_) {
        keep_waiting(t_us, 0, place, detail);
        break;
      }
      note(t_us, JournalCode::adopted, value, limit, place.row0, place.col0, detail);
      start_running(t_us);
      break;
    case StartPolicy::wait:
      wait_or_give_up(t_us, value, limit, place, detail);
      break;
  }
}

void Engine::wait_or_give_up(std::uint64_t t_us, std::int32_t value, std::int32_t limit,
                             const Box& place, std::uint8_t detail) {
  const bool is_over = wait_since_us_ != 0 && settings_.wait_ms != 0 &&
                       t_us - wait_since_us_ >= us_of(settings_.wait_ms);
  if (!is_over) {
    keep_waiting(t_us, static_cast<std::int32_t>(settings_.wait_ms), place, detail);
    return;
  }
  note(t_us, JournalCode::wait_over, static_cast<std::int32_t>(looks_),
       static_cast<std::int32_t>(settings_.wait_ms), place.row0, place.col0, detail);
  note(t_us, JournalCode::input_off, value, limit, place.row0, place.col0, detail);
  rest(t_us, InputState::off);
}

void Engine::keep_waiting(std::uint64_t t_us, std::int32_t wait_ms, const Box& place,
                          std::uint8_t detail) {
  if (wait_since_us_ == 0) {
    wait_since_us_ = t_us;
    note(t_us, JournalCode::waiting, static_cast<std::int32_t>(looks_), wait_ms, place.row0,
         place.col0, detail);
  }
  rest(t_us, InputState::waiting);
}

// The look's ranges become the first noise estimate: sigma = range / d2(n), roughness = 1.128
// sigma. One value for all nodes: a range of 16 samples is too rough an estimate node by node.
void Engine::seed_noise() {
  const std::int32_t sigma = typical_range_ * 16 * 1024 / d2_q10(sampler_.taken());
  const std::int32_t roughness = clamp_i32(sigma * 1128 / 1000, 0, 65535);
  for (std::size_t i = 0; i < nodes(); ++i)
    memory_.roughness_q4[i] = static_cast<std::uint16_t>(roughness);
  panel_sigma_q4_ = sigma;
}

void Engine::start_running(std::uint64_t t_us) {
  findings_.mark_in_baseline();  // an adopted object; lone nodes, which keep nothing off
  seed_noise();
  start_conditioning();
  wait_since_us_ = 0;
  resting_ = InputState::unpowered;
  note(t_us, JournalCode::input_on, static_cast<std::int32_t>(looks_), 0);
  enter(InputState::running);
}

}  // namespace bareglass
