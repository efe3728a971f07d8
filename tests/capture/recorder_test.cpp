// Live sources and the recorder: ports, pipes, connections, touch devices.

#include <arpa/inet.h>
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <linux/videodev2.h>
#include <netinet/in.h>
#include <pty.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <thread>

#include "bareglass/capture/recorder.hpp"
#include "support/capture_bytes.hpp"

namespace bareglass::host {
namespace {

using support::Bytes;
using support::content_of;
using support::TempFolder;
using testing::HasSubstr;

/// Waits up to five seconds; true once `done` says so.
bool soon(const std::function<bool()>& done) {
  for (int n = 0; n < 1000; ++n) {
    if (done()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  return false;
}

void send_all(int fd, const Bytes& bytes) {
  std::size_t done = 0;
  while (done < bytes.size()) {
    const ssize_t put = ::write(fd, bytes.data() + done, bytes.size() - done);
    ASSERT_GT(put, 0) << std::strerror(errno);
    done += static_cast<std::size_t>(put);
  }
}

/// A pair as a default terminal has it: it echoes, edits lines and turns carriage returns.
class Pair {
 public:
  Pair() {
    if (::openpty(&master_, &slave_, name_, nullptr, nullptr) != 0)
      throw std::runtime_error("no pseudo-terminal");
  }
  ~Pair() { close(); }
  Pair(const Pair&) = delete;
  Pair& operator=(const Pair&) = delete;
  void close() {
    if (master_ >= 0) ::close(master_);
    if (slave_ >= 0) ::close(slave_);
    master_ = slave_ = -1;
  }
  bool raw() const {
    termios now{};
    ::tcgetattr(slave_, &now);
    return (now.c_lflag & (ECHO | ICANON)) == 0;
  }
  int master() const { return master_; }
  int slave() const { return slave_; }
  std::string path() const { return name_; }

 private:
  int master_ = -1, slave_ = -1;
  char name_[256] = {};
};

std::unique_ptr<Recorder> record(const std::string& source, const std::string& to,
                                 RecordLimits limits = {}) {
  return std::make_unique<Recorder>(open_live(source, {}), to, limits);
}

std::string problem_of(const std::function<void()>& act) {
  try {
    act();
  } catch (const CaptureError& error) {
    return error.what();
  }
  return "no error";
}

Bytes sample_stream() {
  return support::written_as(CaptureFormat::frames, support::sample_records());
}

class ARecording : public testing::Test {
 protected:
  std::string to() const { return folder_.file("unit.frames"); }
  TempFolder folder_;
};

TEST_F(ARecording, OfATerminalInItsDefaultStateIsByteForByte) {
  Pair pair;
  ASSERT_FALSE(pair.raw());
  Bytes sent = sample_stream();
  for (int round = 0; round < 64; ++round)
    for (int byte = 0; byte < 256; ++byte) sent.push_back(static_cast<std::uint8_t>(byte));
  {
    const auto recorder = record(pair.path(), to());
    ASSERT_TRUE(pair.raw());
    send_all(pair.master(), sent);
    EXPECT_TRUE(soon([&] { return recorder->status().bytes == sent.size(); }));
    ::fcntl(pair.master(), F_SETFL, O_NONBLOCK);
    std::uint8_t echoed = 0;
    EXPECT_EQ(::read(pair.master(), &echoed, 1), -1) << "the line echoes";
  }
  EXPECT_EQ(content_of(to()), sent);
  EXPECT_FALSE(pair.raw()) << "the line is not set back";
}

TEST_F(ARecording, GoesOnWhenThePortComesBackAndTheCutCostsOnePacket) {
  const std::string port = folder_.file("port");
  auto pair = std::make_unique<Pair>();
  std::filesystem::create_symlink(pair->path(), port);
  const Bytes stream = sample_stream();
  const auto places = support::packet_places(stream);
  const Bytes cut = support::part_of(stream, 0, places[4].second - 5);
  const auto recorder = record(port, to());
  send_all(pair->master(), cut);
  ASSERT_TRUE(soon([&] { return recorder->status().bytes == cut.size(); }));
  auto next = std::make_unique<Pair>();  // before the first is gone, so that it has another name
  pair.reset();
  ASSERT_TRUE(soon([&] { return !recorder->status().connected; }));
  std::filesystem::remove(port);
  std::filesystem::create_symlink(next->path(), port);
  ASSERT_TRUE(soon([&] { return recorder->status().connected; }));
  EXPECT_EQ(recorder->status().losses, 1u);
  send_all(next->master(), stream);
  ASSERT_TRUE(soon([&] { return recorder->status().bytes == cut.size() + 1 + stream.size(); }));
  recorder->stop();
  EXPECT_EQ(recorder->status().end, Recorder::End::stopped);
  Bytes expected = cut;
  expected.push_back(0);
  expected.insert(expected.end(), stream.begin(), stream.end());
  EXPECT_EQ(content_of(to()), expected);
  const auto reader = open_capture(to(), {});
  EXPECT_EQ(support::all_of(*reader).size(), 4 + places.size());
  EXPECT_EQ(reader->stats().damaged_packets, 1u);
}

TEST_F(ARecording, OfAConnectionEndsWithIt) {
  const int server = ::socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  ASSERT_EQ(::bind(server, reinterpret_cast<sockaddr*>(&address), size), 0);
  ASSERT_EQ(::listen(server, 1), 0);
  ::getsockname(server, reinterpret_cast<sockaddr*>(&address), &size);
  const auto recorder = record("tcp:127.0.0.1:" + std::to_string(ntohs(address.sin_port)), to());
  const int client = ::accept(server, nullptr, nullptr);
  send_all(client, sample_stream());
  ::close(client);
  ::close(server);
  EXPECT_TRUE(soon([&] { return recorder->status().end == Recorder::End::ended; }));
  EXPECT_EQ(content_of(to()), sample_stream());
  EXPECT_THAT(problem_of([&] { open_live("tcp:127.0.0.1", {}); }), HasSubstr("tcp:127.0.0.1:5000"));
}

TEST_F(ARecording, OfAFifoWaitsForItsWriterAndEndsWithIt) {
  const std::string fifo = folder_.file("fifo");
  ASSERT_EQ(::mkfifo(fifo.c_str(), 0600), 0);
  const auto recorder = record(fifo, to());
  std::this_thread::sleep_for(std::chrono::milliseconds(30));
  EXPECT_EQ(recorder->status().end, Recorder::End::none);
  const int writer = ::open(fifo.c_str(), O_WRONLY);
  send_all(writer, sample_stream());
  ::close(writer);
  EXPECT_TRUE(soon([&] { return recorder->status().end == Recorder::End::ended; }));
  EXPECT_EQ(content_of(to()), sample_stream());
}

TEST_F(ARecording, IsNeverWrittenOverNorByTwo) {
  Pair pair;
  const auto recorder = record(pair.path(), to());
  Pair other;
  EXPECT_THAT(problem_of([&] { record(other.path(), to()); }),
              HasSubstr("is being recorded by another program"));
  recorder->stop();
  support::put_file(folder_.file("old"), {1, 2});
  EXPECT_THAT(problem_of([&] { record(other.path(), folder_.file("old")); }),
              HasSubstr("exists already"));
  EXPECT_EQ(content_of(folder_.file("old")), (Bytes{1, 2}));
  EXPECT_THAT(problem_of([&] { record(other.path(), folder_.file("none/x")); }),
              HasSubstr("cannot create"));
}

TEST_F(ARecording, StopsAtItsLimits) {
  Pair pair;
  RecordLimits limits;
  limits.bytes = 100;
  const auto recorder = record(pair.path(), to(), limits);
  send_all(pair.master(), sample_stream());
  EXPECT_TRUE(soon([&] { return recorder->status().end == Recorder::End::stopped; }));
  EXPECT_EQ(content_of(to()).size(), 100u);
  limits.bytes.reset();
  limits.time_us = 50'000;
  const auto timed = record(pair.path(), folder_.file("timed"), limits);
  std::this_thread::sleep_for(std::chrono::milliseconds(120));
  EXPECT_EQ(timed->status().end, Recorder::End::none) << "time counts from the first byte";
  send_all(pair.master(), {1, 0});
  EXPECT_TRUE(soon([&] { return timed->status().end == Recorder::End::stopped; }));
}

// A limit on the size of files stands in for a full disk: the same call fails in the same way.
TEST_F(ARecording, OnAFullDiskSaysSoAndLeavesWholePackets) {
  Bytes stream;
  for (int n = 0; n < 40; ++n) {
    const Bytes more = sample_stream();
    stream.insert(stream.end(), more.begin(), more.end());
  }
  rlimit before{};
  ::getrlimit(RLIMIT_FSIZE, &before);
  const auto handler = ::signal(SIGXFSZ, SIG_IGN);
  Pair pair;
  rlimit small = before;
  small.rlim_cur = 7000;
  ASSERT_GT(stream.size(), 7000u);
  ::setrlimit(RLIMIT_FSIZE, &small);
  const auto recorder = record(pair.path(), to());
  ::fcntl(pair.master(), F_SETFL, O_NONBLOCK);
  std::size_t sent = 0;
  EXPECT_TRUE(soon([&] {
    const ssize_t put = ::write(pair.master(), stream.data() + sent, stream.size() - sent);
    sent += put > 0 ? static_cast<std::size_t>(put) : 0;
    return recorder->status().end == Recorder::End::failed;
  }));
  ::setrlimit(RLIMIT_FSIZE, &before);
  ::signal(SIGXFSZ, handler);
  EXPECT_THAT(recorder->status().problem, HasSubstr("no room left to write"));
  const Bytes kept = content_of(to());
  EXPECT_LE(kept.size(), 7000u);
  EXPECT_GT(kept.size(), 6000u);
  EXPECT_EQ(kept, support::part_of(stream, 0, kept.size()));
  const auto reader = open_capture(to(), {});
  EXPECT_FALSE(support::all_of(*reader).empty());
  EXPECT_EQ(reader->stats().damaged_packets, 0u);
}

TEST_F(ARecording, OfWhatIsNotThereIsRefused) {
  EXPECT_THAT(problem_of([&] { open_live(folder_.file("nothing"), {}); }),
              HasSubstr("cannot open: No such file"));
  EXPECT_THAT(problem_of([&] { open_live(folder_.path(), {}); }), HasSubstr("is a directory"));
  LiveOptions odd;
  odd.baud = 123;
  EXPECT_THAT(problem_of([&] { open_live("-", odd); }), HasSubstr("expected one of 1200, 2400"));
}

/// A touch device that was recorded: its answers are those that the kernel's documentation gives.
class RecordedDevice final : public VideoCalls {
 public:
  std::uint32_t pixels = V4L2_TCH_FMT_TU16;
  std::uint32_t able = V4L2_CAP_TOUCH | V4L2_CAP_STREAMING;
  unsigned frames = 3;
  bool unplugged_after = false;
  int closed = 0, unmapped = 0, started = 0;

  int open(const std::string&) override { return 7; }
  int ioctl(int fd, unsigned long request, void* argument) override {
    EXPECT_EQ(fd, 7);
    switch (request) {
      case VIDIOC_QUERYCAP:
        static_cast<v4l2_capability*>(argument)->capabilities = able;
        return 0;
      case VIDIOC_G_FMT: {
        auto& pix = static_cast<v4l2_format*>(argument)->fmt.pix;
        pix.width = 3;
        pix.height = 2;
        pix.pixelformat = pixels;
        return 0;
      }
      case VIDIOC_REQBUFS:
        static_cast<v4l2_requestbuffers*>(argument)->count = 2;
        return 0;
      case VIDIOC_QUERYBUF: {
        auto& buffer = *static_cast<v4l2_buffer*>(argument);
        buffer.length = sizeof memory_[0];
        buffer.m.offset = buffer.index;
        return 0;
      }
      case VIDIOC_QBUF:
        queued_.push_back(static_cast<v4l2_buffer*>(argument)->index);
        return 0;
      case VIDIOC_STREAMON:
        ++started;
        return 0;
      case VIDIOC_STREAMOFF:
        --started;
        return 0;
      case VIDIOC_DQBUF:
        return give(*static_cast<v4l2_buffer*>(argument));
      default:
        errno = EINVAL;
        return -1;
    }
  }
  void* map(int, std::size_t, std::uint64_t offset) override { return memory_[offset]; }
  void unmap(void*, std::size_t) override { ++unmapped; }
  int wait(int, int) override { return given_ < frames || unplugged_after ? 1 : 0; }
  void close(int) override { ++closed; }

 private:
  int give(v4l2_buffer& buffer) {
    if (given_ == frames) {
      errno = ENODEV;
      return -1;
    }
    EXPECT_FALSE(queued_.empty());
    buffer.index = queued_.front();
    queued_.erase(queued_.begin());
    const bool wide = pixels == V4L2_TCH_FMT_TU16 || pixels == V4L2_TCH_FMT_DELTA_TD16;
    for (unsigned i = 0; i < 6; ++i) {
      memory_[buffer.index][wide ? 2 * i : i] = static_cast<std::uint8_t>(250 + i + given_);
      if (wide) memory_[buffer.index][2 * i + 1] = static_cast<std::uint8_t>(i == 5 ? 0xFF : i);
    }
    buffer.bytesused = wide ? 12 : 6;
    buffer.sequence = 10 + 2 * given_;  // every second frame is lost
    buffer.timestamp = {5, static_cast<suseconds_t>(20000 * given_)};
    ++given_;
    return 0;
  }

  std::uint8_t memory_[2][16] = {};
  std::vector<std::uint32_t> queued_;
  unsigned given_ = 0;
};

Bytes all_from(LiveSource& source) {
  Bytes out;
  std::uint8_t piece[50];
  for (;;) {
    const LiveSource::Got got = source.read(piece, sizeof piece, 10);
    if (got.event != LiveSource::Event::bytes) return out;
    out.insert(out.end(), piece, piece + got.size);
  }
}

TEST(ATouchDeviceOfTheKernel, GivesAStreamWithItsTimesAndNumbers) {
  const auto device = std::make_shared<RecordedDevice>();
  Bytes stream;
  {
    const auto source = open_touch_device("/dev/v4l-touch0", device);
    EXPECT_THAT(source->about(), HasSubstr("2 x 3, TU16, raw counts"));
    EXPECT_EQ(device->started, 1);
    stream = all_from(*source);
  }
  EXPECT_EQ(device->started, 0);
  EXPECT_EQ(device->closed, 1);
  EXPECT_EQ(device->unmapped, 2);
  const auto reader = support::read_bytes(stream);
  const auto texts = support::all_of(*reader);
  ASSERT_EQ(texts.size(), 5u);
  EXPECT_THAT(texts[0], HasSubstr("panel 2x3"));
  EXPECT_THAT(texts[1], HasSubstr("TU16"));
  EXPECT_EQ(texts[2], "raw 10 at 5000000 2x3: 250 507 764 1021 1278 65535;");
  EXPECT_THAT(texts[4], HasSubstr("raw 14 at 5040000"));
  EXPECT_EQ(reader->stats().frames_missing, 2u);
}

TEST(ATouchDeviceOfTheKernel, GivesDifferencesAndBytesWithTheirSign) {
  const struct {
    std::uint32_t pixels;
    const char* first;
  } cases[] = {
      {V4L2_TCH_FMT_DELTA_TD16, "difference 10 at 5000000 2x3:; 250 507 764 1021 1278 -1"},
      {V4L2_TCH_FMT_DELTA_TD08, "difference 10 at 5000000 2x3:; -6 -5 -4 -3 -2 -1"},
      {V4L2_TCH_FMT_TU08, "raw 10 at 5000000 2x3: 250 251 252 253 254 255;"},
  };
  for (const auto& each : cases) {
    const auto device = std::make_shared<RecordedDevice>();
    device->pixels = each.pixels;
    const auto source = open_touch_device("/dev/v4l-touch0", device);
    EXPECT_EQ(support::all_of(*support::read_bytes(all_from(*source))).at(2), each.first);
  }
}

TEST(ATouchDeviceOfTheKernel, ThatIsUnpluggedEnds) {
  const auto device = std::make_shared<RecordedDevice>();
  device->unplugged_after = true;
  const auto source = open_touch_device("/dev/v4l-touch0", device);
  EXPECT_FALSE(all_from(*source).empty());
  std::uint8_t byte = 0;
  EXPECT_EQ(source->read(&byte, 1, 10).event, LiveSource::Event::ended);
}

TEST(ADeviceThatIsNoTouchPanel, IsRefused) {
  const auto device = std::make_shared<RecordedDevice>();
  device->able = V4L2_CAP_STREAMING;
  EXPECT_THAT(problem_of([&] { open_touch_device("/dev/v4l-touch0", device); }),
              HasSubstr("gives touch frames by streaming"));
  EXPECT_EQ(device->closed, 1);
  const auto other = std::make_shared<RecordedDevice>();
  other->pixels = V4L2_PIX_FMT_YUYV;
  EXPECT_THAT(problem_of([&] { open_touch_device("/dev/v4l-touch0", other); }),
              HasSubstr("TU16, TU08, TD16, TD08"));
}

}  // namespace
}  // namespace bareglass::host
