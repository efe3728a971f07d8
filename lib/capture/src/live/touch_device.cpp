// The Linux kernel's touch devices: raw or difference frames by ioctl and mmap ("Touch Devices" and
// "Streaming I/O (Memory Mapping)", Linux media documentation).

#include <fcntl.h>
#include <linux/videodev2.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <utility>
#include <vector>

#include "bareglass/capture/live_source.hpp"
#include "bareglass/capture/records.hpp"
#include "bareglass/core/packet.hpp"

namespace bareglass::host {

namespace {

constexpr unsigned kBuffers = 4;

struct TouchPixels {
  std::uint32_t code;
  FrameKind kind;
  int bytes;
  const char* name;
};

constexpr TouchPixels kPixels[] = {
    {V4L2_TCH_FMT_TU16, FrameKind::raw, 2, "TU16, raw counts"},
    {V4L2_TCH_FMT_TU08, FrameKind::raw, 1, "TU08, raw counts"},
    {V4L2_TCH_FMT_DELTA_TD16, FrameKind::difference, 2, "TD16, differences"},
    {V4L2_TCH_FMT_DELTA_TD08, FrameKind::difference, 1, "TD08, differences"},
};

class TouchDevice final : public LiveSource {
 public:
  TouchDevice(std::string path, std::shared_ptr<VideoCalls> calls)
      : path_(std::move(path)), calls_(std::move(calls)) {
    fd_ = calls_->open(path_);
    if (fd_ < 0) fail("cannot open");
    try {
      read_format();
      begin_streaming();
    } catch (...) {
      close();
      throw;
    }
    describe();
  }
  ~TouchDevice() override { close(); }
  TouchDevice(const TouchDevice&) = delete;
  TouchDevice& operator=(const TouchDevice&) = delete;

  Got read(std::uint8_t* to, std::size_t most, int timeout_ms) override {
    if (at_ == out_.size() && !take_frame(timeout_ms))
      return {lost_ ? Event::ended : Event::nothing, 0};
    const std::size_t size = std::min(most, out_.size() - at_);
    std::memcpy(to, out_.data() + at_, size);
    at_ += size;
    return {Event::bytes, size};
  }

  std::string about() const override {
    return "touch device of the kernel: " + std::to_string(rows_) + " x " + std::to_string(cols_) +
           ", " + pixels_->name;
  }

 private:
  struct Mapped {
    void* at = nullptr;
    std::size_t size = 0;
  };

  [[noreturn]] void fail(const char* what) const {
    throw CaptureError(path_, "touch device", std::string(what) + ": " + std::strerror(errno));
  }
  [[noreturn]] void refuse(const std::string& expected) const {
    throw CaptureError(path_, "touch device", expected);
  }

  /// ioctl that goes on after an interrupt.
  int ask(unsigned long request, void* argument) {
    int result = 0;
    do {
      result = calls_->ioctl(fd_, request, argument);
    } while (result != 0 && errno == EINTR);
    return result;
  }

  void read_format() {
    v4l2_capability able{};
    if (ask(VIDIOC_QUERYCAP, &able) != 0) fail("is no touch device");
    const std::uint32_t all =
        able.capabilities & V4L2_CAP_DEVICE_CAPS ? able.device_caps : able.capabilities;
    if ((all & V4L2_CAP_TOUCH) == 0 || (all & V4L2_CAP_STREAMING) == 0)
      refuse("expected a device that gives touch frames by streaming");
    v4l2_format format{};
    format.type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    if (ask(VIDIOC_G_FMT, &format) != 0) fail("does not tell its format");
    for (const TouchPixels& pixels : kPixels)
      if (pixels.code == format.fmt.pix.pixelformat) pixels_ = &pixels;
    if (pixels_ == nullptr) refuse("expected one of the formats TU16, TU08, TD16, TD08");
    rows_ = static_cast<int>(format.fmt.pix.height);
    cols_ = static_cast<int>(format.fmt.pix.width);
    if (rows_ < 1 || rows_ > kMaxCaptureLines || cols_ < 1 || cols_ > kMaxCaptureLines)
      refuse("expected 1 to 1024 rows and columns");
  }

  void begin_streaming() {
    v4l2_requestbuffers wanted{};
    wanted.count = kBuffers;
    wanted.type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    wanted.memory = V4L2_MEMORY_MMAP;
    if (ask(VIDIOC_REQBUFS, &wanted) != 0 || wanted.count == 0) fail("gives no buffers");
    for (unsigned n = 0; n < wanted.count; ++n) {
      v4l2_buffer buffer = buffer_number(n);
      if (ask(VIDIOC_QUERYBUF, &buffer) != 0) fail("does not tell its buffers");
      void* at = calls_->map(fd_, buffer.length, buffer.m.offset);
      if (at == nullptr) fail("cannot map its buffers");
      mapped_.push_back({at, buffer.length});
      if (ask(VIDIOC_QBUF, &buffer) != 0) fail("does not take its buffers");
    }
    int type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    if (ask(VIDIOC_STREAMON, &type) != 0) fail("does not begin");
    streaming_ = true;
  }

  static v4l2_buffer buffer_number(unsigned n) {
    v4l2_buffer buffer{};
    buffer.type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    buffer.memory = V4L2_MEMORY_MMAP;
    buffer.index = n;
    return buffer;
  }

