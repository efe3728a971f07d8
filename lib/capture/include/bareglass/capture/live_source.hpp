#pragma once
// Bytes as they come from a unit: a serial port, a terminal of a pseudo-terminal pair, standard
// input, a FIFO, a TCP connection, a touch device of the Linux kernel.

#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>

#include "bareglass/capture/error.hpp"

namespace bareglass::host {

class LiveSource {
 public:
  virtual ~LiveSource() = default;

  enum class Event {
    bytes,    ///< `size` of them
    nothing,  ///< none within the time
    lost,     ///< the port went away; it is looked for with every further read
    back,     ///< and is there again: what comes now does not join what came before
    ended,    ///< no more will come
  };
  struct Got {
    Event event = Event::nothing;
    std::size_t size = 0;
  };
  /// Waits at most `timeout_ms`. Throws CaptureError if the source fails for good.
  virtual Got read(std::uint8_t* to, std::size_t most, int timeout_ms) = 0;
  /// A sentence on what is read and how: "serial port at 115200 baud, 8 data bits, no parity".
  virtual std::string about() const = 0;
};

struct LiveOptions {
  int baud = 115200;  ///< serial ports only; one of live_bauds()
};

/// "1200, 2400, ...": what a serial port can be set to.
std::string live_bauds();
bool is_live_baud(int baud);

/// "-": standard input; "tcp:HOST:PORT": connects there; else a path. A serial port is set to raw
/// (POSIX termios: no echo, no translation, no signals, 8 bits) before anything is read, what the
/// line mangled before is dropped, and it is set back at the end. Throws CaptureError if it can't
/// be opened or is none of these.
std::unique_ptr<LiveSource> open_live(const std::string& source, const LiveOptions& options);

/// What a touch device of the kernel is asked through, so that tests can stand in for it: the calls
/// of the same names.
class VideoCalls {
 public:
  virtual ~VideoCalls() = default;
  virtual int open(const std::string& path);
  virtual int ioctl(int fd, unsigned long request, void* argument);
  /// Gives nullptr if it fails.
  virtual void* map(int fd, std::size_t size, std::uint64_t offset);
  virtual void unmap(void* at, std::size_t size);
  /// 1: a frame waits; 0: none within the time; -1: failed, with errno.
  virtual int wait(int fd, int timeout_ms);
  virtual void close(int fd);
};

/// A touch device node (/dev/v4l-touchN) that gives TD16, TD08, TU16 or TU08 ("Touch Formats",
/// Linux media documentation). Its frames are given as a panel frame stream: a description, a note,
/// frames with the kernel's time stamps and sequence numbers. Throws CaptureError.
std::unique_ptr<LiveSource> open_touch_device(const std::string& path,
                                              std::shared_ptr<VideoCalls> calls);

}  // namespace bareglass::host
