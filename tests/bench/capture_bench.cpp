// How fast captures are read: bytes of raw samples a second, one thread, from memory.

#include <benchmark/benchmark.h>

#include "bareglass/capture/cobs_fast.hpp"
#include "bareglass/capture/crc32c_fast.hpp"
#include "bareglass/core/crc32c.hpp"
#include "support/capture_bytes.hpp"
#include "support/synthetic_frames.hpp"

namespace bareglass::host {
namespace {

constexpr int kRows = 72;
constexpr int kCols = 41;
constexpr std::size_t kNodes = kRows * kCols;
constexpr std::uint32_t kFrames = 4000;

/// Hands out bytes that stay with the caller.
class BorrowedSource : public ByteSource {
 public:
  explicit BorrowedSource(const support::Bytes& bytes) : bytes_(bytes) {}
  std::size_t read(std::uint8_t* to, std::size_t most) override {
    const std::size_t size = std::min(most, bytes_.size() - at_);
    if (size > 0) std::memcpy(to, bytes_.data() + at_, size);
    at_ += size;
    return size;
  }

 private:
  const support::Bytes& bytes_;
  std::size_t at_ = 0;
};

/// Quiet frames: raw counts around 30,000, or differences of a few counts around zero.
support::Bytes quiet_frames(CaptureFormat format, FrameKind kind) {
  test::Xorshift32 random(20261125);
  std::vector<Record> records;
  PanelDescription panel;
  panel.rows = kRows;
  panel.cols = kCols;
  records.emplace_back(panel);
  for (std::uint32_t i = 0; i < kFrames; ++i) {
    FrameRecord frame;
    frame.kind = kind;
    frame.sequence = i;
    frame.t_us = 8000ull * i;
    frame.rows = kRows;
    frame.cols = kCols;
    for (std::size_t node = 0; node < kNodes; ++node) {
      const std::int32_t noise = random.noise();
      if (kind == FrameKind::raw)
        frame.raw.push_back(static_cast<std::uint16_t>(30000 + noise));
      else
        frame.difference.push_back(static_cast<std::int16_t>(noise));
    }
    records.emplace_back(std::move(frame));
  }
  return support::written_as(format, records);
}

void read_capture(benchmark::State& state, CaptureFormat format, FrameKind kind) {
  const support::Bytes bytes = quiet_frames(format, kind);
  OpenOptions options;
  options.format = format;
  std::uint64_t frames = 0;
  for (auto _ : state) {
    const auto reader = open_capture(std::make_unique<BorrowedSource>(bytes), "memory", options);
    Record record;
    while (reader->next(record)) benchmark::DoNotOptimize(record);
    frames += reader->stats().frames;
    if (reader->stats().frames != kFrames) state.SkipWithError("frames were lost");
  }
  state.SetBytesProcessed(static_cast<std::int64_t>(frames * kNodes * 2));
}

void check_bytes(benchmark::State& state,
                 std::uint32_t (*crc)(std::uint32_t, const std::uint8_t*, std::size_t)) {
  const support::Bytes bytes(64 * 1024, 0x5A);
  for (auto _ : state) benchmark::DoNotOptimize(crc(0, bytes.data(), bytes.size()));
  state.SetBytesProcessed(state.iterations() * static_cast<std::int64_t>(bytes.size()));
}

std::uint32_t crc_of_the_core(std::uint32_t so_far, const std::uint8_t* bytes, std::size_t size) {
  return crc32c(so_far, {bytes, size});
}

BENCHMARK_CAPTURE(read_capture, frame_stream_raw, CaptureFormat::frames, FrameKind::raw);
BENCHMARK_CAPTURE(read_capture, frame_stream_difference, CaptureFormat::frames,
                  FrameKind::difference);
BENCHMARK_CAPTURE(read_capture, csv_raw, CaptureFormat::csv, FrameKind::raw);
BENCHMARK_CAPTURE(check_bytes, crc_instruction, crc32c_fast);
BENCHMARK_CAPTURE(check_bytes, crc_sliced, crc32c_sliced);
BENCHMARK_CAPTURE(check_bytes, crc_core, crc_of_the_core);

}  // namespace
}  // namespace bareglass::host
