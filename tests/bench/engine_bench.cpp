// What one frame costs: the engine with input on, and, as an outside yardstick, an OpenCV pipeline
// on the same frames in the same run. The yardstick does less (no common mode, noise, tracking,
// identity or findings), so a ratio below one is earned.
#include <benchmark/benchmark.h>

#include <memory>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/synthetic_frames.hpp"

#ifdef BAREGLASS_BENCH_OPENCV
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#endif

namespace bareglass::bench {

namespace {

using test::SyntheticTouch;
using test::Xorshift32;

constexpr std::uint32_t kSeed = 20231125;
constexpr std::size_t kRing = 128;  // 0.75 MB of the larger panel: past the L1 cache, as in use
constexpr std::uint64_t kPeriodUs = 8000;
using LargestStorage = Storage<72, 41>;

/// Frames made once: `bare` ones to start on, then a ring with `touches` fingers on the glass.
class Frames {
 public:
  Frames(Shape shape, int touches) : shape_(shape) {
    Xorshift32 random(kSeed);
    bare_ = make(random, 0, 0);
    for (std::uint32_t n = 0; n < kRing; ++n) ring_.push_back(make(random, touches, n));
  }
  const std::vector<std::uint16_t>& bare() const { return bare_; }
  const std::vector<std::uint16_t>& at(std::size_t n) const { return ring_[n % kRing]; }

 private:
  std::vector<std::uint16_t> make(Xorshift32& random, int touches, std::uint32_t n) {
    std::vector<SyntheticTouch> on_glass;
    for (int k = 0; k < touches; ++k)
      on_glass.push_back(test::wandering_touch(shape_, k, touches, n));
    std::vector<std::uint16_t> raw(static_cast<std::size_t>(shape_.nodes()));
    test::make_frame({raw.data(), raw.size()}, shape_, random, {on_glass.data(), on_glass.size()});
    return raw;
  }

  Shape shape_;
  std::vector<std::uint16_t> bare_;
  std::vector<std::vector<std::uint16_t>> ring_;
};

Shape shape_of(const benchmark::State& state) {
  return {static_cast<int>(state.range(0)), static_cast<int>(state.range(1))};
}

int touches_of(const benchmark::State& state) { return static_cast<int>(state.range(2)); }

// An engine fed from a ring, with its clock and sequence running on.
class RunningEngine {
 public:
  RunningEngine(const Frames& frames, Shape shape)
      : frames_(frames),
        shape_(shape),
        storage_(std::make_unique<LargestStorage>()),
        engine_(storage_->memory()) {
    Settings settings;
    settings.shape = shape;
    configured_ = engine_.configure(settings) == SettingsField::none;
    engine_.join_midway({frames.bare().data(), frames.bare().size()}, 0);
  }
  void step() {
    ++count_;
    engine_.step({frames_.at(count_).data(), shape_, count_, count_ * kPeriodUs});
  }
  bool tracks(int touches) const {
    return configured_ && engine_.input_on() &&
           engine_.contacts().size == static_cast<std::size_t>(touches);
  }

 private:
  const Frames& frames_;
  Shape shape_;
  std::unique_ptr<LargestStorage> storage_;
  Engine engine_;
  bool configured_ = false;
  std::uint32_t count_ = 0;
};

void engine_step(benchmark::State& state) {
  const Frames frames(shape_of(state), touches_of(state));
  RunningEngine engine(frames, shape_of(state));
  for (std::size_t n = 0; n < kRing; ++n) engine.step();
  for (auto _ : state) engine.step();
  if (!engine.tracks(touches_of(state))) state.SkipWithError("the engine lost its contacts");
}

void panels_and_touches(benchmark::internal::Benchmark* b) {
  b->ArgNames({"rows", "cols", "touches"})->Unit(benchmark::kMicrosecond);
  for (const Shape shape : {Shape{40, 24}, Shape{72, 41}})
    for (const int touches : {0, 2, 10}) b->Args({shape.rows, shape.cols, touches});
}

BENCHMARK(engine_step)->Apply(panels_and_touches);

#ifdef BAREGLASS_BENCH_OPENCV

// Baseline minus frame, threshold, connected components, centroids; buffers are kept.
class OpenCvPipeline {
 public:
  explicit OpenCvPipeline(const Frames& frames, Shape shape, int limit)
      : limit_(limit), baseline_(shape.rows, shape.cols, CV_16U) {
    cv::setNumThreads(1);
    const cv::Mat bare(shape.rows, shape.cols, CV_16U,
                       const_cast<std::uint16_t*>(frames.bare().data()));
    bare.copyTo(baseline_);
  }
  int components(const std::vector<std::uint16_t>& raw) {
    const cv::Mat frame(baseline_.rows, baseline_.cols, CV_16U,
                        const_cast<std::uint16_t*>(raw.data()));
    cv::subtract(baseline_, frame, difference_, cv::noArray(), CV_16S);
    cv::compare(difference_, limit_, mask_, cv::CMP_GE);
    return cv::connectedComponentsWithStats(mask_, labels_, stats_, centroids_, 8, CV_16U) - 1;
  }

 private:
  int limit_;
  cv::Mat baseline_, difference_, mask_, labels_, stats_, centroids_;
};

void opencv_step(benchmark::State& state) {
  const Shape shape = shape_of(state);
  const Frames frames(shape, touches_of(state));
  Settings settings;
  settings.shape = shape;
  OpenCvPipeline pipeline(frames, shape, limits_of(settings).surface);
  std::size_t count = 0;
  int found = 0;
  for (auto _ : state) benchmark::DoNotOptimize(found = pipeline.components(frames.at(++count)));
  if (found != touches_of(state)) state.SkipWithError("the pipeline found other than the touches");
}
BENCHMARK(opencv_step)->Apply(panels_and_touches);

#endif

}  // namespace

}  // namespace bareglass::bench
