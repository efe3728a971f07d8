#include "bareglass/capture/source.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "bareglass/capture/error.hpp"

namespace bareglass::host {

namespace {

std::string reason_of(int error) { return std::strerror(error); }

class FileSource final : public ByteSource {
 public:
  FileSource(int fd, bool owned, std::string name, const volatile std::sig_atomic_t* stop)
      : fd_(fd), owned_(owned), name_(std::move(name)), stop_(stop) {}
  ~FileSource() override {
    if (owned_) ::close(fd_);
  }
  FileSource(const FileSource&) = delete;
  FileSource& operator=(const FileSource&) = delete;

  std::size_t read(std::uint8_t* to, std::size_t most) override {
    for (;;) {
      if (stop_ != nullptr && *stop_ != 0) return 0;
      const ssize_t got = ::read(fd_, to, most);
      if (got >= 0) {
        at_ += static_cast<std::uint64_t>(got);
        return static_cast<std::size_t>(got);
      }
      if (errno == EINTR) continue;
      throw CaptureError(name_, "byte " + std::to_string(at_), "cannot read: " + reason_of(errno));
    }
  }

  std::optional<std::uint64_t> size() const override {
    struct stat about {};
    if (::fstat(fd_, &about) != 0 || !S_ISREG(about.st_mode)) return std::nullopt;
    return static_cast<std::uint64_t>(about.st_size);
  }

 private:
  int fd_;
  bool owned_;
  std::string name_;
  const volatile std::sig_atomic_t* stop_;
  std::uint64_t at_ = 0;
};

}  // namespace

std::string shown_name(const std::string& path, const char* dash) {
  return path == "-" ? dash : path;
}

std::unique_ptr<ByteSource> open_source(const std::string& path,
                                        const volatile std::sig_atomic_t* stop) {
  const std::string name = shown_name(path, "standard input");
  const bool owned = path != "-";
  const int fd = owned ? ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOCTTY) : STDIN_FILENO;
  const auto cannot_open = [&name] {
    return CaptureError(name, "", "cannot open: " + reason_of(errno) + ", expected a file to read");
  };
  if (fd < 0) throw cannot_open();
  auto source = std::make_unique<FileSource>(fd, owned, name, stop);
  struct stat about {};
  if (::fstat(fd, &about) != 0) throw cannot_open();
  if (S_ISDIR(about.st_mode))
    throw CaptureError(name, "", "is a directory, expected a file to read");
  return source;
}

}  // namespace bareglass::host
