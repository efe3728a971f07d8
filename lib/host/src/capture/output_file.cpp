#include "bareglass/host/output_file.hpp"

#include <fcntl.h>
#include <signal.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <climits>
#include <cstdlib>
#include <cstring>
#include <ctime>

#include "bareglass/host/capture/error.hpp"
#include "bareglass/host/capture/source.hpp"

namespace bareglass::host {

namespace {

constexpr std::size_t kFlushBytes = 128 * 1024;

/// Turns the SIGPIPE of this thread's writes into the error EPIPE, whatever the program does with
/// the signal otherwise.
class NoPipeSignal {
 public:
  NoPipeSignal() {
    sigemptyset(&pipe_);
    sigaddset(&pipe_, SIGPIPE);
    sigset_t waiting;
    sigemptyset(&waiting);
    sigpending(&waiting);
    was_pending_ = sigismember(&waiting, SIGPIPE) == 1;
    pthread_sigmask(SIG_BLOCK, &pipe_, &before_);
  }
  ~NoPipeSignal() {
    const timespec now{0, 0};
    if (!was_pending_)
      while (sigtimedwait(&pipe_, nullptr, &now) < 0 && errno == EINTR) {
      }
    pthread_sigmask(SIG_SETMASK, &before_, nullptr);
  }
  NoPipeSignal(const NoPipeSignal&) = delete;
  NoPipeSignal& operator=(const NoPipeSignal&) = delete;

 private:
  sigset_t pipe_{};
  sigset_t before_{};
  bool was_pending_ = false;
};

/// 0 or the error.
int write_all(int fd, const std::uint8_t* bytes, std::size_t size) {
  while (size > 0) {
    const ssize_t put = ::write(fd, bytes, size);
    if (put < 0 && errno == EINTR) continue;
    if (put < 0) return errno;
    bytes += put;
    size -= static_cast<std::size_t>(put);
  }
  return 0;
}

/// The file a symbolic link leads to, so that finish() replaces that and not the link.
std::string real_target(const std::string& path) {
  char* real = ::realpath(path.c_str(), nullptr);
  std::string target = real != nullptr ? real : path;
  std::free(real);
  return target;
}

}  // namespace

OutputFile::OutputFile(const std::string& path) : name_(shown_name(path, "standard output")) {
  pending_.reserve(kFlushBytes);
  if (path == "-") {
    fd_ = STDOUT_FILENO;
    return;
  }
  owned_ = true;
  struct stat about {};
  const bool exists = ::stat(path.c_str(), &about) == 0;
  if (exists && S_ISDIR(about.st_mode))
    throw CaptureWriteError(name_, "", "is a directory, expected a file to write");
  if (!exists || S_ISREG(about.st_mode)) {
    open_beside(exists ? real_target(path) : path);
    return;
  }
  fd_ = ::open(path.c_str(), O_WRONLY | O_CLOEXEC | O_NOCTTY);
  if (fd_ < 0) fail("cannot open", errno);
}

OutputFile::~OutputFile() {
  if (owned_ && fd_ >= 0) ::close(fd_);
  if (!temporary_.empty()) ::unlink(temporary_.c_str());
}

void OutputFile::open_beside(const std::string& target) {
  target_ = target;
  for (int attempt = 0; attempt < 100; ++attempt) {
    temporary_ = target + ".partial-" + std::to_string(::getpid()) + "-" + std::to_string(attempt);
    fd_ = ::open(temporary_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (fd_ >= 0) return;
    if (errno != EEXIST) break;
  }
  const int error = errno;
  temporary_.clear();
  fail("cannot create", error);
}

void OutputFile::write(const void* bytes, std::size_t size) {
  const auto* from = static_cast<const std::uint8_t*>(bytes);
  pending_.insert(pending_.end(), from, from + size);
  if (pending_.size() >= kFlushBytes) flush();
}

void OutputFile::flush() {
  const NoPipeSignal guard;
  const int error = write_all(fd_, pending_.data(), pending_.size());
  if (error != 0) fail("cannot write", error);
  written_ += pending_.size();
  pending_.clear();
}

void OutputFile::rewrite_front(std::string_view text) {
  flush();
  if (::lseek(fd_, 0, SEEK_SET) != 0) fail("cannot go back to the start", errno);
  const int error = write_all(fd_, reinterpret_cast<const std::uint8_t*>(text.data()), text.size());
  if (error != 0) fail("cannot write", error);
}

void OutputFile::finish() {
  flush();
  if (!is_regular()) return;
  if (::fsync(fd_) != 0) fail("cannot write", errno);
  const int closed = ::close(fd_);
  fd_ = -1;
  if (closed != 0) fail("cannot write", errno);
  if (::rename(temporary_.c_str(), target_.c_str()) != 0) fail("cannot rename to", errno);
  temporary_.clear();
}

void OutputFile::fail(const char* what, int error) const {
  throw CaptureWriteError(name_, written_ > 0 ? "byte " + std::to_string(written_) : "",
                          std::string(what) + ": " + std::strerror(error));
}

}  // namespace bareglass::host
