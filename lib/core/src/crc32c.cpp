#include "bareglass/core/crc32c.hpp"

namespace bareglass {

namespace {

constexpr std::uint32_t kReflectedPolynomial = 0x82F63B78u;

struct NibbleTable {
  std::uint32_t entry[16];
};

constexpr NibbleTable make_table() {
  NibbleTable table{};
  for (std::uint32_t i = 0; i < 16; ++i) {
    std::uint32_t crc = i;
    for (int bit = 0; bit < 4; ++bit)
      crc = (crc & 1u) != 0 ? (crc >> 1) ^ kReflectedPolynomial : crc >> 1;
    table.entry[i] = crc;
  }
  return table;
}

constexpr NibbleTable kTable = make_table();

}  // namespace

std::uint32_t crc32c(std::uint32_t so_far, View<const std::uint8_t> bytes) {
  std::uint32_t crc = ~so_far;
  for (const std::uint8_t byte : bytes) {
    crc ^= byte;
    crc = (crc >> 4) ^ kTable.entry[crc & 15u];
    crc = (crc >> 4) ^ kTable.entry[crc & 15u];
  }
  return ~crc;
}

}  // namespace bareglass
