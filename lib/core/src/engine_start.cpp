// The start-up supervisor: everything the engine does while no baseline is trusted.
#include "bareglass/core/arith.hpp"
#include "bareglass/core/engine.hpp"

namespace bareglass {

namespace {

constexpr std::uint64_t us_of(std::uint32_t ms) { return static_cast<std::uint64_t>(ms) * 1000; }

// The front end has settled when the panel's mean changes by less than this share of a finger over
// kApartUs. At a time constant of 15 ms the rest is then 1.4 times that, of 60 ms seven times:
// still below the limit of a look, and falling.
constexpr std::uint64_t kApartUs = 8000;
constexpr std::int32_t kSettledPermille = 10;
// After settle_ms and this time the look begins all the same; so much without one usable frame is a
// decision too.
constexpr std::uint32_t kLongestMs = 500;

constexpr Box kNoPlace{kNoLine, kNoLine, kNoLine, kNoLine};

// Mean of all nodes, counts Q4.
std::int32_t mean_q4(const Frame& frame) {
  const auto nodes = static_cast<std::uint32_t>(frame.shape.nodes());
  std::uint32_t sum = 0;  // at most 2^14 nodes of 16 bits
  for (std::uint32_t i = 0; i < nodes; ++i) sum += frame.raw[i];
  return static_cast<std::int32_t>(sum / nodes * 16 + sum % nodes * 16 / nodes);
}

}  // namespace

LookSampler::Arrays Engine::look_arrays() {
  return {{memory_.baseline_q8.data, nodes()},
          {memory_.previous.data, nodes()},
          {memory_.roughness_q4.data, nodes()}};
}

void Engine::step_settling(const Frame& frame) {
  if (!has_settled(frame)) {
    ++dropped_;
    return;
  }
  note(frame.t_us, JournalCode::settled, static_cast<std::int32_t>(dropped_),
       static_cast<std::int32_t>(settings_.settle_ms));
  begin_look();
  step_looking(frame);
}

// Told from the frames alone: when scanning began is not known. A mean that goes up and down is
// noise; settling goes one way.
bool Engine::has_settled(const Frame& frame) {
  if (frame.t_us < power_us_) return false;  // was still in the pipe
  const std::int32_t mean = mean_q4(frame);
  if (settings_.settle_ms == 0) return true;
  if (!settling_.began) {
    settling_ = {true, frame.t_us, frame.t_us, mean, 0};
    return false;
  }
  if (frame.t_us - settling_.compared_us < kApartUs) return false;
  const std::int32_t change = mean - settling_.mean_q4;
  const std::int32_t before = settling_.change_q4;
  settling_.compared_us = frame.t_us;
  settling_.mean_q4 = mean;
  settling_.change_q4 = change;
  const std::uint64_t passed = frame.t_us - settling_.first_us;
  if (passed < us_of(settings_.settle_ms)) return false;
  const std::int32_t limit = permille_of(settings_.finger_counts, kSettledPermille) + 1;
  const bool to_and_fro = (change > 0 && before < 0) || (change < 0 && before > 0);
  if (abs_i32(change) <= limit * 16 || to_and_fro) return true;
  unsettled_ = passed >= us_of(settings_.settle_ms + kLongestMs);
  if (unsettled_) note(frame.t_us, JournalCode::unsettled, change / 16, limit);
  return unsettled_;
}

// Frames that can't be used say as much as a look that finds something: after a while the policy
// applies. A saturated panel that waits is asked again as others are.
void Engine::step_blind(std::uint64_t t_us) {
  const bool is_asked = state_ == InputState::settling || state_ == InputState::looking ||
                        (state_ == InputState::waiting && t_us >= look_due_us_);
  if (!is_asked) return;
  if (blind_++ == 0) blind_since_us_ = t_us;
  const std::uint32_t most_ms = settings_.settle_ms + kLongestMs;
  const std::uint64_t passed = t_us - blind_since_us_;
  if (blind_ < settings_.sample_frames || passed < us_of(most_ms)) return;
  blind_ = 0;
  if (!blind_noted_)
    note(t_us, JournalCode::start_saturated, static_cast<std::int32_t>(divide_u64(passed, 1000)),
         static_cast<std::int32_t>(most_ms));
  blind_noted_ = true;
  last_unsteady_ = true;  // nothing to adopt
  decide_on_object(t_us, 0, 0, kNoPlace, FindingKind::none);
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
  if (relook_) {
    keep_waiting(t_us, 0, place, detail);
    return;
  }
  switch (settings_.policy) {
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
  findings_.mark_in_baseline();  // an adopted object
  seed_noise();
  start_conditioning();
  wait_since_us_ = 0;
  resting_ = InputState::unpowered;
  note(t_us, JournalCode::input_on, static_cast<std::int32_t>(looks_), 0);
  enter(InputState::running);
}

}  // namespace bareglass
