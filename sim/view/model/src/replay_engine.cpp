#include "bareglass/view/replay_engine.hpp"

#include <algorithm>

namespace bareglass::view {

namespace {

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
      arrays_(account.settings.shape),
      engine_(arrays_.memory()),
      feed_(engine_, power_up_us) {}

bool ReplayEngine::belongs(const host::FrameRecord& frame) const {
  return frame.kind == frame_kind_ && Shape{frame.rows, frame.cols} == settings_.shape;
}

host::DumpFeed::Stepped ReplayEngine::step(const host::FrameRecord& frame) {
  // The account was made with these settings, so they are in range.
  if (!feed_.started()) feed_.start(settings_, use_reference_, frame);
  return feed_.step(frame);
}

void ReplayEngine::restore(const Snapshot& snapshot) {
  engine_ = snapshot.engine;
  arrays_.take(snapshot.arrays);
  feed_.go_to(snapshot.place);
}

}  // namespace bareglass::view
