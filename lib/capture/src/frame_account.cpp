#include "frame_account.hpp"

#include <utility>

namespace bareglass::host {

void note_damage(CaptureStats& stats, DamagePlace place) {
  if (stats.damage.size() < CaptureStats::kMaxDamagePlaces)
    stats.damage.push_back(std::move(place));
}

void FrameAccount::description(const PanelDescription& panel) {
  period_us_ = panel.frame_period_us;
  if (!panel.power_up_us || panel.power_up_us == power_up_us_) return;
  power_up_us_ = panel.power_up_us;
  for (Last& last : last_) last.seen = false;
}

void FrameAccount::frame(CaptureStats& stats, const FrameRecord& frame, bool same_values) {
  Last& last = last_[frame.kind == FrameKind::raw ? 0 : 1];
  ++stats.frames;
  if (last.seen) {
    if (frame.sequence == last.sequence && frame.t_us == last.t_us && same_values)
      ++stats.repeated_frames;
    else
      compare(stats, last, frame);
  }
  last = {true, frame.sequence, frame.t_us};
}

void FrameAccount::compare(CaptureStats& stats, const Last& last, const FrameRecord& frame) const {
  const std::uint32_t step = frame.sequence - last.sequence;
  if (step >= 0x80000000u) {
    ++stats.sequence_restarts;
  } else if (step > 1) {
    ++stats.sequence_gaps;
    stats.frames_missing += step - 1;
  }
  if (frame.t_us < last.t_us)
    ++stats.stamps_backward;
  else if (period_us_ != 0 && 2 * (frame.t_us - last.t_us) > 3ull * period_us_)
    ++stats.time_gaps;
}

}  // namespace bareglass::host
