#include "bareglass/view/dump_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <vector>

#include "bareglass/capture/writer.hpp"

namespace bareglass::view {

namespace {

using host::CaptureError;

constexpr std::uint64_t kLongestPacket = 4u << 20;  ///< bytes; FORMAT.md's largest is below

/// Bytes [at, end) of a file that others may be appending to.
class RangeSource final : public host::ByteSource {
 public:
  RangeSource(std::shared_ptr<FileHandle> file, std::string name, std::uint64_t at,
              std::uint64_t end)
      : file_(std::move(file)), name_(std::move(name)), at_(at), end_(end) {}

  std::size_t read(std::uint8_t* to, std::size_t most) override {
    if (at_ >= end_) return 0;
    const auto want = static_cast<std::size_t>(std::min<std::uint64_t>(most, end_ - at_));
    for (;;) {
      const ssize_t got = ::pread(file_->get(), to, want, static_cast<off_t>(at_));
      if (got >= 0) {
        at_ += static_cast<std::uint64_t>(got);
        return static_cast<std::size_t>(got);
      }
      if (errno != EINTR)
        throw CaptureError(name_, "byte " + std::to_string(at_),
                           std::string("cannot read: ") + std::strerror(errno));
    }
  }

 private:
  std::shared_ptr<FileHandle> file_;
  std::string name_;
  std::uint64_t at_, end_;
};

std::string temporary_name() {
  std::error_code none;
  std::string folder = std::filesystem::temp_directory_path(none).string();
  if (none) folder = ".";
  return folder + "/bareglass-view-XXXXXX";
}

/// A file of our own that is gone with its last descriptor.
int open_spool(const std::string& name) {
  std::string path = temporary_name();
  const int fd = ::mkstemp(path.data());
  if (fd < 0)
    throw CaptureError(name, "",
                       std::string("cannot keep it in a temporary file: ") + std::strerror(errno));
  ::unlink(path.c_str());
  return fd;
}

std::uint64_t size_of(int fd) {
  struct stat about {};
  return ::fstat(fd, &about) == 0 ? static_cast<std::uint64_t>(about.st_size) : 0;
}

bool write_all(int fd, const std::uint8_t* bytes, std::size_t size) {
  while (size > 0) {
    const ssize_t put = ::write(fd, bytes, size);
    if (put < 0 && errno == EINTR) continue;
    if (put <= 0) return false;
    bytes += put;
    size -= static_cast<std::size_t>(put);
  }
  return true;
}

/// A folder of our own for one converted dump.
class TemporaryFolder {
 public:
  explicit TemporaryFolder(const std::string& name) : path_(temporary_name()) {
    if (::mkdtemp(path_.data()) == nullptr)
      throw CaptureError(
          name, "", std::string("cannot keep it in a temporary folder: ") + std::strerror(errno));
  }
  ~TemporaryFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  std::string file() const { return path_ + "/dump.frames"; }

 private:
  std::string path_;
};

}  // namespace

FileHandle::~FileHandle() {
  if (fd_ >= 0) ::close(fd_);
}

InputKeeper::InputKeeper(std::shared_ptr<FileHandle> file, std::uint64_t most_bytes)
    : file_(std::move(file)), most_bytes_(most_bytes), thread_([this] { keep(); }) {}

InputKeeper::~InputKeeper() {
  stop_ = true;
  thread_.join();
}

void InputKeeper::keep() {
  std::vector<std::uint8_t> bytes(1u << 16);
  std::uint64_t kept = 0;
  while (!stop_) {
    pollfd waits{STDIN_FILENO, POLLIN, 0};
    const int ready = ::poll(&waits, 1, 50);
    if (ready == 0 || (ready < 0 && errno == EINTR)) continue;
    const ssize_t got = ::read(STDIN_FILENO, bytes.data(), bytes.size());
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) break;
    const auto more = static_cast<std::size_t>(got);
    if (kept + more > most_bytes_ || !write_all(file_->get(), bytes.data(), more)) {
      overfull_ = true;
      break;
    }
    kept += more;
  }
  receiving_ = false;
}

std::string DumpFile::name() const { return host::shown_name(path_, "standard input"); }

