#pragma once
// One long story for the engine, told with synthetic frames: start-up on bare glass, touches, a
// film that stays, its removal, power-up with the film in place under each policy, damaged frames.
// A host and a microcontroller run it and must reach the same checksums.

#include <cstdint>

#include "bareglass/core/engine.hpp"
#include "support/synthetic_frames.hpp"

namespace bareglass::test {

/// FNV-1a, 32 bit (Fowler, Noll, Vo; constants as in RFC 9923), byte by byte, least byte first.
class Checksum {
 public:
  template <typename T>
  void add(T value) {
    auto v = static_cast<std::uint64_t>(value);
    for (std::size_t k = 0; k < sizeof(T); ++k, v >>= 8)
      hash_ = (hash_ ^ static_cast<std::uint8_t>(v)) * 16777619u;
  }
  std::uint32_t value() const { return hash_; }

 private:
  std::uint32_t hash_ = 2166136261u;
};

/// A flat film: lowers (or raises, if negative) the counts of a rectangle of nodes.
struct Film {
  Box box;
  std::int32_t counts = 0;
};

class Scenario {
 public:
  static constexpr Shape kShape{40, 24};
  static constexpr std::uint64_t kPeriodUs = 8000;

  Scenario() : engine_(storage_.memory()) {}

  /// A part of the story: `frames` scans with this on the glass.
  struct Part {
    const char* name;
    std::uint32_t frames;
    int touches;
    Film film;
    bool power_up;       ///< before the first scan
    StartPolicy policy;  ///< of that power-up
    bool damaged;        ///< every 7th scan is saturated, every 11th is lost
  };

  /// Runs `part`; `around(step)` must call step() once, and may measure it.
  template <typename Around>
  void run(const Part& part, Around around) {
    if (part.power_up) start(part.policy);
    for (std::uint32_t n = 0; n < part.frames; ++n) {
      scan(part, n);
      const Frame frame{raw_, kShape, sequence_, t_us_};
      StepResult result;
      around([&] { result = engine_.step(frame); });
      add_step(result);
    }
    add_panel();
  }

  std::uint32_t checksum() const { return sum_.value(); }
  const Engine& engine() const { return engine_; }

 private:
  void start(StartPolicy policy) {
    Settings settings;
    settings.shape = kShape;
    settings.policy = policy;
    settings.surface_ms = 200;
    settings.clear_ms = 200;
    settings.held_ms = 1000;
    settings.retry_ms = 100;
    settings.wait_ms = 1000;
    sum_.add(static_cast<std::uint8_t>(engine_.configure(settings)));
    engine_.power_up(t_us_);
  }

  void scan(const Part& part, std::uint32_t n) {
    SyntheticTouch touch[10];
    for (int k = 0; k < part.touches; ++k) touch[k] = wandering_touch(kShape, k, part.touches, n);
    make_frame({raw_, kNodes}, kShape, random_, {touch, static_cast<std::size_t>(part.touches)});
    if (part.film.counts != 0)
      for (int r = part.film.box.row0; r <= part.film.box.row1; ++r)
        for (int c = part.film.box.col0; c <= part.film.box.col1; ++c) {
          std::uint16_t& v = raw_[r * kShape.cols + c];
          v = static_cast<std::uint16_t>(v - part.film.counts);
        }
    if (part.damaged && n % 7 == 6)
      for (std::size_t i = 0; i < kNodes; i += 3) raw_[i] = 65535;
    sequence_ += part.damaged && n % 11 == 10 ? 2 : 1;
    t_us_ += kPeriodUs;
  }

  void add_step(const StepResult& result) {
    sum_.add(static_cast<std::uint8_t>(result.status));
    sum_.add(static_cast<std::uint8_t>(engine_.state()));
    sum_.add(static_cast<std::uint8_t>(result.state_changed));
    sum_.add(static_cast<std::uint8_t>(result.looked));
    sum_.add(engine_.panel_sigma_q4());
    for (const Contact& c : engine_.contacts()) {
      sum_.add(c.id);
      sum_.add(static_cast<std::uint8_t>(c.tip));
      sum_.add(static_cast<std::uint8_t>(c.confidence));
      sum_.add(c.x_q8);
      sum_.add(c.y_q8);
      sum_.add(c.strength);
      sum_.add(c.since_us);
    }
    for (const Finding& f : engine_.findings()) {
      sum_.add(static_cast<std::uint8_t>(f.kind));
      sum_.add(static_cast<std::uint8_t>(f.confirmed + 2 * f.in_baseline + 4 * f.gone));
      sum_.add(f.nodes);
      sum_.add(f.peak);
      sum_.add(f.first_peak);
      sum_.add(f.mean);
      sum_.add(f.opposite);
      sum_.add(f.last_us);
    }
  }

  void add_panel() {
    for (const std::int16_t d : engine_.difference()) sum_.add(d);
    for (const BaselineQ8 b : engine_.baseline_q8()) sum_.add(b);
    for (const std::uint16_t r : engine_.roughness_q4()) sum_.add(r);
    const Journal& journal = engine_.journal();
    for (std::uint32_t k = journal.first(); k < journal.end(); ++k) {
      const JournalEntry& e = journal.at(k);
      sum_.add(e.t_us);
      sum_.add(e.value);
      sum_.add(e.limit);
      sum_.add(static_cast<std::uint8_t>(e.code));
      sum_.add(e.detail);
      sum_.add(e.row);
      sum_.add(e.col);
    }
  }

  static constexpr std::size_t kNodes = static_cast<std::size_t>(kShape.nodes());

  Storage<kShape.rows, kShape.cols> storage_;
  Engine engine_;
  Xorshift32 random_{20231125};
  Checksum sum_;
  std::uint32_t sequence_ = 0;
  std::uint64_t t_us_ = 1000;
  std::uint16_t raw_[kNodes] = {};
};

/// The story, in order.
constexpr Film kWet{{8, 15, 5, 12}, 900};
constexpr Film kDry{{20, 29, 10, 20}, -1200};
constexpr Film kBezel{{0, 1, 3, 18}, 1500};
constexpr Scenario::Part kStory[] = {
    {"bare start", 60, 0, {}, true, StartPolicy::wait, false},
    {"two fingers", 80, 2, {}, false, StartPolicy::wait, false},
    {"ten fingers", 80, 10, {}, false, StartPolicy::wait, false},
    {"damaged", 40, 2, {}, false, StartPolicy::wait, true},
    {"film stays", 80, 0, kDry, false, StartPolicy::wait, false},
    {"film gone", 80, 0, {}, false, StartPolicy::wait, false},
    {"wait on film", 160, 0, kWet, true, StartPolicy::wait, false},
    {"lock on film", 60, 0, kDry, true, StartPolicy::lock, false},
    {"service", 60, 0, kBezel, true, StartPolicy::service, false},
    {"adopt film", 60, 0, kWet, true, StartPolicy::adopt, false},
    {"adopted lifts", 120, 1, {}, false, StartPolicy::adopt, false},
};

}  // namespace bareglass::test
