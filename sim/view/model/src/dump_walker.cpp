#include "bareglass/view/dump_index.hpp"

namespace bareglass::view {

namespace {

/// Descriptions and references between two frames; a dump made of nothing else must not fill the
/// memory.
constexpr std::size_t kMostWaiting = 64;

}  // namespace

DumpWalker::DumpWalker(const DumpFile& file, const host::Account& account,
                       std::optional<std::uint64_t> power_up_us)
    : file_(file), first_us_(account.first_us), engine_(account, power_up_us) {}

DumpWalker::Checkpoint DumpWalker::checkpoint() const {
  return {offset_, frames_, moment_, engine_.snapshot()};
}

void DumpWalker::go_to(const Checkpoint& place, std::uint64_t end) {
  offset_ = place.offset;
  frames_ = place.frames;
  moment_ = place.moment;
  engine_.restore(place.state);
  peeked_ = false;
  waiting_.clear();
  reader_.reset();
  end_ = 0;
  extend(end);
}

void DumpWalker::extend(std::uint64_t end) {
  if (end <= end_) return;
  if (peeked_) {
    // What is waiting was read from the stretch before; the reader goes on behind it.
    reader_begin_ = next_offset_;
  } else {
    reader_begin_ = reader_ ? reader_begin_ + reader_->bytes_read() : offset_;
  }
  end_ = end;
  damage_seen_ = missing_seen_ = 0;
  reader_.reset();
  try {
    if (reader_begin_ < end_) reader_ = file_.reader(reader_begin_, end_);
  } catch (const host::CaptureError&) {
    // Cut since it was measured: DumpFile::trouble() says so.
    reader_begin_ = end_;
  }
}

bool DumpWalker::peek() {
  if (peeked_) return true;
  if (!reader_) return false;
  try {
    while (reader_->next(next_)) {
      if (std::holds_alternative<host::PanelDescription>(next_) ||
          std::holds_alternative<host::ReferenceRecord>(next_)) {
        if (waiting_.size() == kMostWaiting) waiting_.erase(waiting_.begin());
        waiting_.push_back(next_);
      }
      const auto* frame = std::get_if<host::FrameRecord>(&next_);
      if (frame == nullptr || !engine_.belongs(*frame)) continue;
      next_offset_ = reader_begin_ + reader_->bytes_read();
      peeked_ = true;
      return true;
    }
  } catch (const host::CaptureError&) {
    // A stretch without an intact packet: nothing more to see in it.
    reader_begin_ = end_;
    reader_.reset();
  }
  return false;
}

std::uint64_t DumpWalker::at_of(const host::FrameRecord& frame) const {
  if (frames_ == 0) return 0;
  const std::uint64_t at = engine_.would_show_at(frame, waiting_);
  return at > first_us_ ? at - first_us_ : 0;
}

std::optional<std::uint64_t> DumpWalker::next_at() {
  if (!peek()) return std::nullopt;
  return at_of(std::get<host::FrameRecord>(next_));
}

bool DumpWalker::step() {
  if (!peek()) return false;
  host::FrameRecord& frame = std::get<host::FrameRecord>(next_);
  const std::uint64_t at = at_of(frame);
  for (const host::Record& record : waiting_) {
    if (const auto* panel = std::get_if<host::PanelDescription>(&record)) engine_.take(*panel);
    if (const auto* bare = std::get_if<host::ReferenceRecord>(&record)) engine_.take(*bare);
  }
  waiting_.clear();
  const host::DumpFeed::Stepped stepped = engine_.step(frame);
  status_ = stepped.result.status;
  moment_.number = frames_++;
  moment_.at_us = at;
  std::swap(moment_.frame, frame);
  offset_ = next_offset_;
  peeked_ = false;
  const host::CaptureStats& stats = reader_ ? reader_->stats() : host::CaptureStats{};
  new_damage_ = stats.damaged_packets - damage_seen_;
  new_missing_ = stats.frames_missing - missing_seen_;
  damage_seen_ = stats.damaged_packets;
  missing_seen_ = stats.frames_missing;
  return true;
}

}  // namespace bareglass::view