DumpFile::DumpFile(std::string path, const host::OpenOptions& options,
                   const std::atomic<bool>& stop)
    : path_(std::move(path)) {
  std::unique_ptr<host::CaptureReader> reader;
  if (path_ == "-") {
    file_ = std::make_shared<FileHandle>(open_spool(name()));
    keeper_ = std::make_unique<InputKeeper>(file_, kMostSpoolBytes);
    wait_for_first_bytes(stop);
    auto source = std::make_unique<RangeSource>(file_, name(), 0, kMostSpoolBytes);
    reader = host::open_capture(std::move(source), name(), options);
    if (reader->format() != host::CaptureFormat::frames) {
      while (receiving() && !stop) std::this_thread::sleep_for(std::chrono::milliseconds(20));
      auto whole = std::make_unique<RangeSource>(file_, name(), 0, kMostSpoolBytes);
      reader = host::open_capture(std::move(whole), name(), options);
    }
  } else {
    struct stat about {};
    // Opening a pipe by name would wait for its writer.
    if (::stat(path_.c_str(), &about) == 0 && !S_ISREG(about.st_mode) && !S_ISDIR(about.st_mode))
      throw CaptureError(path_, "",
                         "is not a regular file; pipe it into standard input and open -");
    reader = host::open_capture(path_, options);
  }
  if (reader->format() != host::CaptureFormat::frames) {
    convert(*reader, stop);
  } else if (path_ != "-") {
    file_ = std::make_shared<FileHandle>(::open(path_.c_str(), O_RDONLY | O_CLOEXEC));
    if (file_->get() < 0)
      throw CaptureError(path_, "", std::string("cannot open: ") + std::strerror(errno));
    followed_ = true;
  }
  opened_size_ = size();
}

void DumpFile::wait_for_first_bytes(const std::atomic<bool>& stop) const {
  // What a format is told from, or all there is when the sender pauses.
  constexpr std::uint64_t kEnough = 1u << 16;
  std::uint64_t before = 0;
  for (int quiet = 0; receiving() && !stop && quiet < 15;) {
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
    const std::uint64_t now = size();
    if (now >= kEnough) return;
    quiet = now > 0 && now == before ? quiet + 1 : 0;
    before = now;
  }
}

void DumpFile::convert(host::CaptureReader& from, const std::atomic<bool>& stop) {
  const TemporaryFolder folder(name());
  try {
    const auto writer = host::create_capture(folder.file(), host::CaptureFormat::frames);
    for (host::Record record; !stop && from.next(record);) writer->write(record);
    writer->finish();
  } catch (const host::CaptureWriteError& e) {
    // Of interest is the dump, not the temporary file.
    throw CaptureError(name(), "", "cannot be kept as a frame stream: " + e.expected());
  }
  file_ = std::make_shared<FileHandle>(::open(folder.file().c_str(), O_RDONLY | O_CLOEXEC));
  if (file_->get() < 0)
    throw CaptureError(name(), "", std::string("cannot keep it: ") + std::strerror(errno));
}

std::uint64_t DumpFile::size() const { return size_of(file_->get()); }

std::uint64_t DumpFile::whole_end(std::uint64_t most) const {
  std::array<std::uint8_t, 1u << 16> bytes{};
  const std::uint64_t end = std::min(size(), most);
  const std::uint64_t lowest = end > kLongestPacket ? end - kLongestPacket : 0;
  for (std::uint64_t at = end; at > lowest;) {
    const std::uint64_t from = at > bytes.size() ? at - bytes.size() : 0;
    const ssize_t got = ::pread(file_->get(), bytes.data(), static_cast<std::size_t>(at - from),
                                static_cast<off_t>(from));
    if (got <= 0) return 0;
    for (ssize_t k = got; k > 0; --k)
      if (bytes[static_cast<std::size_t>(k - 1)] == 0) return from + static_cast<std::uint64_t>(k);
    at = from;
  }
  return lowest;
}

std::unique_ptr<host::CaptureReader> DumpFile::reader(std::uint64_t offset,
                                                      std::uint64_t end) const {
  host::OpenOptions options;
  options.format = host::CaptureFormat::frames;
  return host::open_capture(std::make_unique<RangeSource>(file_, name(), offset, end), name(),
                            options);
}

bool DumpFile::replaced() const {
  if (!followed_) return false;
  if (size() < opened_size_) return true;
  struct stat ours {};
  struct stat theirs {};
  if (::fstat(file_->get(), &ours) != 0 || ::stat(path_.c_str(), &theirs) != 0) return false;
  return ours.st_ino != theirs.st_ino || ours.st_dev != theirs.st_dev;
}

std::string DumpFile::trouble() const {
  if (keeper_ && keeper_->overfull())
    return fmt::format(
        "Standard input is longer than can be kept ({} GiB, or the disk is full); "
        "what came later is not shown.",
        kMostSpoolBytes >> 30);
  if (!followed_) return {};
  if (size() < opened_size_)
    return "The file has become shorter since it was opened. Press Ctrl+R to open it again.";
  if (::access(path_.c_str(), F_OK) != 0)
    return "The file has been removed or its drive is gone. What can still be read is shown.";
  if (replaced())
    return "Another file has taken this name since it was opened. Press Ctrl+R to open it.";
  return {};
}

}  // namespace bareglass::view
