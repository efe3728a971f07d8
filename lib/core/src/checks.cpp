#include "bareglass/core/checks.hpp"

#include "bareglass/core/arith.hpp"
#include "bareglass/core/conditioning.hpp"
#include "bareglass/core/lines.hpp"

namespace bareglass {

namespace {

JournalEntry entry(std::uint64_t t_us, JournalCode code, std::int32_t value, std::int32_t limit) {
  return {t_us, value, limit, code, 0, kNoLine, kNoLine};
}

constexpr auto kLongestStepMs = static_cast<std::int32_t>(kLongestStepUs / 1000);

constexpr std::int32_t kLargest = 2147483647;

// The 1st, 4th, 16th and so on of a run.
constexpr bool is_power_of_four(std::uint32_t n) {
  return (n & (n - 1)) == 0 && (n & 0x55555555u) != 0;
}

}  // namespace

std::int32_t milliseconds(std::uint64_t us) {
  const std::uint64_t ms = divide_u64(us, 1000);
  return ms > kLargest ? kLargest : static_cast<std::int32_t>(ms);
}

// A link that goes on losing frames would fill the journal with nothing else: of a run of gaps the
// first is entered, then the 4th, the 16th and so on, each with what was lost since the entry
// before; what is left over when the run is at its end.
void FrameChecker::count_missing(Journal& journal, const Frame& frame, std::uint32_t missing) {
  constexpr std::uint8_t kEndOfRun = 64;  // frames without a gap
  bool due = false;
  if (missing != 0) {
    whole_ = 0;
    lost_ += missing;
    ++gaps_;
    due = is_power_of_four(gaps_);
  } else if (gaps_ != 0 && ++whole_ == kEndOfRun) {
    gaps_ = 0;
    due = lost_ != 0;
  }
  if (!due) return;
  journal.add(entry(frame.t_us, JournalCode::frames_missing,
                    static_cast<std::int32_t>(lost_ & 0x7fffffffu), 0));
  lost_ = 0;
}

// Two sources on one line would do so in every other frame.
void FrameChecker::note_sequence_back(Journal& journal, const Frame& frame) {
  if (!is_power_of_four(++back_)) return;
  const std::uint32_t by = last_sequence_ - frame.sequence;
  journal.add(
      entry(frame.t_us, JournalCode::sequence_back, static_cast<std::int32_t>(by - (by >> 31)), 0));
}

// A clock that jumped, wrapped or began again would make every later frame a misfit, for ever.
FrameStatus FrameChecker::refuse_stamp(Journal& journal, const Frame& frame) {
  const bool ahead = frame.t_us > last_t_us_;
  const FrameStatus misfit = ahead ? FrameStatus::stamp_ahead : FrameStatus::stamp_backward;
  const std::int32_t step = milliseconds(ahead ? frame.t_us - last_t_us_ : last_t_us_ - frame.t_us);
  if (++misfits_ >= kClockFrames) {
    restart(journal, frame, ahead ? step : -step);
    return FrameStatus::clock_restarted;
  }
  if (misfits_ == 1 || misfit != misfit_)
    journal.add(entry(last_t_us_, ahead ? JournalCode::stamp_ahead : JournalCode::stamp_backward,
                      step, ahead ? kLongestStepMs : 0));
  misfit_ = misfit;
  return misfit;
}

void FrameChecker::restart(Journal& journal, const Frame& frame, std::int32_t step_ms) {
  journal.add(
      entry(frame.t_us, JournalCode::clock_restarted, step_ms, step_ms > 0 ? kLongestStepMs : 0));
  misfits_ = 0;
  seen_ = true;
  last_sequence_ = frame.sequence;
  last_t_us_ = frame.t_us;
}

FrameStatus FrameChecker::check(Journal& journal, const Frame& frame, const Settings& settings) {
  if (frame.shape != settings.shape) {
    if (!misshapen_)
      journal.add(
          entry(last_t_us_, JournalCode::wrong_shape, frame.shape.nodes(), settings.shape.nodes()));
    misshapen_ = true;
    return FrameStatus::wrong_shape;
  }
  misshapen_ = false;
  if (is_repeated(frame)) return FrameStatus::repeated;
  if (!fits(frame)) return refuse_stamp(journal, frame);
  misfits_ = 0;
  const std::uint32_t step = frame.sequence - last_sequence_;
  const bool back = step >= 0x80000000u;
  if (seen_) {
    count_missing(journal, frame, step > 1 && !back ? step - 1 : 0);
    if (back) note_sequence_back(journal, frame);
  }
  seen_ = true;
  last_sequence_ = frame.sequence;
  last_t_us_ = frame.t_us;

  const std::int32_t allowed = permille_of(settings.shape.nodes(), settings.saturated_permille);
  std::int32_t saturated = outside_range({frame.raw, static_cast<std::size_t>(frame.shape.nodes())},
                                         settings.raw_low, settings.raw_high);
  if (saturated > allowed) saturated -= dead_nodes(frame, settings);
  const bool spoiled = saturated > allowed;
  if (spoiled && !spoiled_)
    journal.add(entry(frame.t_us, JournalCode::frame_saturated, saturated, allowed));
  spoiled_ = spoiled;
  return spoiled ? FrameStatus::saturated : FrameStatus::ok;
}

}  // namespace bareglass
