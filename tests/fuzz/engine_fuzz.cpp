// The core on a small panel, fed with whatever the bytes say: touches, films, line faults, noise,
// frames that are spoiled, misshapen, repeated, backward or far ahead, restarts, other settings.

#include "bareglass/core/engine.hpp"
#include "engine_promises.hpp"

namespace bareglass::fuzz {
namespace {

constexpr int kMost = 12;          ///< lines each way
constexpr int kMostFrames = 1500;  ///< of one input
constexpr int kMostRestarts = 50;

class Story {
 public:
  Story(const std::uint8_t* data, std::size_t size)
      : in_(data, size), engine_(storage_.memory()), raw_(kMost * kMost) {}

  void run() {
    if (!configure()) return;
    power_up();
    while (!in_.empty() && frames_ < kMostFrames && restarts_ < kMostRestarts) act();
  }

 private:
  Settings draw_settings() {
    Settings s;
    s.shape = {static_cast<int>(in_.within(2, kMost)), static_cast<int>(in_.within(2, kMost))};
    s.frame_period_us = 8000;
    const std::uint8_t changed = in_.byte();
    if (changed & 1) s.policy = static_cast<StartPolicy>(in_.within(0, 3));
    if (changed & 2) {
      s.finger_counts =
          static_cast<std::uint16_t>(in_.within(tolerated("weak-finger") ? 125 : 16, 20000));
      s.counts_rise = in_.chance(128);
    }
    if (changed & 4) {
      s.touch_on_permille = static_cast<std::uint16_t>(in_.within(50, 1500));
      s.touch_off_permille = static_cast<std::uint16_t>(in_.within(20, 1500));
      s.quiet_permille = static_cast<std::uint16_t>(in_.within(5, 300));
      s.surface_permille = static_cast<std::uint16_t>(in_.within(5, 1500));
    }
    if (changed & 8) {
      s.debounce_down = static_cast<std::uint8_t>(in_.within(1, 20));
      s.debounce_up = static_cast<std::uint8_t>(in_.within(1, 20));
      s.saddle_permille = static_cast<std::uint16_t>(in_.within(300, 1000));
    }
    if (changed & 16) {
      s.settle_ms = static_cast<std::uint32_t>(in_.within(0, 200));
      s.sample_frames = static_cast<std::uint8_t>(in_.within(4, 25));
      s.retry_ms = static_cast<std::uint32_t>(in_.within(10, 2000));
      s.wait_ms = static_cast<std::uint32_t>(in_.within(0, 5000));
      s.clear_ms = static_cast<std::uint32_t>(in_.within(0, 2000));
    }
    if (changed & 32) {
      s.surface_ms = static_cast<std::uint32_t>(in_.within(0, 3000));
      s.held_ms = static_cast<std::uint32_t>(in_.within(1000, 5000));
      s.held_jitter_q8 = static_cast<std::uint16_t>(in_.within(1, 512));
    }
    if (changed & 64) {
      s.track_ms = static_cast<std::uint32_t>(in_.within(0, 600000));
      s.slew_permille_s = static_cast<std::uint16_t>(in_.within(1, 2000));
      s.frame_period_us = static_cast<std::uint32_t>(in_.within(500, 1000000));
    }
    if (changed & 128) {
      s.raw_low = static_cast<std::uint16_t>(in_.number(2));
      s.raw_high = static_cast<std::uint16_t>(in_.number(2));
      s.pitch_row_um = static_cast<std::uint16_t>(in_.within(1000, 20000));
      s.pitch_col_um = static_cast<std::uint16_t>(in_.within(1000, 20000));
      s.palm_mm2 = static_cast<std::uint16_t>(in_.within(50, 20000));
    }
    return s;
  }

