#include "bareglass/capture/live_source.hpp"

#include <fcntl.h>
#include <netdb.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "bareglass/capture/source.hpp"

namespace bareglass::host {

namespace {

struct Baud {
  int rate;
  speed_t code;
};

constexpr Baud kBauds[] = {{1200, B1200},       {2400, B2400},       {4800, B4800},
                           {9600, B9600},       {19200, B19200},     {38400, B38400},
                           {57600, B57600},     {115200, B115200},   {230400, B230400},
                           {460800, B460800},   {500000, B500000},   {576000, B576000},
                           {921600, B921600},   {1000000, B1000000}, {1500000, B1500000},
                           {2000000, B2000000}, {3000000, B3000000}, {4000000, B4000000}};

CaptureError live_error(const std::string& name, const char* what, int error) {
  return {name, "", std::string(what) + ": " + std::strerror(error)};
}

/// Reads what a descriptor gives.
class DescriptorSource : public LiveSource {
 public:
  DescriptorSource(int fd, std::string name, std::string about, bool owned)
      : fd_(fd), name_(std::move(name)), about_(std::move(about)), owned_(owned) {}
  ~DescriptorSource() override {
    if (owned_ && fd_ >= 0) ::close(fd_);
  }
  DescriptorSource(const DescriptorSource&) = delete;
  DescriptorSource& operator=(const DescriptorSource&) = delete;

  Got read(std::uint8_t* to, std::size_t most, int timeout_ms) override {
    pollfd waiting{fd_, POLLIN, 0};
    const int ready = ::poll(&waiting, 1, timeout_ms);
    if (ready < 0 && errno != EINTR) throw live_error(name_, "cannot wait", errno);
    if (ready <= 0) return {};
    const ssize_t got = ::read(fd_, to, most);
    if (got > 0) return {Event::bytes, static_cast<std::size_t>(got)};
    if (got == 0) return at_end();
    if (errno == EINTR || errno == EAGAIN) return {};
    return failed(errno);
  }
  std::string about() const override { return about_; }

 protected:
  virtual Got at_end() { return {Event::ended, 0}; }
  virtual Got failed(int error) { throw live_error(name_, "cannot read", error); }

  int fd_;
  std::string name_;

 private:
  std::string about_;
  bool owned_;
};

/// A serial port, set to raw while it is read. A pseudo-terminal is one, too.
class SerialSource final : public DescriptorSource {
 public:
  SerialSource(const std::string& path, int baud)
      : DescriptorSource(
            -1, path,
            "serial port at " + std::to_string(baud) + " baud, 8 data bits, no parity, raw", false),
        baud_(baud) {
    const int error = open();
    if (error != 0) throw live_error(path, "cannot open", error);
  }
  ~SerialSource() override { close(); }
  SerialSource(const SerialSource&) = delete;
  SerialSource& operator=(const SerialSource&) = delete;

  Got read(std::uint8_t* to, std::size_t most, int timeout_ms) override {
    if (fd_ >= 0) return DescriptorSource::read(to, most, timeout_ms);
    if (open() == 0) return {Event::back, 0};
    ::poll(nullptr, 0, timeout_ms);
    return {};
  }

 protected:
  Got at_end() override { return lose(); }
  Got failed(int) override { return lose(); }

 private:
  Got lose() {
    close();
    return {Event::lost, 0};
  }

  /// 0 or the error.
  int open() {
    const int fd = ::open(name_.c_str(), O_RDONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0) return errno;
    if (::tcgetattr(fd, &before_) != 0 || !set_raw(fd)) {
      const int error = errno;
      ::close(fd);
      return error;
    }
    // Two readers would share the bytes between them. Not every kind of port knows it.
    ::ioctl(fd, TIOCEXCL);
    // What came while the line still echoed and translated is not what was sent.
    ::tcflush(fd, TCIFLUSH);
    fd_ = fd;
    return 0;
  }

