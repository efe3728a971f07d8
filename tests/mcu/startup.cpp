// Reset: data and zeroed memory in place, static objects built, image_main called.
#include <cstdint>

#include "mcu/semihosting.hpp"

int image_main();

// Set by the linker script.
extern "C" {
extern std::uint32_t data_begin, data_end, data_image, bss_begin, bss_end, stack_top;
using Constructor = void (*)();
extern const Constructor init_array_begin, init_array_end;

[[noreturn]] void reset_handler();
[[noreturn]] void fault_handler();
}

void reset_handler() {
  const std::uint32_t* from = &data_image;
  for (std::uint32_t* to = &data_begin; to != &data_end;) *to++ = *from++;
  for (std::uint32_t* to = &bss_begin; to != &bss_end;) *to++ = 0;
  for (const Constructor* c = &init_array_begin; c != &init_array_end; ++c) (*c)();
  bareglass::mcu::finish(image_main());
}

void fault_handler() {
  bareglass::mcu::print("fault\n");
  bareglass::mcu::finish(3);
}

extern "C" {
union Vector {
  const void* stack;
  void (*handler)();
};
// Initial stack, reset, then NMI and the faults; no interrupt is enabled.
extern const Vector vectors[16];
[[gnu::section(".vectors"), gnu::used]] const Vector vectors[16] = {
    {&stack_top},
    {reinterpret_cast<const void*>(&reset_handler)},
    {reinterpret_cast<const void*>(&fault_handler)},
    {reinterpret_cast<const void*>(&fault_handler)},
    {reinterpret_cast<const void*>(&fault_handler)},
    {reinterpret_cast<const void*>(&fault_handler)},
    {reinterpret_cast<const void*>(&fault_handler)}};
}
