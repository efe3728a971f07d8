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
  enter(InputState::unpowered);
  return SettingsField::none;
}

void Engine::note(std::uint64_t t_us, JournalCode code, std::int32_t value, std::int32_t limit,
                  int row, int col, std::uint8_t detail) {
  journal_.add({t_us, value, limit, code, detail, static_cast<std::uint8_t>(row),
                static_cast<std::uint8_t>(col)});
}

void Engine::forget() {
  checker_.reset();
  tracker_.reset();
  findings_.reset();
  regions_.count = 0;
  regions_.dropped = 0;
  peaks_.count = 0;
  panel_sigma_q4_ = 0;
  region_limit_ = 0;
  typical_range_ = 0;
  pair_run_ = palm_run_ = Run{};
  overflowed_ = false;
  faults_.count = 0;
  masked_ = suspect_ = supply_known_ = supply_low_ = lines_overflowed_ = false;
  looks_ = 0;
  looks_anew_ = false;
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
  forget();
  power_us_ = t_us;
  note(t_us, JournalCode::power_up, static_cast<std::int32_t>(settings_.policy), 0);
  enter(InputState::settling);
}

void Engine::join_midway(View<const std::uint16_t> baseline, std::uint64_t t_us) {
  forget();
  power_us_ = t_us;
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
  result.status = checker_.check(journal_, frame, settings_);
  if (result.status == FrameStatus::saturated && input_on()) {
    // Blind, it must not go on reporting the last touch that it saw.
    peaks_.count = 0;
    tracker_.update(peaks_, settings_, limits_, frame.t_us);
  }
  if (result.status == FrameStatus::ok) {
    blind_ = 0;
    blind_noted_ = false;
  } else if (result.status == FrameStatus::saturated) {
    step_blind(frame.t_us);
    result.state_changed = state() != before;
  }
  if (result.status != FrameStatus::ok || state_ == InputState::unpowered) return result;
  const std::uint32_t looks_before = looks_;
  switch (state_) {
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
  result.state_changed = state() != before;
  result.looked = looks_ != looks_before;
  return result;
}

}  // namespace bareglass
