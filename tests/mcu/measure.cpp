// Measures on the emulated Cortex-M3: instructions of one step and the stack it uses. Run with
// `-icount shift=0`, one instruction is one nanosecond of the board's time, so a timer counts
// instructions; the calibration line proves it before anything else is believed.
#include <cstdint>

#include "mcu/scenario.hpp"
#include "mcu/semihosting.hpp"

namespace {

using bareglass::Shape;
using bareglass::mcu::print;

// APB timer 0 of the board (Arm application note AN385, CMSDK APB timer): 25 MHz, counts down.
struct Timer {
  volatile std::uint32_t control, value, reload;
};
Timer& timer() { return *reinterpret_cast<Timer*>(0x40000000); }
constexpr std::uint32_t kInstructionsPerTick = 40;  // 1 GHz of instructions, 25 MHz of ticks

void start_timer() {
  timer().reload = 0xffffffff;
  timer().value = 0xffffffff;
  timer().control = 1;
}

template <typename Work>
std::uint32_t instructions_of(Work work) {
  const std::uint32_t before = timer().value;
  work();
  return (before - timer().value) * kInstructionsPerTick;
}

// 250,000 rounds of four instructions.
void known_loop() {
  std::uint32_t n = 250000;
  asm volatile("1: nop\n nop\n subs %0, #1\n bne 1b\n" : "+r"(n)::"cc");
}

constexpr Shape kShape = bareglass::test::Scenario::kShape;
constexpr auto kNodes = static_cast<std::size_t>(kShape.nodes());
constexpr std::uint32_t kFrames = 64;
std::uint16_t ring[kFrames][kNodes];
std::uint16_t bare[kNodes];
bareglass::Storage<kShape.rows, kShape.cols> storage;
bareglass::Engine& engine() {
  static bareglass::Engine instance(storage.memory());
  return instance;
}

// Mean instructions per node of one step with this many fingers down; 0 if they were not seen.
std::uint32_t instructions_per_frame(int touches) {
  using namespace bareglass::test;
  Xorshift32 random(20231125);
  make_frame({bare, kNodes}, kShape, random, {});
  SyntheticTouch touch[10];
  for (std::uint32_t n = 0; n < kFrames; ++n) {
    for (int k = 0; k < touches; ++k) touch[k] = wandering_touch(kShape, k, touches, n);
    make_frame({ring[n], kNodes}, kShape, random, {touch, static_cast<std::size_t>(touches)});
  }
  bareglass::Settings settings;
  settings.shape = kShape;
  if (engine().configure(settings) != bareglass::SettingsField::none) return 0;
  engine().join_midway({bare, kNodes}, 0);
  std::uint32_t n = 0;
  const auto step = [&n] {
    ++n;
    engine().step({ring[n % kFrames], kShape, n, n * 8000ull});
  };
  for (std::uint32_t k = 0; k < kFrames; ++k) step();
  const std::uint32_t all = instructions_of([&] {
    for (std::uint32_t k = 0; k < kFrames; ++k) step();
  });
  return engine().contacts().size == static_cast<std::size_t>(touches) ? all / kFrames : 0;
}

// Paints the unused stack below the caller, runs `work`, and finds the lowest byte it changed.
constexpr std::size_t kPainted = 2048;  // words
template <typename Work>
std::uint32_t stack_of(Work work) {
  constexpr std::uint32_t kPaint = 0xa5a5a5a5;
  const auto here = reinterpret_cast<std::uintptr_t>(__builtin_frame_address(0)) - 64;
  auto* const top = reinterpret_cast<volatile std::uint32_t*>(here & ~std::uintptr_t{3});
  volatile std::uint32_t* const bottom = top - kPainted;
  for (volatile std::uint32_t* p = bottom; p != top; ++p) *p = kPaint;
  work();
  const volatile std::uint32_t* p = bottom;
  while (p != top && *p == kPaint) ++p;
  return static_cast<std::uint32_t>(reinterpret_cast<std::uintptr_t>(top) -
                                    reinterpret_cast<std::uintptr_t>(p)) +
         64;
}

[[gnu::noinline]] void use_stack() {
  volatile std::uint8_t block[500];
  for (volatile std::uint8_t& b : block) b = 1;
}

std::uint32_t deepest_step() {
  static bareglass::test::Scenario scenario;
  std::uint32_t deepest = 0;
  for (const auto& part : bareglass::test::kStory)
    scenario.run(part, [&deepest](auto step) {
      const std::uint32_t used = stack_of(step);
      deepest = used > deepest ? used : deepest;
    });
  return deepest;
}

void line(const char* name, std::uint32_t value) {
  print(name);
  print(" ");
  print(value);
  print("\n");
}

}  // namespace

int image_main();  // called by startup.cpp
int image_main() {
  start_timer();
  line("calibration_loop", instructions_of(known_loop));
  line("nodes", kNodes);
  line("frame_idle", instructions_per_frame(0));
  line("frame_two_contacts", instructions_per_frame(2));
  line("frame_ten_contacts", instructions_per_frame(10));
  line("stack_known_500", stack_of(use_stack));
  line("stack_step", deepest_step());
  line("storage_bytes", sizeof(storage));
  line("engine_bytes", sizeof(bareglass::Engine));
  return 0;
}
