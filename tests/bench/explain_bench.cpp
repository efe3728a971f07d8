// What explaining a dump costs: read, decode, replay through the core, diagnose. Bytes are those of
// the raw samples (two each), so that the figure does not grow with the format's overhead.
#include <benchmark/benchmark.h>

#include <cstdio>
#include <filesystem>
#include <string>
#include <vector>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/capture/reader.hpp"
#include "bareglass/capture/writer.hpp"
#include "bareglass/replay/replay.hpp"
#include "support/synthetic_frames.hpp"

namespace {

using namespace bareglass;

constexpr int kFrames = 4000;

// Writes a dump from power-up on, with as many moving touches as asked for after two seconds.
void write_dump(const std::string& path, Shape shape, int touches) {
  const auto writer = host::create_capture(path, host::CaptureFormat::frames);
  host::PanelDescription panel;
  panel.rows = shape.rows;
  panel.cols = shape.cols;
  panel.pitch_row_mm = panel.pitch_col_mm = 5.0;
  panel.finger_counts = 3500;
  panel.frame_period_us = 8000;
  panel.power_up_us = 0;
  writer->write(panel);
  host::FrameRecord frame;
  frame.rows = shape.rows;
  frame.cols = shape.cols;
  frame.raw.resize(static_cast<std::size_t>(shape.nodes()));
  test::Xorshift32 random(12345);
  std::vector<test::SyntheticTouch> fingers(static_cast<std::size_t>(touches));
  for (std::uint32_t n = 0; n < kFrames; ++n) {
    frame.sequence = n;
    frame.t_us = 8000ull * (n + 1);
    for (int k = 0; k < touches; ++k)
      fingers[static_cast<std::size_t>(k)] = test::wandering_touch(shape, k, touches, n);
    // The first two seconds belong to the start-up.
    const View<const test::SyntheticTouch> now{fingers.data(), n > 250 ? fingers.size() : 0};
    test::make_frame({frame.raw.data(), frame.raw.size()}, shape, random, now);
    writer->write(frame);
  }
  writer->finish();
}

void explain_dump(benchmark::State& state) {
  const Shape shape{static_cast<int>(state.range(0)), static_cast<int>(state.range(1))};
  const std::string path =
      (std::filesystem::temp_directory_path() /
       ("bareglass_explain_bench_" + std::to_string(state.range(2)) + ".frames"))
          .string();
  write_dump(path, shape, static_cast<int>(state.range(2)));
  for (auto _ : state) {
    const auto reader = host::open_capture(path, {});
    const host::Account account = host::replay(*reader, path, {});
    const host::Diagnosis diagnosis = host::diagnose(account);
    benchmark::DoNotOptimize(diagnosis.causes.data());
    if (account.frames != kFrames) state.SkipWithError("frames were lost");
  }
  std::remove(path.c_str());
  state.SetBytesProcessed(static_cast<std::int64_t>(state.iterations()) * kFrames * shape.nodes() *
                          2);
}
BENCHMARK(explain_dump)
    ->ArgNames({"rows", "cols", "touches"})
    ->Args({40, 24, 0})
    ->Args({40, 24, 2})
    ->Unit(benchmark::kMillisecond);

}  // namespace
