#pragma once
// The image's way out: text and an exit code through Arm semihosting (Arm, "Semihosting for AArch32
// and AArch64", operations SYS_WRITE0 and SYS_EXIT_EXTENDED).

#include <cstdint>

namespace bareglass::mcu {

/// Prints zero-terminated text on the debugger's console.
void print(const char* text);
/// Prints an unsigned number in decimal.
void print(std::uint32_t value);
/// Ends the emulation with this exit code.
[[noreturn]] void finish(int code);

}  // namespace bareglass::mcu
