#include "bareglass/capture/recorder.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstring>

namespace bareglass::host {

namespace {

constexpr std::size_t kReadAtOnce = 4096;
constexpr int kLookEveryMs = 100;

std::int64_t steady_ms() {
  using namespace std::chrono;
  return duration_cast<milliseconds>(steady_clock::now().time_since_epoch()).count();
}

/// True if another program holds the file that is there.
bool is_held(const std::string& path) {
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (fd < 0) return false;
  const bool held = ::flock(fd, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK;
  ::close(fd);
  return held;
}

int create(const std::string& path) {
  const int fd = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  if (fd < 0 && errno == EEXIST)
    throw CaptureWriteError(path, "",
                            is_held(path)
                                ? "is being recorded by another program; name another file"
                                : "exists already; a recording does not write over it, so "
                                  "name another file or remove it");
  if (fd < 0)
    throw CaptureWriteError(path, "", std::string("cannot create: ") + std::strerror(errno));
  ::flock(fd, LOCK_EX | LOCK_NB);
  return fd;
}

}  // namespace

Recorder::Recorder(std::unique_ptr<LiveSource> source, const std::string& path, RecordLimits limits)
    : source_(std::move(source)),
      path_(path),
      limits_(limits),
      fd_(create(path)),
      started_ms_(steady_ms()),
      thread_([this] { run(); }) {}

Recorder::~Recorder() {
  stop();
  ::close(fd_);
}

void Recorder::stop() {
  stop_ = true;
  if (thread_.joinable()) thread_.join();
}

Recorder::Status Recorder::status() const {
  const std::lock_guard<std::mutex> guard(mutex_);
  return status_;
}

std::uint64_t Recorder::age_ms() const {
  return static_cast<std::uint64_t>(steady_ms() - started_ms_);
}

Recorder::Status Recorder::wait_beyond(std::uint64_t bytes, int timeout_ms) const {
  std::unique_lock<std::mutex> lock(mutex_);
  changed_.wait_for(lock, std::chrono::milliseconds(timeout_ms),
                    [&] { return status_.bytes > bytes || status_.end != End::none; });
  return status_;
}

void Recorder::end(End how, std::string problem) {
  // The memory of the machine is not the disk yet.
  if (::fsync(fd_) != 0 && how != End::failed && errno != EINVAL && errno != EROFS) {
    how = End::failed;
    problem = std::string("cannot write: ") + std::strerror(errno);
  }
  source_.reset();  // sets a serial port back
  const std::lock_guard<std::mutex> guard(mutex_);
  status_.end = how;
  status_.problem = std::move(problem);
  changed_.notify_all();
}

void Recorder::run() {
  std::uint8_t bytes[kReadAtOnce];
  try {
    for (;;) {
      if (stop_) return end(End::stopped);
      const std::uint64_t age = age_ms();
      if (limits_.time_us && first_byte_ms_ && (age - *first_byte_ms_) * 1000 >= *limits_.time_us)
        return end(End::stopped);
      std::size_t most = kReadAtOnce;
      if (limits_.bytes) {
        const std::uint64_t left = *limits_.bytes - std::min(*limits_.bytes, status().bytes);
        if (left == 0) return end(End::stopped);
        most = static_cast<std::size_t>(std::min<std::uint64_t>(most, left));
      }
      const LiveSource::Got got = source_->read(bytes, most, kLookEveryMs);
      if (got.event == LiveSource::Event::bytes && !keep(bytes, got.size)) return;
      if (got.event == LiveSource::Event::ended) return end(End::ended);
      if (got.event == LiveSource::Event::lost || got.event == LiveSource::Event::back) {
        const bool back = got.event == LiveSource::Event::back;
        if (back) part_packets();
        const std::lock_guard<std::mutex> guard(mutex_);
        status_.connected = back;
        status_.losses += back ? 0u : 1u;
        changed_.notify_all();
      }
    }
  } catch (const std::exception& problem) {
    end(End::failed, problem.what());
  }
}

/// Between a packet that was cut off and the first of the next connection, so that the cut costs
/// one packet and not two. Zeros between packets mean nothing.
void Recorder::part_packets() {
  const std::uint8_t zero = 0;
  if (status().bytes != whole_) keep(&zero, 1);
}

bool Recorder::keep(const std::uint8_t* bytes, std::size_t size) {
  if (!first_byte_ms_) first_byte_ms_ = age_ms();
  std::uint64_t total = status().bytes;
  for (std::size_t done = 0; done < size;) {
    const ssize_t put = ::write(fd_, bytes + done, size - done);
    if (put < 0 && errno == EINTR) continue;
    if (put < 0) {
      fail_to_write(errno);
      return false;
    }
    done += static_cast<std::size_t>(put);
    total += static_cast<std::uint64_t>(put);
    for (std::size_t i = done; i-- > done - static_cast<std::size_t>(put);)
      if (bytes[i] == 0) {
        whole_ = total - (done - i - 1);
        break;
      }
  }
  const std::lock_guard<std::mutex> guard(mutex_);
  status_.bytes = total;
  status_.last_byte_ms = age_ms();
  changed_.notify_all();
  return true;
}

/// A packet that did not find room is taken back, so that the file ends with a whole one. Text
/// holds no zeros and stays as it is.
void Recorder::fail_to_write(int error) {
  if (whole_ > 0 && ::ftruncate(fd_, static_cast<off_t>(whole_)) == 0) {
    const std::lock_guard<std::mutex> guard(mutex_);
    status_.bytes = whole_;
  }
  const bool full = error == ENOSPC || error == EDQUOT || error == EFBIG;
  end(End::failed, std::string(full ? "no room left to write: " : "cannot write: ") +
                       std::strerror(error) + ". What was recorded up to here can be read");
}

}  // namespace bareglass::host
