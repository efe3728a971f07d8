#pragma once
// Frame::t_us has 64 bits; many a controller's microsecond counter has 32 and begins anew every
// 71.6 minutes. One WideClock for each counter goes between the two.
//
//   static bareglass::WideClock clock;
//   engine.step({raw, shape, sequence, bareglass::widen(clock, timer_us())});

#include <cstdint>

namespace bareglass {

/// The latest time that was read, in 64 bits; meaningless before the first reading.
struct WideClock {
  std::uint64_t latest_us = 0;
  bool read = false;
};

/// The 64-bit time of a 32-bit reading. The first is taken as it is; of later ones the time nearest
/// to the latest, less than 2^31 µs (35.8 minutes) ahead of it or at most as much back. What lies
/// ahead becomes the latest: a wrap carries. A reading a little back (a late frame) is told as such
/// and is no wrap; never below zero. A counter that is read less often than every 35.8 minutes
/// cannot be widened, and one that starts again from zero shows as a step that does not fit, which
/// is what Engine::step looks for.
constexpr std::uint64_t widen(WideClock& clock, std::uint32_t reading_us) {
  if (!clock.read) {
    clock = {reading_us, true};
    return reading_us;
  }
  const std::uint32_t ahead = reading_us - static_cast<std::uint32_t>(clock.latest_us);
  if (ahead < 0x80000000u) return clock.latest_us += ahead;
  const std::uint32_t back = 0u - ahead;
  return clock.latest_us > back ? clock.latest_us - back : 0;
}

}  // namespace bareglass
