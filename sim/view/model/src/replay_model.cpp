#include "bareglass/view/replay_model.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <utility>

namespace bareglass::view {

namespace {

using Clock = std::chrono::steady_clock;

/// Node readings walked at a time: a millisecond or two, whatever the panel's size.
constexpr std::size_t kReadingsAtATime = 250000;
/// So long an update goes on walking: a frame of the window has 16 ms.
constexpr auto kWalkFor = std::chrono::milliseconds(5);
/// Node readings that a seek may step through in one go.
constexpr std::size_t kReadingsOfASeek = 4000000;

}  // namespace

ReplayModel::ReplayModel(OpenRequest request) : request_(std::move(request)) {
  begin_reading(nullptr, request_.first_bytes);
}

ReplayModel::~ReplayModel() {
  stop_ = true;
  if (reading_.valid()) reading_.wait();
}

void ReplayModel::update(double seconds) {
  quiet_s_ += seconds;
  const bool came =
      reading_.valid() && reading_.wait_for(std::chrono::seconds(0)) == std::future_status::ready;
  if (came) take_opened(reading_.get());
  if (index_) walk();
  watch_file(seconds);
  keep_to_decision();
  if (phase_ == Phase::ready) advance_clock(seconds);
}

void ReplayModel::finish_opening() {
  do {
    if (reading_.valid()) reading_.wait();
    update(0.0);
  } while (phase_ == Phase::opening || (phase_ == Phase::ready && (walking_ || partly_told_)));
}

double ReplayModel::progress() const {
  if (phase_ == Phase::opening && !index_) {
    const auto total = static_cast<double>(bytes_total_.load());
    return total > 0 ? 0.5 * static_cast<double>(bytes_read_.load()) / total : 0.0;
  }
  if (partly_told_ && !walking_ && bytes_total_ > 0)
    return static_cast<double>(bytes_read_.load()) / static_cast<double>(bytes_total_.load());
  if (!walking_ || !file_) return 1.0;
  const auto total = static_cast<double>(std::max<std::uint64_t>(1, file_->size()));
  return 0.5 + 0.5 * static_cast<double>(index_->bytes_done()) / total;
}

void ReplayModel::walk() {
  const auto nodes =
      static_cast<std::size_t>(std::max(1, indexed_account_->settings.shape.nodes()));
  const std::size_t frames = std::max<std::size_t>(1, kReadingsAtATime / nodes);
  const Clock::time_point until = Clock::now() + kWalkFor;
  try {
    do walking_ = index_->extend(frames);
    while (walking_ && Clock::now() < until);
  } catch (const std::exception& e) {
    walking_ = false;
    trouble_ = e.what();
  }
  if (phase_ == Phase::opening && index_->frames() > 0 &&
      (!walking_ || index_->end_us() >= index_->at_of(account_->decisive.t_us) + 1)) {
    phase_ = Phase::ready;
    if (opens_at_end())
      to_end();
    else
      to_decision();
  } else if (phase_ == Phase::opening && !walking_) {
    phase_ = Phase::failed;
    problem_ = file_->name() + ": no frame could be shown";
  }
  if (phase_ == Phase::ready && index_->marks().size() != told_marks_) retell();
}

void ReplayModel::retell() {
  story_ = tell_story(*account_, *index_);
  told_marks_ = index_->marks().size();
}

void ReplayModel::advance_clock(double seconds) {
  if (at_end_) go(end_us());
  if (!playing_) return;
  clock_us_ += seconds * speed() * 1e6;
  const auto at = static_cast<std::uint64_t>(clock_us_);
  if (at >= end_us()) {
    clock_us_ = static_cast<double>(end_us());
    if (!walking_) playing_ = false;
  }
  go(static_cast<std::uint64_t>(clock_us_));
}

void ReplayModel::go(std::uint64_t at_us) {
  const auto nodes = static_cast<std::size_t>(std::max(1, account_->settings.shape.nodes()));
  // A seek has more time than an update of a play; what it can't reach is reached by calling again.
  for (int tries = 0; tries < 64; ++tries)
    if (index_->seek_time(at_us, kReadingsOfASeek / nodes + 1)) return;
}

void ReplayModel::seek(std::uint64_t at_us) {
  if (phase_ != Phase::ready) return;
  at_end_ = at_decision_ = false;
  go(std::min(at_us, end_us()));
  clock_us_ = static_cast<double>(std::min(at_us, end_us()));
}

void ReplayModel::to_end() {
  if (phase_ != Phase::ready) return;
  seek(end_us());
  at_end_ = true;
}

void ReplayModel::play(bool on) {
  if (phase_ != Phase::ready) return;
  playing_ = on;
  at_end_ = at_decision_ = false;
  clock_us_ = static_cast<double>(at_us());
  if (on && at_us() >= end_us() && !walking_) seek(0);
}

void ReplayModel::change_speed(int by) {
  const int most = static_cast<int>(kSpeeds.size()) - 1;
  speed_ = static_cast<std::size_t>(std::clamp(static_cast<int>(speed_) + by, 0, most));
}

void ReplayModel::step(int frames) {
  if (phase_ != Phase::ready) return;
  playing_ = false;
  at_end_ = at_decision_ = false;
  const auto now = static_cast<std::int64_t>(moment().number);
  const auto target = static_cast<std::uint64_t>(std::max<std::int64_t>(0, now + frames));
  while (!index_->seek_frame(target, 4096)) {
  }
  clock_us_ = static_cast<double>(at_us());
}

std::uint64_t ReplayModel::decision_us() const { return index_->at_of(account_->decisive.t_us); }

void ReplayModel::to_decision() {
  if (phase_ != Phase::ready) return;
  playing_ = false;
  seek(decision_us());
  at_decision_ = true;
  marked_.reset();
  if (!diagnosis_.causes.empty()) mark_cause(diagnosis_.causes.front());
}

void ReplayModel::keep_to_decision() {
  if (phase_ != Phase::ready || !at_decision_) return;
  const std::uint64_t decision = decision_us();
  const bool walked = !walking_ || index_->end_us() > decision;
  if (walked && moment().at_us != decision) to_decision();
}

void ReplayModel::mark_cause(const host::CauseFound& cause) {
  if (!cause.has_place) return;
  marked_ = MarkedPlace{cause.box, cause.lines, cause.cause};
  if (cause.reconstruction) marked_->pieces = cause.reconstruction->pieces;
}

void ReplayModel::show_cause(const host::CauseFound& cause) {
  if (phase_ != Phase::ready) return;
  seek(index_->at_of(cause.first_us));
  mark_cause(cause);
}

double ReplayModel::seconds_of(std::uint64_t at_us) const {
  const std::uint64_t t_us = account_->first_us + at_us;
  const std::uint64_t zero = host::zero_time(*account_, t_us);
  return static_cast<double>(t_us > zero ? t_us - zero : 0) / 1e6;
}

std::uint64_t ReplayModel::at_of_seconds(double seconds) const {
  const auto zero = static_cast<double>(host::zero_time(*account_));
  const double at = zero + seconds * 1e6 - static_cast<double>(account_->first_us);
  return static_cast<std::uint64_t>(std::clamp(at, 0.0, static_cast<double>(end_us())));
}

std::vector<ReplayModel::AxisMark> ReplayModel::axis_marks(double step_s) const {
  std::vector<AxisMark> marks;
  const std::vector<host::Run>& runs = account_->runs;
  const auto first = static_cast<double>(account_->first_us);
  for (std::size_t n = 0; n < runs.size(); ++n) {
    const auto zero = static_cast<double>(runs[n].zero_us);
    const double end = n + 1 < runs.size() ? static_cast<double>(runs[n + 1].zero_us) - first
                                           : static_cast<double>(end_us());
    for (double s = std::max(0.0, std::ceil((first - zero) / 1e6 / step_s) * step_s);;
         s += step_s) {
      const double at = zero + s * 1e6 - first;
      if (at > end) break;
      if (!marks.empty() && at < static_cast<double>(marks.back().at_us) + 0.5e6 * step_s) continue;
      marks.push_back({static_cast<std::uint64_t>(std::max(0.0, at)), s});
    }
  }
  return marks;
}

const NodeLayer& ReplayModel::values() {
  if (valued_frame_ != moment().number || valued_layer_ != layer_) {
    values_ = layer_values(*index_, layer_);
    valued_frame_ = moment().number;
    valued_layer_ = layer_;
  }
  return values_;
}

int ReplayModel::node() const {
  if (pointed_) return *pointed_;
  if (pinned_) return *pinned_;
  const std::vector<std::int16_t>& d = account_->decisive.difference;
  if (d.empty()) return 0;
  const auto most =
      std::max_element(d.begin(), d.end(), [](int a, int b) { return std::abs(a) < std::abs(b); });
  return static_cast<int>(most - d.begin());
}

std::optional<std::size_t> ReplayModel::current_sentence() const {
  std::optional<std::size_t> now;
  for (std::size_t n = 0; n < story_.size(); ++n)
    if (story_[n].at_us <= at_us()) now = n;
  // Of several at one moment, the decision speaks for it.
  if (now)
    for (std::size_t n = *now + 1; n-- > 0 && story_[n].at_us == story_[*now].at_us;)
      if (story_[n].decisive) return n;
  return now;
}

void ReplayModel::follow(std::size_t sentence) {
  if (sentence >= story_.size()) return;
  playing_ = false;
  seek(story_[sentence].at_us);
  marked_.reset();
  const std::optional<Box>& place = story_[sentence].place;
  if (!place) return;
  marked_ = MarkedPlace{*place, std::nullopt, host::Cause::unknown_object};
  pinned_ = place->row0 * account_->settings.shape.cols + place->col0;
}

void ReplayModel::next_sentence(int direction) {
  if (phase_ != Phase::ready) return;
  const std::uint64_t now = at_us();
  if (direction > 0) {
    for (std::size_t n = 0; n < story_.size(); ++n)
      if (story_[n].at_us > now) return follow(n);
    return;
  }
  for (std::size_t n = story_.size(); n-- > 0;)
    if (story_[n].at_us < now) return follow(n);
}

}  // namespace bareglass::view
