#include "bareglass/core/checks.hpp"

#include "bareglass/core/arith.hpp"
#include "bareglass/core/lines.hpp"

namespace bareglass {

namespace {

JournalEntry entry(const Frame& frame, JournalCode code, std::int32_t value, std::int32_t limit) {
  return {frame.t_us, value, limit, code, 0, kNoLine, kNoLine};
}

std::int32_t saturated_nodes(const Frame& frame, const Settings& settings) {
  const std::uint32_t first = settings.raw_low + 1u;  // lowest count that is not saturated
  const std::uint32_t span = settings.raw_high - first;
  std::int32_t n = 0;
  for (int i = 0; i < frame.shape.nodes(); ++i) {
    // Below `first` the difference wraps round to a large number: one comparison for both ends.
    n += frame.raw[i] - first >= span ? 1 : 0;
  }
  return n;
}

std::int32_t milliseconds(std::uint64_t us) {
  const std::uint64_t ms = divide_u64(us, 1000);
  return ms > 2147483647u ? 2147483647 : static_cast<std::int32_t>(ms);
}

}  // namespace

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
    due = (gaps_ & (gaps_ - 1)) == 0 && (gaps_ & 0x55555555u) != 0;
  } else if (gaps_ != 0 && ++whole_ == kEndOfRun) {
    gaps_ = 0;
    due = lost_ != 0;
  }
  if (!due) return;
  journal.add(entry(frame, JournalCode::frames_missing,
                    static_cast<std::int32_t>(lost_ & 0x7fffffffu), 0));
  lost_ = 0;
}

FrameStatus FrameChecker::check(Journal& journal, const Frame& frame, const Settings& settings) {
  if (frame.shape != settings.shape) {
    if (!misshapen_)
      journal.add(
          entry(frame, JournalCode::wrong_shape, frame.shape.nodes(), settings.shape.nodes()));
    misshapen_ = true;
    return FrameStatus::wrong_shape;
  }
  misshapen_ = false;
  if (seen_ && frame.sequence == last_sequence_ && frame.t_us == last_t_us_)
    return FrameStatus::repeated;
  if (seen_ && frame.t_us < last_t_us_) {
    if (!backward_)
      journal.add(
          entry(frame, JournalCode::stamp_backward, milliseconds(last_t_us_ - frame.t_us), 0));
    backward_ = true;
    return FrameStatus::stamp_backward;
  }
  backward_ = false;
  const std::uint32_t step = frame.sequence - last_sequence_;
  if (seen_) count_missing(journal, frame, step > 1 && step < 0x80000000u ? step - 1 : 0);
  seen_ = true;
  last_sequence_ = frame.sequence;
  last_t_us_ = frame.t_us;

  const std::int32_t allowed = permille_of(settings.shape.nodes(), settings.saturated_permille);
  std::int32_t saturated = saturated_nodes(frame, settings);
  if (saturated > allowed) saturated -= dead_nodes(frame, settings);
  const bool spoiled = saturated > allowed;
  if (spoiled && !spoiled_)
    journal.add(entry(frame, JournalCode::frame_saturated, saturated, allowed));
  spoiled_ = spoiled;
  return spoiled ? FrameStatus::saturated : FrameStatus::ok;
}

}  // namespace bareglass
