#include "bareglass/view/dump_index.hpp"

#include <algorithm>

namespace bareglass::view {

DumpIndex::DumpIndex(const DumpFile& file, const host::Account& account,
                     std::optional<std::uint64_t> power_up_us)
    : file_(file),
      walker_(file, account, power_up_us),
      history_(static_cast<std::size_t>(account.settings.shape.nodes())),
      first_us_(account.first_us) {}

void DumpIndex::to_head() {
  if (!viewing_) return;
  view_ = walker_.checkpoint();
  viewing_ = false;
  walker_.go_to(*head_, end_);
}

void DumpIndex::to_view() {
  if (viewing_) return;
  head_ = walker_.checkpoint();
  viewing_ = true;
  walker_.go_to(view_ ? *view_ : checkpoints_.front(), end_);
}

bool DumpIndex::extend(std::size_t frames) {
  if (complete_) {
    const std::uint64_t end = file_.whole_end();
    if (end <= end_) return false;
    end_ = end;
    complete_ = false;
  } else if (end_ == 0) {
    end_ = file_.whole_end();
  }
  const bool viewed = viewing_;
  to_head();
  walker_.extend(end_);
  for (; frames > 0 && !complete_; --frames)
    if (walker_.step())
      note_step();
    else
      complete_ = true;
  if (viewed) to_view();
  return !complete_;
}

void DumpIndex::add_mark(const Mark& mark) {
  if (marks_.size() < kMostMarks)
    marks_.push_back(mark);
  else
    ++marks_left_out_;
}

void DumpIndex::note_step() {
  const Moment& m = walker_.moment();
  frames_ = walker_.frames();
  end_us_ = m.at_us;
  bytes_done_ = walker_.offset();
  const Engine& engine = walker_.engine().engine();
  if (walker_.new_damage() > 0) add_mark({Mark::Kind::damage, m.at_us, {}, walker_.new_damage()});
  if (walker_.new_missing() > 0) add_mark({Mark::Kind::gap, m.at_us, {}, walker_.new_missing()});
  const Journal& journal = engine.journal();
  for (std::uint32_t n = std::max(journal_read_, journal.first()); n < journal.end(); ++n)
    note_entry(journal.at(n), m.at_us);
  journal_read_ = journal.end();
  const InputState state = engine.state();
  if ((states_.empty() || states_.back().state != state) && states_.size() < kMostMarks)
    states_.push_back({m.at_us, state});
  if (m.frame.kind == host::FrameKind::raw)
    history_.add(m.at_us, {m.frame.raw.data(), m.frame.raw.size()}, engine);
  if (walker_.frames() == 1 || walker_.frames() % stride_ == 0) add_checkpoint();
  if (observer_) observer_(walker_);
}

void DumpIndex::note_entry(const JournalEntry& entry, std::uint64_t at_us) {
  add_mark({Mark::Kind::entry, at_us, entry, 0});
  const auto kind = static_cast<FindingKind>(entry.detail);
  if (entry.code == JournalCode::finding_began && findings_.size() < kMostMarks)
    findings_.push_back({at_us, std::nullopt, kind, entry.row, entry.col});
  if (entry.code != JournalCode::finding_ended) return;
  for (auto f = findings_.rbegin(); f != findings_.rend(); ++f)
    if (f->kind == kind && !f->to_us) {
      f->to_us = at_us;
      return;
    }
}

void DumpIndex::add_checkpoint() {
  if (checkpoints_.size() == kMostCheckpoints) {
    std::size_t kept = 1;
    for (std::size_t n = 2; n < checkpoints_.size(); n += 2)
      checkpoints_[kept++] = std::move(checkpoints_[n]);
    checkpoints_.erase(checkpoints_.begin() + static_cast<std::ptrdiff_t>(kept),
                       checkpoints_.end());
    stride_ *= 2;
    if (walker_.frames() % stride_ != 0) return;
  }
  checkpoints_.push_back(walker_.checkpoint());
}

const DumpWalker::Checkpoint& DumpIndex::checkpoint_before_time(std::uint64_t at_us) const {
  auto after =
      std::upper_bound(checkpoints_.begin(), checkpoints_.end(), at_us,
                       [](std::uint64_t at, const auto& place) { return at < place.moment.at_us; });
  return after == checkpoints_.begin() ? *after : *std::prev(after);
}

const DumpWalker::Checkpoint& DumpIndex::checkpoint_before_frame(std::uint64_t number) const {
  auto after =
      std::upper_bound(checkpoints_.begin(), checkpoints_.end(), number,
                       [](std::uint64_t n, const auto& place) { return n < place.moment.number; });
  return after == checkpoints_.begin() ? *after : *std::prev(after);
}

bool DumpIndex::seek_time(std::uint64_t at_us, std::size_t most_steps) {
  if (frames_ == 0) return true;
  to_view();
  const DumpWalker::Checkpoint& place = checkpoint_before_time(at_us);
  if (walker_.moment().at_us > at_us || walker_.frames() < place.frames) walker_.go_to(place, end_);
  walker_.extend(end_);
  for (auto next = walker_.next_at(); next && *next <= at_us; next = walker_.next_at()) {
    if (walker_.frames() >= frames_) return true;
    if (most_steps-- == 0) return false;
    walker_.step();
  }
  return true;
}

bool DumpIndex::seek_frame(std::uint64_t number, std::size_t most_steps) {
  if (frames_ == 0) return true;
  number = std::min(number, frames_ - 1);
  to_view();
  const DumpWalker::Checkpoint& place = checkpoint_before_frame(number);
  if (walker_.moment().number > number || walker_.frames() < place.frames)
    walker_.go_to(place, end_);
  walker_.extend(end_);
  while (walker_.moment().number < number) {
    if (most_steps-- == 0) return false;
    if (!walker_.step()) return true;
  }
  return true;
}

std::uint64_t DumpIndex::at_of(std::uint64_t t_us) const {
  return t_us <= first_us_ ? 0 : std::min(t_us - first_us_, end_us_);
}

}  // namespace bareglass::view