  /// False if the settings are out of their ranges; the engine is then as it was.
  bool configure() {
    const Settings s = draw_settings();
    const bool with_reference = in_.chance(128);
    spread_ = static_cast<int>(in_.within(0, 400));
    std::vector<std::uint16_t> reference;
    if (with_reference)
      for (int node = 0; node < s.shape.nodes(); ++node) reference.push_back(bare(node));
    const SettingsField wrong = validate(s);
    const std::uint32_t before = engine_.journal().end();
    const bool taken =
        engine_.configure(s, {reference.data(), reference.size()}) == SettingsField::none;
    require(taken == (wrong == SettingsField::none), "configure takes what validate allows");
    require(engine_.journal().end() >= before, "the journal is kept");
    if (!taken) return false;
    reference_ = std::move(reference);
    // The engine looks at the vector that was moved: the elements stay where they were.
    shape_ = s.shape;
    offset_.assign(static_cast<std::size_t>(shape_.nodes()), 0);
    period_us_ = s.frame_period_us;
    return true;
  }

  void power_up() {
    engine_.power_up(t_us_);
    ++restarts_;
  }

  void act() {
    switch (in_.byte() % 16) {
      case 0:
      case 1:
        return frames(static_cast<int>(in_.within(1, 64)));
      case 2:
      case 3:
        return touch();
      case 4:
        return film();
      case 5:
        return line_fault();
      case 6:
        noise_ = static_cast<int>(in_.within(0, 255));
        return;
      case 7:
        return spoiled();
      case 8:
        return misshapen();
      case 9:
        return repeated();
      case 10:
        return backward();
      case 11:
        sequence_ += static_cast<std::uint32_t>(in_.number(in_.chance(200) ? 1 : 4));
        return;
      case 12:
        t_us_ += in_.number(in_.chance(250) ? 3 : 8);
        return;
      case 13:
        return restart();
      case 14:
        return engine_.note_supply(static_cast<std::uint16_t>(in_.within(1, 65535)),
                                   static_cast<std::uint16_t>(in_.within(1, 65535)), t_us_);
      default:
        return anything();
    }
  }

  std::uint16_t bare(int node) const {
    return static_cast<std::uint16_t>(20000 + (node * 7919 % 97) * spread_ / 97);
  }

  void draw_frame() {
    for (int node = 0; node < shape_.nodes(); ++node) {
      random_ = random_ * 6364136223846793005u + 1442695040888963407u;
      const int jitter =
          noise_ == 0 ? 0 : static_cast<int>(random_ >> 33) % (2 * noise_ + 1) - noise_;
      const int value = bare(node) - offset_[static_cast<std::size_t>(node)] + jitter;
      raw_[static_cast<std::size_t>(node)] =
          static_cast<std::uint16_t>(std::clamp(value, 0, 65535));
    }
  }

  void give(Frame frame) {
    const bool on = engine_.input_on();
    const std::uint32_t journal = engine_.journal().end();
    const StepResult result = engine_.step(frame);
    promises_.check(engine_, result, on, journal);
    ++frames_;
  }

  void next() {
    ++sequence_;
    t_us_ += period_us_;
    give({raw_.data(), shape_, sequence_, t_us_});
  }

  void frames(int count) {
    for (int n = 0; n < count && frames_ < kMostFrames; ++n) {
      draw_frame();
      next();
    }
  }

  // A finger, or of the other sign what none is; it may move.
  void touch() {
    const int row = static_cast<int>(in_.within(0, shape_.rows - 1));
    const int col = static_cast<int>(in_.within(0, shape_.cols - 1));
    const int height = static_cast<int>(in_.within(-8000, 8000));
    const int width = static_cast<int>(in_.within(1, 6));
    const int step = static_cast<int>(in_.within(-1, 1));
    const int count = static_cast<int>(in_.within(1, 48));
    for (int n = 0; n < count && frames_ < kMostFrames; ++n) {
      draw_frame();
      for (int r = 0; r < shape_.rows; ++r)
        for (int c = 0; c < shape_.cols; ++c) {
          const int away = std::abs(r - row) + std::abs(c - col - n * step / 4);
          auto& raw = raw_[static_cast<std::size_t>(r * shape_.cols + c)];
          if (away < width)
            raw = static_cast<std::uint16_t>(
                std::clamp(raw - height * (width - away) / width, 0, 65535));
        }
      next();
    }
  }

