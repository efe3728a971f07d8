#include "bareglass/capture/crc32c_fast.hpp"

#include <array>
#include <cstring>

#if defined(__x86_64__)
#include <nmmintrin.h>
#endif

namespace bareglass::host {

namespace {

using Tables = std::array<std::array<std::uint32_t, 256>, 8>;

constexpr Tables make_tables() {
  Tables t{};
  for (std::uint32_t i = 0; i < 256; ++i) {
    std::uint32_t crc = i;
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1u) != 0 ? (crc >> 1) ^ 0x82F63B78u : crc >> 1;
    t[0][i] = crc;
  }
  for (std::size_t k = 1; k < 8; ++k)
    for (std::size_t i = 0; i < 256; ++i) t[k][i] = (t[k - 1][i] >> 8) ^ t[0][t[k - 1][i] & 255u];
  return t;
}

constexpr Tables kTables = make_tables();

/// Four bytes, least significant first, whatever the host's byte order.
std::uint32_t word_at(const std::uint8_t* p) {
  return p[0] | static_cast<std::uint32_t>(p[1]) << 8 | static_cast<std::uint32_t>(p[2]) << 16 |
         static_cast<std::uint32_t>(p[3]) << 24;
}

#if defined(__x86_64__)
__attribute__((target("sse4.2"))) std::uint32_t crc32c_instruction(std::uint32_t so_far,
                                                                   const std::uint8_t* bytes,
                                                                   std::size_t size) {
  std::uint64_t crc = ~so_far;
  for (; size >= 8; size -= 8, bytes += 8) {
    std::uint64_t word = 0;
    std::memcpy(&word, bytes, 8);
    crc = _mm_crc32_u64(crc, word);
  }
  auto narrow = static_cast<std::uint32_t>(crc);
  for (; size > 0; --size) narrow = _mm_crc32_u8(narrow, *bytes++);
  return ~narrow;
}
#endif

using CrcFunction = std::uint32_t (*)(std::uint32_t, const std::uint8_t*, std::size_t);

CrcFunction best_here() {
#if defined(__x86_64__)
  if (__builtin_cpu_supports("sse4.2")) return crc32c_instruction;
#endif
  return crc32c_sliced;
}

}  // namespace

std::uint32_t crc32c_sliced(std::uint32_t so_far, const std::uint8_t* bytes, std::size_t size) {
  std::uint32_t crc = ~so_far;
  for (; size >= 8; size -= 8, bytes += 8) {
    const std::uint32_t low = crc ^ word_at(bytes);
    const std::uint32_t high = word_at(bytes + 4);
    crc = kTables[7][low & 255u] ^ kTables[6][low >> 8 & 255u] ^ kTables[5][low >> 16 & 255u] ^
          kTables[4][low >> 24] ^ kTables[3][high & 255u] ^ kTables[2][high >> 8 & 255u] ^
          kTables[1][high >> 16 & 255u] ^ kTables[0][high >> 24];
  }
  for (; size > 0; --size) crc = (crc >> 8) ^ kTables[0][(crc ^ *bytes++) & 255u];
  return ~crc;
}

std::uint32_t crc32c_fast(std::uint32_t so_far, const std::uint8_t* bytes, std::size_t size) {
  static const CrcFunction best = best_here();
  return best(so_far, bytes, size);
}

}  // namespace bareglass::host
