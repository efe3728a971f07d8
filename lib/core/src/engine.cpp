#include "bareglass/core/engine.hpp"

#include "bareglass/core/arith.hpp"

namespace bareglass {

const char* name_of(InputState state) {
  static constexpr const char* kNames[] = {"unpowered", "settling", "looking", "running",
                                           "waiting",   "off",      "service", "paused"};
  return kNames[static_cast<std::uint8_t>(state)];
}

SettingsField Engine::configure(const Settings& settings, View<const std::uint16_t> reference) {
  const SettingsField wrong = validate(settings);
  if (wrong != SettingsField::none) return wrong;
  const auto count = static_cast<std::size_t>(settings.shape.nodes());
  const auto rows = static_cast<std::size_t>(settings.shape.rows);
  const auto cols = static_cast<std::size_t>(settings.shape.cols);
  const bool fits = count <= memory_.difference.size && rows <= memory_.common_mode.size &&
                    cols <= memory_.col_level.size && rows <= memory_.sort.size &&
                    cols <= memory_.sort.size;
  if (!fits || (!reference.empty() && reference.size != count)) return SettingsField::shape;
  settings_ = settings;
  limits_ = limits_of(settings);
  reference_ = reference;
  tracker_.leave();
  tracker_.clip(settings.shape);  // their lifts are told on the new panel
  enter(InputState::unpowered);
  return SettingsField::none;
}

void Engine::note(std::uint64_t t_us, JournalCode code, std::int32_t value, std::int32_t limit,
                  int row, int col, std::uint8_t detail) {
  journal_.add({t_us, value, limit, code, detail, static_cast<std::uint8_t>(row),
                static_cast<std::uint8_t>(col)});
}

void Engine::forget(std::uint64_t t_us) {
  checker_.reset(t_us);
  tracker_.leave();
  findings_.reset();
  supply_known_ = supply_low_ = false;
  relook_ = false;
  unread_ = 0;
  begin_anew(t_us);
}

// What was learnt from frames or hangs on times before `t_us`.
void Engine::begin_anew(std::uint64_t t_us) {
  power_us_ = watched_us_ = t_us;
  regions_.count = 0;
  regions_.dropped = 0;
  peaks_.count = 0;
  panel_sigma_q4_ = 0;
  region_limit_ = 0;
  typical_range_ = 0;
  pair_run_ = palm_run_ = Run{};
  overflowed_ = false;
  faults_.count = 0;
  masked_ = suspect_ = lines_overflowed_ = false;
  looks_ = 0;
  dropped_ = 0;
  wait_since_us_ = bare_since_us_ = suspect_since_us_ = 0;
  resting_ = InputState::unpowered;
  last_verdict_ = FindingKind::none;
  last_unsteady_ = unsteady_before_ = false;
  settling_ = Settling{};
  unsettled_ = blind_noted_ = false;
  blind_ = 0;
  spread_ = spread_limit_ = 0;
  for (std::size_t i = 0; i < nodes(); ++i) memory_.difference[i] = 0;
}

void Engine::power_up(std::uint64_t t_us) {
  forget(t_us);
  note(t_us, JournalCode::power_up, static_cast<std::int32_t>(settings_.policy), 0);
  enter(InputState::settling);
}

void Engine::join_midway(View<const std::uint16_t> baseline, std::uint64_t t_us) {
  forget(t_us);
  for (std::size_t i = 0; i < nodes(); ++i) {
    memory_.baseline_q8[i] = static_cast<BaselineQ8>(baseline[i]) << 8;
    memory_.roughness_q4[i] = 0;
  }
  note(t_us, JournalCode::joined_midway, 0, 0);
  start_conditioning();
  enter(InputState::running);
}

StepResult Engine::step(const Frame& frame) {
  StepResult result;
  const InputState before = state();
  const std::uint32_t looks_before = looks_;
  result.status = checker_.check(journal_, frame, settings_);
  if (result.status == FrameStatus::ok)
    take(frame);
  else
    refuse(frame, result.status);
  result.state_changed = state() != before;
  result.looked = looks_ > looks_before;
  return result;
}

void Engine::take(const Frame& frame) {
  blind_ = 0;
  blind_noted_ = false;
  unread_ = 0;
  watch_gap(frame.t_us);
  watched_us_ = frame.t_us;
  if (!has_baseline()) tracker_.lift_all();  // once a frame: what left before it is told by it
  switch (state_) {
    case InputState::unpowered:
      break;
    case InputState::settling:
      step_settling(frame);
      break;
    case InputState::looking:
      step_looking(frame);
      break;
    case InputState::running:
    case InputState::paused:
      step_running(frame);
      break;
    default:
      step_resting(frame);
      break;
  }
  if (state_ == InputState::running) relook_ = false;
}

// Time without a frame is no time in which a finger held still or a thing lay on the glass: no
// timer of a second or more may run out in it.
void Engine::watch_gap(std::uint64_t t_us) {
  constexpr std::uint32_t kUnwatchedUs = 1000000;
  constexpr std::uint32_t kUnwatchedFrames = 8;  // where a frame alone takes up to a second
  const std::uint32_t by_frames = kUnwatchedFrames * settings_.frame_period_us;
  const std::uint32_t limit = by_frames > kUnwatchedUs ? by_frames : kUnwatchedUs;
  const std::uint64_t gap = t_us - watched_us_;
  if (gap <= limit || !has_baseline()) return;
  note(t_us, JournalCode::frames_unwatched, milliseconds(gap), milliseconds(limit));
  tracker_.leave();
  findings_.drop_unconfirmed();
  bare_since_us_ = suspect_since_us_ = 0;
}

// Blind, it must not go on reporting the last touch that it saw.
void Engine::refuse(const Frame& frame, FrameStatus status) {
  if (status == FrameStatus::repeated)
    tracker_.drop_lifted();
  else
    tracker_.miss_frame(settings_);
  if (status == FrameStatus::repeated || status == FrameStatus::wrong_shape) {
    if (++unread_ == kUnreadFrames && has_baseline()) {
      note(checker_.last_us(), JournalCode::frames_unread, kUnreadFrames, kUnreadFrames);
      look_anew(checker_.last_us());
    }
    return;
  }
  // The stamps of saturated frames can be trusted: they tell for how long nothing was seen.
  const std::uint64_t blind = frame.t_us - watched_us_;
  if (status == FrameStatus::saturated && has_baseline() && blind > kLongestStepUs) {
    note(frame.t_us, JournalCode::frames_unwatched, milliseconds(blind),
         milliseconds(kLongestStepUs));
    look_anew(frame.t_us);
  }
  if (status == FrameStatus::saturated) step_blind(frame.t_us);
  if (status == FrameStatus::clock_restarted) look_anew(frame.t_us);
}

void Engine::restart_clock(const Frame& frame, std::int32_t step_ms) {
  checker_.restart(journal_, frame, step_ms);
  tracker_.miss_frame(settings_);
  look_anew(frame.t_us);
}

// The baseline is from a time that no longer counts. After tracker_ has taken the frame.
void Engine::look_anew(std::uint64_t t_us) {
  if (state_ == InputState::unpowered) return;
  tracker_.lift_reported();
  findings_.end_all(journal_, t_us, region_limit_);
  InputState next = state();
  // Paused under these policies is off until the next power-up.
  if (next == InputState::paused && settings_.policy == StartPolicy::lock) next = InputState::off;
  if (next == InputState::paused && settings_.policy == StartPolicy::service)
    next = InputState::service;
  relook_ = relook_ || has_baseline();
  begin_anew(t_us);
  look_due_us_ = t_us;
  const bool keeps_off =
      next == InputState::off || next == InputState::service || next == InputState::waiting;
  enter(keeps_off ? next : InputState::settling);
}

}  // namespace bareglass