  // Stays until another one is drawn at its place.
  void film() {
    const int r0 = static_cast<int>(in_.within(0, shape_.rows - 1));
    const int c0 = static_cast<int>(in_.within(0, shape_.cols - 1));
    const int r1 = static_cast<int>(in_.within(r0, shape_.rows - 1));
    const int c1 = static_cast<int>(in_.within(c0, shape_.cols - 1));
    const int counts = static_cast<int>(in_.within(-6000, 6000));
    for (int r = r0; r <= r1; ++r)
      for (int c = c0; c <= c1; ++c)
        offset_[static_cast<std::size_t>(r * shape_.cols + c)] = counts;
  }

  void line_fault() {
    const bool of_rows = in_.chance(128);
    const int line = static_cast<int>(in_.within(0, (of_rows ? shape_.rows : shape_.cols) - 1));
    const int from = static_cast<int>(in_.within(0, (of_rows ? shape_.cols : shape_.rows) - 1));
    const int lost = static_cast<int>(in_.within(-20000, 20000));
    for (int k = from; k < (of_rows ? shape_.cols : shape_.rows); ++k)
      offset_[static_cast<std::size_t>(of_rows ? line * shape_.cols + k : k * shape_.cols + line)] =
          lost;
  }

  void spoiled() {
    draw_frame();
    const std::uint16_t end = in_.chance(128) ? 65535 : 0;
    const auto nodes = in_.within(1, shape_.nodes());
    for (std::int64_t n = 0; n < nodes; ++n) raw_[static_cast<std::size_t>(n)] = end;
    next();
  }

  void misshapen() {
    draw_frame();
    ++sequence_;
    t_us_ += period_us_;
    const Shape other{static_cast<int>(in_.within(1, kMost)),
                      static_cast<int>(in_.within(1, kMost))};
    give({raw_.data(), other, sequence_, t_us_});
  }

  void repeated() {
    for (auto n = in_.within(1, 4); n > 0; --n) give({raw_.data(), shape_, sequence_, t_us_});
  }

  void backward() {
    const std::uint64_t back = in_.number(in_.chance(200) ? 3 : 8);
    const auto count = in_.within(1, 16);
    draw_frame();
    // The clock may stay there: a controller that starts again.
    std::uint64_t t_us = t_us_ - std::min(t_us_, back);
    for (std::int64_t n = 0; n < count; ++n) {
      ++sequence_;
      t_us += period_us_;
      give({raw_.data(), shape_, sequence_, t_us});
    }
    if (in_.chance(64)) t_us_ = t_us;
  }

  void restart() {
    const std::uint8_t how = in_.byte();
    if (how < 100) return power_up();
    if (how < 180) {
      if (configure()) power_up();
      return;
    }
    draw_frame();
    engine_.join_midway({raw_.data(), static_cast<std::size_t>(shape_.nodes())}, t_us_);
    ++restarts_;
  }

  void anything() {
    for (int node = 0; node < shape_.nodes(); ++node)
      raw_[static_cast<std::size_t>(node)] = static_cast<std::uint16_t>(in_.number(2));
    next();
  }

  Bytes in_;
  Storage<kMost, kMost> storage_;
  Engine engine_;
  EnginePromises promises_;
  std::vector<std::uint16_t> raw_;
  std::vector<std::uint16_t> reference_;
  std::vector<int> offset_;
  Shape shape_;
  std::uint64_t random_ = 1;
  std::uint64_t t_us_ = 1000;
  std::uint32_t sequence_ = 0;
  std::uint32_t period_us_ = 8000;
  int spread_ = 0;
  int noise_ = 0;
  int frames_ = 0;
  int restarts_ = 0;
};

}  // namespace
}  // namespace bareglass::fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  bareglass::fuzz::Story(data, size).run();
  return 0;
}
