#include "bareglass/view/replay_engine.hpp"

#include <algorithm>

namespace bareglass::view {

namespace {

// As in host::replay: a first frame later than this after the power-up means that the start was
// not recorded; differences are laid on the middle of the scale. A test holds the journals of both
// against each other.
constexpr std::uint64_t kStartWindowUs = 2000000;
constexpr std::uint16_t kMidScale = 32768;

std::size_t count(int n) { return static_cast<std::size_t>(n); }

template <typename T>
View<T> view(std::vector<T>& v) {
  return {v.data(), v.size()};
}

template <typename T>
void copy_into(std::vector<T>& to, const std::vector<T>& from) {
  std::copy(from.begin(), from.end(), to.begin());
}

template <typename T>
std::size_t bytes_of(const std::vector<T>& v) {
  return v.size() * sizeof(T);
}

}  // namespace

EngineArrays::EngineArrays(Shape shape)
    : baseline_q8(count(shape.nodes())),
      difference(baseline_q8.size()),
      previous(baseline_q8.size()),
      roughness_q4(baseline_q8.size()),
      label(baseline_q8.size()),
      common_mode(count(shape.rows)),
      row_busy(count(shape.rows)),
      row_level(count(shape.rows)),
      col_level(count(shape.cols)),
      sort(count(std::max(shape.rows, shape.cols))),
      row_faulty(count(shape.rows)),
      col_faulty(count(shape.cols)) {}

Memory EngineArrays::memory() {
  return {view(baseline_q8), view(difference),  view(previous),   view(roughness_q4),
          view(label),       view(common_mode), view(row_busy),   view(row_level),
          view(col_level),   view(sort),        view(row_faulty), view(col_faulty)};
}

void EngineArrays::take(const EngineArrays& from) {
  copy_into(baseline_q8, from.baseline_q8);
  copy_into(difference, from.difference);
  copy_into(previous, from.previous);
  copy_into(roughness_q4, from.roughness_q4);
  copy_into(label, from.label);
  copy_into(common_mode, from.common_mode);
  copy_into(row_busy, from.row_busy);
  copy_into(row_level, from.row_level);
  copy_into(col_level, from.col_level);
  copy_into(sort, from.sort);
  copy_into(row_faulty, from.row_faulty);
  copy_into(col_faulty, from.col_faulty);
}

std::size_t EngineArrays::bytes() const {
  return bytes_of(baseline_q8) + bytes_of(difference) + bytes_of(previous) +
         bytes_of(roughness_q4) + bytes_of(label) + bytes_of(common_mode) + bytes_of(row_busy) +
         bytes_of(row_level) + bytes_of(col_level) + bytes_of(sort) + bytes_of(row_faulty) +
         bytes_of(col_faulty);
}

ReplayEngine::ReplayEngine(const host::Account& account, std::optional<std::uint64_t> power_up_us)
    : settings_(account.settings),
      frame_kind_(account.kind == host::DumpKind::differences_only ? host::FrameKind::difference
                                                                   : host::FrameKind::raw),
      use_reference_(account.has_reference),
      fixed_power_up_(power_up_us.has_value()),
      arrays_(account.settings.shape),
      engine_(arrays_.memory()),
      power_up_us_(power_up_us) {}

View<const std::uint16_t> ReplayEngine::reference() const {
  if (!use_reference_) return {};
  return {reference_.data(), reference_.size()};
}

void ReplayEngine::take(const host::PanelDescription& panel) {
  const bool restarted = started_ && panel.power_up_us && panel.power_up_us != power_up_us_;
  // What the caller knows better holds for the start, not for a later power-up.
  if (started_ || !fixed_power_up_) power_up_us_ = panel.power_up_us;
  if (restarted && frame_kind_ == host::FrameKind::raw) engine_.power_up(*panel.power_up_us);
}

void ReplayEngine::take(const host::ReferenceRecord& reference) {
  if (!started_) reference_ = reference.raw;
}

bool ReplayEngine::belongs(const host::FrameRecord& frame) const {
  return frame.kind == frame_kind_ && Shape{frame.rows, frame.cols} == settings_.shape;
}

void ReplayEngine::start(const host::FrameRecord& first) {
  use_reference_ = use_reference_ && reference_.size() == count(settings_.shape.nodes());
  engine_.configure(settings_, reference());
  scratch_.assign(count(settings_.shape.nodes()), kMidScale);
  const bool from_start =
      power_up_us_ && first.t_us >= *power_up_us_ && first.t_us - *power_up_us_ <= kStartWindowUs;
  if (frame_kind_ == host::FrameKind::difference)
    engine_.join_midway({scratch_.data(), scratch_.size()}, first.t_us);
  else
    engine_.power_up(from_start ? *power_up_us_ : first.t_us);
  started_ = true;
}

ReplayEngine::Stepped ReplayEngine::step(const host::FrameRecord& frame) {
  if (!started_) start(frame);
  const std::uint16_t* raw = frame.raw.data();
  if (frame.kind == host::FrameKind::difference) {
    const int sign = settings_.counts_rise ? 1 : -1;
    for (std::size_t i = 0; i < scratch_.size(); ++i)
      scratch_[i] = static_cast<std::uint16_t>(
          kMidScale + sign * std::clamp<int>(frame.difference[i], -32767, 32767));
    raw = scratch_.data();
  }
  const Frame scan{raw, settings_.shape, frame.sequence, frame.t_us};
  Stepped out;
  out.result = engine_.step(scan);
  if (out.result.status == FrameStatus::stamp_backward && frame.sequence < last_sequence_) {
    out.clock_restarted = true;
    if (frame_kind_ == host::FrameKind::difference) {
      const std::vector<std::uint16_t> middle(scratch_.size(), kMidScale);
      engine_.join_midway({middle.data(), middle.size()}, frame.t_us);
    } else {
      engine_.power_up(frame.t_us);
    }
    out.result = engine_.step(scan);
  }
  last_sequence_ = frame.sequence;
  return out;
}

void ReplayEngine::restore(const Snapshot& snapshot) {
  engine_ = snapshot.engine;
  arrays_.take(snapshot.arrays);
  power_up_us_ = snapshot.power_up_us;
  last_sequence_ = snapshot.last_sequence;
}

}  // namespace bareglass::view
