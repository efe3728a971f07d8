#include "mcu/semihosting.hpp"

namespace bareglass::mcu {

namespace {

constexpr std::uint32_t kWrite0 = 0x04;
constexpr std::uint32_t kExitExtended = 0x20;
constexpr std::uint32_t kApplicationExit = 0x20026;

void call_host(std::uint32_t operation, const void* argument) {
  register std::uint32_t r0 asm("r0") = operation;
  register const void* r1 asm("r1") = argument;
  asm volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
}

}  // namespace

void print(const char* text) { call_host(kWrite0, text); }

void print(std::uint32_t value) {
  char digits[11];
  char* at = digits + 10;
  *at = '\0';
  do {
    *--at = static_cast<char>('0' + value % 10);
    value /= 10;
  } while (value != 0);
  print(at);
}

void finish(int code) {
  const std::uint32_t block[2] = {kApplicationExit, static_cast<std::uint32_t>(code)};
  call_host(kExitExtended, block);
  for (;;) {
  }
}

}  // namespace bareglass::mcu