  /// Fills `out_` with the next frame's packet; false if there is none within the time.
  bool take_frame(int timeout_ms) {
    const int ready = calls_->wait(fd_, timeout_ms);
    if (ready == 0 || (ready < 0 && errno == EINTR)) return false;
    v4l2_buffer buffer = buffer_number(0);
    if (ready < 0 || ask(VIDIOC_DQBUF, &buffer) != 0) {
      if (ready >= 0 && errno == EAGAIN) return false;
      lost_ = true;  // unplugged, or its driver is gone
      return false;
    }
    const std::size_t bytes = nodes() * static_cast<std::size_t>(pixels_->bytes);
    const bool good = (buffer.flags & V4L2_BUF_FLAG_ERROR) == 0 && buffer.index < mapped_.size() &&
                      buffer.bytesused >= bytes && mapped_[buffer.index].size >= bytes;
    if (good) encode(static_cast<const std::uint8_t*>(mapped_[buffer.index].at), buffer);
    if (ask(VIDIOC_QBUF, &buffer) != 0) lost_ = true;
    return good;
  }

  std::size_t nodes() const {
    return static_cast<std::size_t>(rows_) * static_cast<std::size_t>(cols_);
  }

  void encode(const std::uint8_t* from, const v4l2_buffer& buffer) {
    const auto t_us = static_cast<std::uint64_t>(buffer.timestamp.tv_sec) * 1'000'000u +
                      static_cast<std::uint64_t>(buffer.timestamp.tv_usec);
    const Shape shape{rows_, cols_};
    out_.resize(frame_packet_bytes(rows_, cols_));
    at_ = 0;
    PacketResult packet;
    if (pixels_->kind == FrameKind::raw) {
      raw_.resize(nodes());
      for (std::size_t i = 0; i < raw_.size(); ++i) raw_[i] = sample(from, i);
      packet =
          encode_raw_frame({out_.data(), out_.size()}, {raw_.data(), shape, buffer.sequence, t_us});
    } else {
      difference_.resize(nodes());
      for (std::size_t i = 0; i < difference_.size(); ++i)
        difference_[i] = pixels_->bytes == 1 ? static_cast<std::int8_t>(from[i])
                                             : static_cast<std::int16_t>(sample(from, i));
      packet = encode_difference_frame({out_.data(), out_.size()},
                                       {difference_.data(), difference_.size()}, shape,
                                       buffer.sequence, t_us);
    }
    out_.resize(packet.size);
  }

  /// 16 bits are in little-endian order in these formats.
  std::uint16_t sample(const std::uint8_t* from, std::size_t i) const {
    if (pixels_->bytes == 1) return from[i];
    return static_cast<std::uint16_t>(from[2 * i] | from[2 * i + 1] << 8);
  }

  /// What comes before the first frame.
  void describe() {
    const std::string note =
        "recorded from a touch device of the kernel (" + std::string(pixels_->name) +
        "); a row is a line of its picture, " +
        (pixels_->kind == FrameKind::raw ? "whether a touch raises the counts is not told"
                                         : "the sign of a touch is as its driver gives it");
    PanelInfo info;
    info.shape = {rows_, cols_};
    std::vector<std::uint8_t> packet(description_packet_bytes(0));
    packet.resize(encode_panel_description({packet.data(), packet.size()}, info).size);
    out_ = packet;
    packet.resize(note_packet_bytes(note.size()));
    packet.resize(encode_note({packet.data(), packet.size()}, {note.data(), note.size()}, 0).size);
    out_.insert(out_.end(), packet.begin(), packet.end());
  }

  void close() {
    if (fd_ < 0) return;
    int type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    if (streaming_) ask(VIDIOC_STREAMOFF, &type);
    for (const Mapped& mapped : mapped_) calls_->unmap(mapped.at, mapped.size);
    calls_->close(fd_);
    fd_ = -1;
  }

  std::string path_;
  std::shared_ptr<VideoCalls> calls_;
  int fd_ = -1;
  bool streaming_ = false, lost_ = false;
  const TouchPixels* pixels_ = nullptr;
  int rows_ = 0, cols_ = 0;
  std::vector<Mapped> mapped_;
  std::vector<std::uint16_t> raw_;
  std::vector<std::int16_t> difference_;
  std::vector<std::uint8_t> out_;  ///< packets not handed out yet, from at_ on
  std::size_t at_ = 0;
};

}  // namespace

int VideoCalls::open(const std::string& path) {
  return ::open(path.c_str(), O_RDWR | O_NONBLOCK | O_CLOEXEC);
}

int VideoCalls::ioctl(int fd, unsigned long request, void* argument) {
  return ::ioctl(fd, request, argument);
}

void* VideoCalls::map(int fd, std::size_t size, std::uint64_t offset) {
  void* at =
      ::mmap(nullptr, size, PROT_READ | PROT_WRITE, MAP_SHARED, fd, static_cast<off_t>(offset));
  return at == MAP_FAILED ? nullptr : at;
}

void VideoCalls::unmap(void* at, std::size_t size) { ::munmap(at, size); }

int VideoCalls::wait(int fd, int timeout_ms) {
  pollfd waiting{fd, POLLIN, 0};
  return ::poll(&waiting, 1, timeout_ms);
}

void VideoCalls::close(int fd) { ::close(fd); }

std::unique_ptr<LiveSource> open_touch_device(const std::string& path,
                                              std::shared_ptr<VideoCalls> calls) {
  return std::make_unique<TouchDevice>(path, std::move(calls));
}

}  // namespace bareglass::host
