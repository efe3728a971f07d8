#include "bareglass/capture/output_file.hpp"

#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <climits>
#include <cstdlib>
#include <cstring>
#include <ctime>

#include "bareglass/capture/error.hpp"
#include "bareglass/capture/source.hpp"

namespace bareglass::host {

namespace {

constexpr std::size_t kFlushBytes = 128 * 1024;
class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;

 private:
  int fd_;
};

/// What a live recording may lose when its program is killed.
constexpr std::chrono::seconds kFlushAge{1};

/// Paths for a signal handler to remove: it can neither allocate nor wait.
class Unfinished {
 public:
  /// False if there are more outputs at once than anybody needs; that one is then not removed.
  bool add(const std::string& path) {
    if (path.size() >= sizeof slots_[0].path) return false;
    for (Slot& slot : slots_) {
      int free = kFree;
      if (!slot.state.compare_exchange_strong(free, kFilling)) continue;
      path.copy(slot.path, path.size());
      slot.path[path.size()] = '\0';
      slot.state = kHeld;
      return true;
    }
    return false;
  }
  void remove(const std::string& path) {
    for (Slot& slot : slots_)
      if (slot.state == kHeld && path == slot.path) slot.state = kFree;
  }
  void unlink_all() noexcept {
    for (Slot& slot : slots_)
      if (slot.state == kHeld) ::unlink(slot.path);
  }

 private:
  enum : int { kFree, kFilling, kHeld };
  struct Slot {
    std::atomic<int> state{kFree};
    char path[PATH_MAX];
  };
  static_assert(std::atomic<int>::is_always_lock_free, "a signal handler reads it");
  Slot slots_[16];
};
Unfinished g_unfinished;

std::string partial_prefix(const std::string& target) { return target + ".partial-"; }

/// True for what follows the prefix in the names that create_temporary() makes.
bool is_partial_number(const char* text) {
  return *text != '\0' && std::strspn(text, "0123456789-") == std::strlen(text);
}

/// Removes `path` if nobody writes it. Where there are no locks nothing is removed.
void remove_if_stale(const std::string& path) {
  const int fd = ::open(path.c_str(), O_WRONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK | O_NOFOLLOW);
  if (fd < 0) return;
  struct stat about {};
  if (::fstat(fd, &about) == 0 && S_ISREG(about.st_mode) && ::flock(fd, LOCK_EX | LOCK_NB) == 0)
    ::unlink(path.c_str());
  ::close(fd);
}

/// What programs that were killed left behind on their way to `target`.
void remove_stale(const std::string& target) {
  const std::string prefix = partial_prefix(target);
  const std::size_t slash = prefix.rfind('/');
  const std::string folder = slash == std::string::npos ? "" : prefix.substr(0, slash + 1);
  const std::string name = slash == std::string::npos ? prefix : prefix.substr(slash + 1);
  DIR* entries = ::opendir(folder.empty() ? "." : folder.c_str());
  if (entries == nullptr) return;
  while (const dirent* entry = ::readdir(entries))
    if (std::strncmp(entry->d_name, name.c_str(), name.size()) == 0 &&
        is_partial_number(entry->d_name + name.size()))
      remove_if_stale(folder + entry->d_name);
  ::closedir(entries);
}

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

void remove_unfinished_outputs() noexcept { g_unfinished.unlink_all(); }

OutputFile::~OutputFile() {
  if (owned_ && fd_ >= 0) ::close(fd_);
  give_up_temporary();
}

void OutputFile::give_up_temporary() {
  if (temporary_.empty()) return;
  ::unlink(temporary_.c_str());
  g_unfinished.remove(temporary_);
  temporary_.clear();
}

void OutputFile::open_beside(const std::string& target) {
  target_ = target;
  remove_stale(target);
  for (int number = 0; number < 100; ++number) {
    if (create_temporary(number)) return;
    if (errno != EEXIST) break;
  }
  fail("cannot create", errno);
}

// False with EEXIST: another number is to be tried.
bool OutputFile::create_temporary(int number) {
  const std::string path =
      partial_prefix(target_) + std::to_string(::getpid()) + "-" + std::to_string(number);
  const int fd = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  if (fd < 0) return false;
  // Between these two lines another output to the same target may take it for stale.
  struct stat about {};
  const bool locked = ::flock(fd, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK;
  if (!locked || ::fstat(fd, &about) != 0 || about.st_nlink == 0) {
    ::close(fd);
    errno = EEXIST;
    return false;
  }
  fd_ = fd;
  temporary_ = path;
  g_unfinished.add(path);
  return true;
}

void OutputFile::write(const void* bytes, std::size_t size) {
  const auto* from = static_cast<const std::uint8_t*>(bytes);
  pending_.insert(pending_.end(), from, from + size);
  const bool old = std::chrono::steady_clock::now() - flushed_ >= kFlushAge;
  if (old || pending_.size() >= kFlushBytes) flush();
}

void OutputFile::flush() {
  const NoPipeSignal guard;
  const int error = write_all(fd_, pending_.data(), pending_.size());
  if (error != 0) fail("cannot write", error);
  written_ += pending_.size();
  pending_.clear();
  flushed_ = std::chrono::steady_clock::now();
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
  // The lock goes with the last descriptor: it has to hold until the file has its name.
  const Descriptor lock(::fcntl(fd_, F_DUPFD_CLOEXEC, 0));
  const int closed = ::close(fd_);
  fd_ = -1;
  if (closed != 0) fail("cannot write", errno);
  if (::rename(temporary_.c_str(), target_.c_str()) != 0) fail("cannot rename to", errno);
  g_unfinished.remove(temporary_);
  temporary_.clear();
}

void OutputFile::fail(const char* what, int error) const {
  throw CaptureWriteError(name_, written_ > 0 ? "byte " + std::to_string(written_) : "",
                          std::string(what) + ": " + std::strerror(error));
}

}  // namespace bareglass::host
