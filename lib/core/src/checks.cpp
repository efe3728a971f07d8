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
  if (seen_ && step > 1 && step < 0x80000000u)
    journal.add(entry(frame, JournalCode::frames_missing, static_cast<std::int32_t>(step - 1), 0));
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
