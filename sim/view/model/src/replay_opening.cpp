// Reading a dump in the background, following it while it grows, and the touch test on what comes.
#include <algorithm>
#include <chrono>
#include <filesystem>
#include <new>
#include <stdexcept>
#include <utility>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/view/replay_model.hpp"

namespace bareglass::view {

namespace {

using Clock = std::chrono::steady_clock;

constexpr double kLookEvery_s = 0.25;
/// A dump that grows is told anew this often, and not before ten times what the telling took.
constexpr double kTellEvery_s = 2.0;
constexpr double kRestAfterTelling = 10.0;

/// The viewer does not want it any more.
struct Stopped : std::runtime_error {
  Stopped() : std::runtime_error("stopped") {}
};

std::uint64_t size_of_file(const std::string& path) {
  std::error_code none;
  const auto size = std::filesystem::file_size(path, none);
  return none ? 0 : static_cast<std::uint64_t>(size);
}

}  // namespace

void ReplayModel::begin_reading(std::shared_ptr<DumpFile> file, std::uint64_t most) {
  bytes_read_ = 0;
  bytes_total_ = 0;
  failed_size_ = size_of_file(request_.path);
  reading_ = std::async(std::launch::async, [this, most, file = std::move(file)]() mutable {
    return read(std::move(file), most);
  });
}

ReplayModel::Opened ReplayModel::read(std::shared_ptr<DumpFile> file, std::uint64_t most) {
  Opened out;
  const Clock::time_point begun = Clock::now();
  try {
    if (!file) file = std::make_shared<DumpFile>(request_.path, request_.reading, stop_);
    out.file = file;
    // To the last whole packet while it may be growing: a half of one is not damage.
    out.bytes = file->receiving() || request_.live ? file->whole_end() : file->size();
    if (most > 0 && out.bytes > most) {
      const std::uint64_t first = file->whole_end(most);
      out.partly = first > 0;
      if (out.partly) out.bytes = first;
    }
    bytes_total_ = out.bytes;
    const auto reader = file->reader(0, out.bytes);
    host::ReplayOptions options = request_.replaying;
    options.progress = [&](std::uint64_t) {
      bytes_read_ = reader->bytes_read();
      if (stop_) throw Stopped();
    };
    out.account = host::replay(*reader, file->name(), options);
    out.diagnosis = host::diagnose(*out.account);
    out.took_s = std::chrono::duration<double>(Clock::now() - begun).count();
  } catch (const std::bad_alloc&) {
    out.problem = request_.path + ": not enough memory to show this dump";
  } catch (const std::exception& e) {
    out.problem = e.what();
  }
  return out;
}

void ReplayModel::take_opened(Opened opened) {
  if (!opened.problem.empty()) {
    // A dump on show stays on show; a later reading that failed says nothing new.
    if (phase_ == Phase::ready) return;
    // Of a recording that has just begun there is no frame yet.
    if (request_.live) return;
    phase_ = Phase::failed;
    problem_ = opened.problem;
    return;
  }
  account_ = std::make_unique<host::Account>(std::move(*opened.account));
  diagnosis_ = std::move(opened.diagnosis);
  bytes_told_ = opened.bytes;
  telling_took_s_ = opened.took_s;
  since_telling_s_ = 0.0;
  partly_told_ = opened.partly;
  if (!index_) {
    file_ = std::move(opened.file);
    indexed_account_ = std::make_unique<host::Account>(*account_);
    try {
      if (request_.touch) touch_ = touch_of(*request_.touch, 0);
    } catch (const std::exception& e) {
      phase_ = Phase::failed;
      problem_ = e.what();
      return;
    }
    index_ = std::make_unique<DumpIndex>(*file_, *indexed_account_, request_.replaying.power_up_us);
    index_->observe([this](const DumpWalker& walker) {
      quiet_s_ = 0.0;
      if (touch_ && walker.offset() > touch_->from_byte && walker.status() == FrameStatus::ok)
        touch_->test.feed(walker.engine().engine().contacts(), walker.moment().at_us);
    });
    walking_ = true;
  }
  told_marks_ = 0;
  if (phase_ == Phase::ready) retell();
  if (partly_told_) begin_reading(file_, 0);
}

bool ReplayModel::opens_at_end() const {
  return touch_ || request_.live || (request_.path == "-" && file_->receiving());
}

ReplayModel::Touch ReplayModel::touch_of(TouchRequest request, std::uint64_t from_byte) const {
  const Settings& settings = indexed_account_->settings;
  if (request.plan) host::expect_on_panel(*request.plan, settings, request.plan_file);
  return {{request.plan ? std::move(*request.plan) : host::default_touch_plan(settings), settings},
          std::move(request.plan_file),
          from_byte};
}

void ReplayModel::begin_touch_test(TouchRequest request) {
  // What has come but not been walked yet came before the test.
  touch_ = touch_of(std::move(request), file_->whole_end());
  play(false);
  to_end();
}

std::string ReplayModel::touch_text() const {
  return host::touch_text(
      {file_->name(), account_->panel.unit_id, touch_->plan_file, host::touch_remarks(*account_)},
      touch_->test.plan(), touch_->test.result());
}

void ReplayModel::watch_file(double seconds) {
  since_look_s_ += seconds;
  since_telling_s_ += seconds;
  if (since_look_s_ < kLookEvery_s) return;
  since_look_s_ = 0.0;
  if ((phase_ == Phase::failed || waiting()) && request_.path != "-" && !reading_.valid() &&
      size_of_file(request_.path) != failed_size_) {
    // It has changed: it may be readable now.
    phase_ = Phase::opening;
    problem_.clear();
    begin_reading(nullptr, request_.first_bytes);
  }
  if (phase_ != Phase::ready) return;
  trouble_ = file_->trouble();
  if (trouble_.empty() && request_.source_trouble) trouble_ = request_.source_trouble();
  const bool grown = !walking_ && !file_->replaced() && file_->whole_end() > bytes_told_;
  const double rest_s = std::max(kTellEvery_s, kRestAfterTelling * telling_took_s_);
  if (grown && !reading_.valid() && since_telling_s_ >= rest_s) begin_reading(file_, 0);
}

}  // namespace bareglass::view
