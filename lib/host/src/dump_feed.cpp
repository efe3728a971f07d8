#include "bareglass/host/dump_feed.hpp"

#include <algorithm>

namespace bareglass::host {

namespace {

// A first frame later than this after the stamped power-up means that the start was not recorded.
constexpr std::uint64_t kStartWindowUs = 2000000;

// Baseline given to the core when a dump holds differences only: any value works that leaves room
// for both signs.
constexpr std::uint16_t kMidScale = 32768;

}  // namespace

DumpFeed::DumpFeed(Engine& engine, std::optional<std::uint64_t> power_up_us)
    : engine_(engine), fixed_power_up_(power_up_us.has_value()), power_up_us_(power_up_us) {}

bool DumpFeed::holds_power_up(std::uint64_t first_us) const {
  return power_up_us_ && first_us >= *power_up_us_ && first_us - *power_up_us_ <= kStartWindowUs;
}

SettingsField DumpFeed::start(const Settings& settings, View<const std::uint16_t> reference,
                              const FrameRecord& first) {
  const SettingsField wrong = engine_.configure(settings, reference);
  if (wrong != SettingsField::none) return wrong;
  kind_ = first.kind;
  if (kind_ == FrameKind::difference) {
    scratch_.assign(static_cast<std::size_t>(settings.shape.nodes()), kMidScale);
    join_midway(first.t_us);
  } else {
    engine_.power_up(holds_power_up(first.t_us) ? *power_up_us_ : first.t_us);
  }
  started_ = true;
  return wrong;
}

void DumpFeed::join_midway(std::uint64_t t_us) {
  std::fill(scratch_.begin(), scratch_.end(), kMidScale);
  engine_.join_midway({scratch_.data(), scratch_.size()}, t_us);
}

bool DumpFeed::take(const PanelDescription& panel) {
  const bool restarted = started_ && panel.power_up_us && panel.power_up_us != power_up_us_;
  if (started_ || !fixed_power_up_) power_up_us_ = panel.power_up_us;
  if (!restarted || kind_ == FrameKind::difference) return false;
  engine_.power_up(*panel.power_up_us);
  return true;
}

DumpFeed::Stepped DumpFeed::step(const FrameRecord& frame) {
  const auto lay_out = [&] {
    const int sign = engine_.settings().counts_rise ? 1 : -1;
    for (std::size_t i = 0; i < scratch_.size(); ++i)
      scratch_[i] = static_cast<std::uint16_t>(
          kMidScale + sign * std::clamp<int>(frame.difference[i], -32767, 32767));
  };
  const bool differences = frame.kind == FrameKind::difference;
  if (differences) lay_out();
  raw_ = differences ? scratch_.data() : frame.raw.data();
  const Frame scan{raw_, engine_.settings().shape, frame.sequence, frame.t_us};
  Stepped out;
  out.result = engine_.step(scan);
  if (out.result.status == FrameStatus::stamp_backward && frame.sequence < last_sequence_) {
    out.clock_restarted = true;
    if (differences) {
      join_midway(frame.t_us);
      lay_out();
    } else {
      engine_.power_up(frame.t_us);
    }
    out.result = engine_.step(scan);
  }
  last_sequence_ = frame.sequence;
  return out;
}

void DumpFeed::go_to(const Place& place) {
  power_up_us_ = place.power_up_us;
  last_sequence_ = place.last_sequence;
}

}  // namespace bareglass::host
