#include "bareglass/replay/dump_clock.hpp"

#include "bareglass/core/checks.hpp"

namespace bareglass::host {

namespace {

// A first frame later than this after the stamped power-up means that the start was not recorded;
// and a clock that shows less has just begun.
constexpr std::uint64_t kStartWindowUs = 2000000;
// A frame that is so few scans old is late, not the first of another life.
constexpr std::uint32_t kLateFrames = kClockFrames;
constexpr std::uint64_t kTurnUs = std::uint64_t{1} << 32;
// Beyond it a stamped power-up is a spoiled one: sums of two times below it cannot overflow.
constexpr std::uint64_t kLargestUs = std::uint64_t{1} << 62;

bool is_back(std::uint32_t sequence, std::uint32_t before) {
  return sequence - before >= 0x80000000u;
}

std::int32_t jump_ms(std::uint64_t from_us, std::uint64_t to_us) {
  return to_us >= from_us ? milliseconds(to_us - from_us) : -milliseconds(from_us - to_us);
}

}  // namespace

void DumpClock::fix_power_up(std::uint64_t t_us) {
  told_us_ = t_us;
  fixed_ = true;
}

std::optional<std::uint64_t> DumpClock::power_up_us() const {
  if (!told_us_) return std::nullopt;
  const std::uint64_t on = on_line(*told_us_);
  if (!in_life_) return on;
  const bool near = first_us_ >= on && first_us_ - on <= kStartWindowUs;
  return near ? std::optional(on) : std::nullopt;
}

bool DumpClock::description(const PanelDescription& panel) {
  if (panel.frame_period_us != 0) {
    step_us_ = panel.frame_period_us;
    described_step_ = true;
  }
  if (!panel.power_up_us) return false;
  const bool same = panel.power_up_us == described_us_;
  described_us_ = panel.power_up_us;
  if (!any_) {
    if (!fixed_) told_us_ = described_us_;
    return false;
  }
  told_now_ = true;
  if (same) return false;
  begin_life(described_us_, *described_us_);
  return true;
}

// A clock that began anew lies behind all that was before; one that simply goes on stays as it is.
void DumpClock::begin_life(std::optional<std::uint64_t> told_us, std::uint64_t first_stamp_us) {
  const std::uint64_t zero = told_us.value_or(first_stamp_us);
  const std::uint64_t on = on_line(zero);
  if (on < latest_us_ || on > kLargestUs) go_on_behind(zero);
  told_us_ = told_us;
  first_us_ = latest_us_ = on_line(zero);
  stamp_us_ = zero;
  in_life_ = false;
  misfits_ = 0;
}

void DumpClock::go_on_behind(std::uint64_t t_us) { shift_us_ = latest_us_ + step_us_ - t_us; }

// A counter of 32 bits that began anew while the scans went on.
bool DumpClock::wraps(std::uint32_t sequence, std::uint64_t t_us) const {
  const bool narrow = stamp_us_ % kTurnUs == stamp_us_ && t_us < stamp_us_;
  return narrow && t_us + kTurnUs - stamp_us_ <= kLongestStepUs && !is_back(sequence, sequence_);
}

bool DumpClock::starts_again(std::uint32_t sequence, std::uint64_t t_us) const {
  if (t_us >= stamp_us_ || !is_back(sequence, sequence_)) return false;
  return told_now_ || sequence_ - sequence > kLateFrames;
}

DumpClock::Reading DumpClock::follow(std::uint32_t sequence, std::uint64_t t_us) {
  const std::uint64_t on = on_line(t_us);
  if (!in_life_) first_us_ = on;
  if (in_life_ && !described_step_ && on > latest_us_) step_us_ = on - latest_us_;
  any_ = in_life_ = true;
  misfits_ = 0;
  latest_us_ = on;
  stamp_us_ = t_us;
  sequence_ = sequence;
  told_now_ = false;
  return {on};
}

// A unit that always says "powered at 0" says nothing new when it starts again.
std::optional<std::uint64_t> DumpClock::told_shortly_before(std::uint64_t t_us) const {
  const bool told = told_now_ && *described_us_ <= t_us && t_us - *described_us_ <= kStartWindowUs;
  return told ? described_us_ : std::nullopt;
}

// As the core counts them, see FrameChecker.
DumpClock::Reading DumpClock::misfit(std::uint32_t sequence, std::uint64_t t_us) {
  if (misfits_ == 0) run_first_us_ = t_us;
  run_goes_on_ = misfits_ == 0 ||
                 (run_goes_on_ && t_us > run_last_us_ && t_us - run_last_us_ <= kLongestStepUs);
  run_last_us_ = t_us;
  if (++misfits_ < kClockFrames) return {on_line(t_us), Step::misfit};
  const std::int32_t jump = jump_ms(stamp_us_, t_us);
  const bool from_zero = run_goes_on_ && run_first_us_ <= kStartWindowUs && jump < 0;
  if (from_zero)
    begin_life(told_shortly_before(run_first_us_), run_first_us_);
  else
    go_on_behind(t_us);
  Reading reading = follow(sequence, t_us);
  reading.step = from_zero ? Step::began_anew : Step::jumped;
  reading.jump_ms = jump;
  return reading;
}

DumpClock::Reading DumpClock::frame(std::uint32_t sequence, std::uint64_t t_us) {
  if (!any_) return follow(sequence, t_us);
  if (in_life_ && sequence == sequence_ && t_us == stamp_us_) return {latest_us_};
  if (in_life_ && wraps(sequence, t_us)) shift_us_ += kTurnUs;
  if (in_life_ && starts_again(sequence, t_us)) {
    const std::int32_t jump = jump_ms(stamp_us_, t_us);
    begin_life(told_shortly_before(t_us), t_us);
    Reading reading = follow(sequence, t_us);
    reading.step = Step::began_anew;
    reading.jump_ms = jump;
    return reading;
  }
  const std::uint64_t on = on_line(t_us);
  const bool fits = on >= latest_us_ && (!in_life_ || on - latest_us_ <= kLongestStepUs);
  return fits ? follow(sequence, t_us) : misfit(sequence, t_us);
}

}  // namespace bareglass::host
