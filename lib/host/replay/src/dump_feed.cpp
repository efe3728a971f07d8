#include "bareglass/replay/dump_feed.hpp"

#include <algorithm>

namespace bareglass::host {

namespace {

// A first frame later than this after the stamped power-up means that the start was not recorded.
constexpr std::uint64_t kTellsStartUs = 2000000;

// Baseline given to the core when a dump holds differences only: any value works that leaves room
// for both signs.

}  // namespace

DumpFeed::DumpFeed(Engine& engine, std::optional<std::uint64_t> power_up_us) : engine_(engine) {
  if (power_up_us) clock_.fix_power_up(*power_up_us);
}

bool DumpFeed::holds_power_up(std::uint64_t first_us) const {
  const std::optional<std::uint64_t> told = clock_.told_power_up_us();
  return told && first_us >= *told && first_us - *told <= kTellsStartUs;
}

View<const std::uint16_t> DumpFeed::reference_at(std::size_t place) const {
  if (place == 0) return {};
  return {references_[place - 1]->data(), references_[place - 1]->size()};
}

DumpFeed::Offered DumpFeed::take(const ReferenceRecord& reference) {
  const auto known = [&](const auto& one) { return *one == reference.raw; };
  const auto same = std::find_if(references_.begin(), references_.end(), known);
  const auto place = static_cast<std::size_t>(same - references_.begin()) + 1;
  if (same != references_.end()) {
    const bool already = place == offered_;
    offered_ = place;
    return already ? Offered::known : Offered::kept;
  }
  const auto nodes = static_cast<std::size_t>(engine_.settings().shape.nodes());
  const bool fits = !started_ || reference.raw.size() == nodes;
  if (!fits || references_.size() == kMostReferences) return Offered::refused;
  references_.push_back(std::make_unique<const std::vector<std::uint16_t>>(reference.raw));
  offered_ = place;
  return Offered::kept;
}

SettingsField DumpFeed::start(const Settings& settings, bool with_reference,
                              const FrameRecord& first) {
  kind_ = first.kind;
  with_reference_ = with_reference && kind_ == FrameKind::raw &&
                    offered_reference().size == static_cast<std::size_t>(settings.shape.nodes());
  in_use_ = with_reference_ ? offered_ : 0;
  const SettingsField wrong = engine_.configure(settings, reference());
  if (wrong != SettingsField::none) return wrong;
  if (kind_ == FrameKind::difference) {
    scratch_.assign(static_cast<std::size_t>(settings.shape.nodes()), DumpFeed::kMidScale);
    join_midway(first.t_us);
  } else {
    engine_.power_up(holds_power_up(first.t_us) ? *clock_.told_power_up_us() : first.t_us);
  }
  started_ = true;
  return wrong;
}

void DumpFeed::join_midway(std::uint64_t t_us) {
  std::fill(scratch_.begin(), scratch_.end(), DumpFeed::kMidScale);
  engine_.join_midway({scratch_.data(), scratch_.size()}, t_us);
}

// A reference that came since the life before is the one that the unit starts against now.
void DumpFeed::power_up() {
  const auto nodes = static_cast<std::size_t>(engine_.settings().shape.nodes());
  if (with_reference_ && offered_ != in_use_ && offered_reference().size == nodes) {
    in_use_ = offered_;
    const Settings settings = engine_.settings();
    engine_.configure(settings, reference());  // taken once before
  }
  engine_.power_up(clock_.zero_us());
}

bool DumpFeed::take(const PanelDescription& panel) {
  if (!clock_.description(panel) || kind_ == FrameKind::difference) return false;
  power_up();
  return true;
}

void DumpFeed::lay_out(const FrameRecord& frame) {
  const int sign = engine_.settings().counts_rise ? 1 : -1;
  for (std::size_t i = 0; i < scratch_.size(); ++i)
    scratch_[i] = static_cast<std::uint16_t>(
        DumpFeed::kMidScale + sign * std::clamp<int>(frame.difference[i], -32767, 32767));
}

DumpFeed::Stepped DumpFeed::step(const FrameRecord& frame) {
  using Clock = DumpClock::Step;
  const bool differences = frame.kind == FrameKind::difference;
  const DumpClock::Reading now = clock_.frame(frame.sequence, frame.t_us);
  Stepped out;
  out.clock = now.step;
  out.t_us = now.t_us;
  out.jump_ms = now.jump_ms;
  const bool goes_on = now.step == Clock::on || now.step == Clock::misfit;
  if (differences && !goes_on) join_midway(now.t_us);
  if (differences) lay_out(frame);
  if (!differences && now.step == Clock::began_anew) power_up();
  raw_ = differences ? scratch_.data() : frame.raw.data();
  const Frame scan{raw_, engine_.settings().shape, frame.sequence, now.t_us};
  if (!differences && now.step == Clock::jumped) {
    const InputState before = engine_.state();
    engine_.restart_clock(scan, now.jump_ms);
    out.result.status = FrameStatus::clock_restarted;
    out.result.state_changed = engine_.state() != before;
    return out;
  }
  out.result = engine_.step(scan);
  return out;
}

std::uint64_t DumpFeed::would_show_at(const FrameRecord& frame,
                                      const std::vector<Record>& before) const {
  DumpClock ahead = clock_;
  for (const Record& record : before)
    if (const auto* panel = std::get_if<PanelDescription>(&record)) ahead.description(*panel);
  ahead.frame(frame.sequence, frame.t_us);
  return ahead.latest_us();
}

void DumpFeed::go_to(const Place& place) {
  clock_ = place.clock;
  offered_ = place.offered;
  in_use_ = place.in_use;
}

}  // namespace bareglass::host