  bool set_raw(int fd) const {
    termios raw = before_;
    ::cfmakeraw(&raw);
    raw.c_cflag |= CLOCAL | CREAD;
    raw.c_cflag &= ~static_cast<tcflag_t>(CSTOPB | CRTSCTS);
    raw.c_cc[VMIN] = 1;
    raw.c_cc[VTIME] = 0;
    for (const Baud& baud : kBauds)
      if (baud.rate == baud_) ::cfsetspeed(&raw, baud.code);
    return ::tcsetattr(fd, TCSANOW, &raw) == 0;
  }

  void close() {
    if (fd_ < 0) return;
    ::ioctl(fd_, TIOCNXCL);
    ::tcsetattr(fd_, TCSANOW, &before_);
    ::close(fd_);
    fd_ = -1;
  }

  int baud_;
  termios before_{};
};

int connect_to(const addrinfo* addresses, int& error) {
  for (const addrinfo* at = addresses; at != nullptr; at = at->ai_next) {
    const int fd = ::socket(at->ai_family, at->ai_socktype | SOCK_CLOEXEC, at->ai_protocol);
    if (fd < 0) continue;
    if (::connect(fd, at->ai_addr, at->ai_addrlen) == 0) return fd;
    error = errno;
    ::close(fd);
  }
  return -1;
}

std::unique_ptr<LiveSource> open_tcp(const std::string& source) {
  const std::string address = source.substr(4);
  const std::size_t colon = address.rfind(':');
  if (colon == std::string::npos || colon == 0 || colon + 1 == address.size())
    throw CaptureError(source, "", "expected an address such as tcp:127.0.0.1:5000");
  std::string host = address.substr(0, colon);
  if (host.front() == '[' && host.back() == ']') host = host.substr(1, host.size() - 2);
  addrinfo wanted{};
  wanted.ai_socktype = SOCK_STREAM;
  addrinfo* found = nullptr;
  const int unknown =
      ::getaddrinfo(host.c_str(), address.substr(colon + 1).c_str(), &wanted, &found);
  if (unknown != 0)
    throw CaptureError(source, "",
                       std::string("cannot find the address: ") + ::gai_strerror(unknown));
  int error = 0;
  const int fd = connect_to(found, error);
  ::freeaddrinfo(found);
  if (fd < 0) throw live_error(source, "cannot connect", error);
  return std::make_unique<DescriptorSource>(fd, source, "TCP connection to " + address, true);
}

std::unique_ptr<LiveSource> open_path(const std::string& path, const LiveOptions& options) {
  struct stat about {};
  if (::stat(path.c_str(), &about) != 0) throw live_error(path, "cannot open", errno);
  if (S_ISCHR(about.st_mode) && path.find("v4l-touch") != std::string::npos)
    return open_touch_device(path, std::make_shared<VideoCalls>());
  if (S_ISDIR(about.st_mode))
    throw CaptureError(path, "", "is a directory, expected a port, a FIFO or a touch device");
  // A FIFO that nobody has opened to write yet is waited for, not with the call that opens it.
  const int fd = ::open(path.c_str(), O_RDONLY | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
  if (fd < 0) throw live_error(path, "cannot open", errno);
  const bool serial = ::isatty(fd) != 0;
  if (serial) {
    ::close(fd);
    return std::make_unique<SerialSource>(path, options.baud);
  }
  const char* kind = S_ISFIFO(about.st_mode) ? "FIFO" : S_ISREG(about.st_mode) ? "file" : "device";
  return std::make_unique<DescriptorSource>(fd, path, kind, true);
}

}  // namespace

std::string live_bauds() {
  std::string out;
  for (const Baud& baud : kBauds) out += (out.empty() ? "" : ", ") + std::to_string(baud.rate);
  return out;
}

bool is_live_baud(int rate) {
  for (const Baud& baud : kBauds)
    if (baud.rate == rate) return true;
  return false;
}

std::unique_ptr<LiveSource> open_live(const std::string& source, const LiveOptions& options) {
  if (!is_live_baud(options.baud))
    throw CaptureError(source, "baud", "expected one of " + live_bauds());
  if (source == "-")
    return std::make_unique<DescriptorSource>(STDIN_FILENO, shown_name(source, "standard input"),
                                              "standard input", false);
  if (source.compare(0, 4, "tcp:") == 0) return open_tcp(source);
  return open_path(source, options);
}

}  // namespace bareglass::host
