#include "bareglass/core/crc32c.hpp"

#include <gtest/gtest.h>

#include <cstdint>
#include <random>
#include <string>
#include <vector>

namespace bareglass {
namespace {

using Bytes = std::vector<std::uint8_t>;

std::uint32_t crc_of(const Bytes& bytes) {
  return crc32c(kCrc32cStart, {bytes.data(), bytes.size()});
}

/// Straight from the definition: one bit at a time, unreflected polynomial, reflected by hand.
std::uint32_t crc_by_definition(const Bytes& bytes) {
  std::uint32_t crc = 0xFFFFFFFFu;
  for (const std::uint8_t byte : bytes)
    for (unsigned bit = 0; bit < 8; ++bit) {
      const bool in = (byte >> bit & 1u) != 0;
      const bool out = (crc >> 31) != 0;
      crc = (crc << 1) ^ (in != out ? 0x1EDC6F41u : 0u);
    }
  std::uint32_t reflected = 0;
  for (unsigned bit = 0; bit < 32; ++bit) reflected |= (crc >> bit & 1u) << (31 - bit);
  return ~reflected;
}

TEST(Crc32cOfPublishedMessages, CheckValueOfTheNineDigits) {
  // "Check" of CRC-32/ISCSI in the catalogue of parametrised CRC algorithms (G. Cook).
  const std::string digits = "123456789";
  EXPECT_EQ(crc_of(Bytes(digits.begin(), digits.end())), 0xE3069283u);
}

TEST(Crc32cOfPublishedMessages, ExamplesOfRfc3720) {
  // RFC 3720, appendix B.4, CRC examples; the RFC prints the bytes as sent, lowest first. Written
  // from memory, confirmed by the bitwise definition above.
  Bytes rising, falling;
  for (std::uint8_t i = 0; i < 32; ++i) {
    rising.push_back(i);
    falling.push_back(static_cast<std::uint8_t>(31 - i));
  }
  const struct {
    Bytes message;
    std::uint32_t crc;
  } examples[] = {{Bytes(32, 0x00), 0x8A9136AAu},
                  {Bytes(32, 0xFF), 0x62A8AB43u},
                  {rising, 0x46DD794Eu},
                  {falling, 0x113FDB5Cu}};
  for (const auto& example : examples) {
    EXPECT_EQ(crc_of(example.message), example.crc);
    EXPECT_EQ(crc_by_definition(example.message), example.crc);
  }
}

TEST(Crc32cOfRandomMessages, AgreesWithTheDefinitionAndMayBeFedInPieces) {
  const unsigned seed = 20261125;
  SCOPED_TRACE(seed);
  std::mt19937 random(seed);
  for (std::size_t size = 0; size < 200; ++size) {
    Bytes bytes(size);
    for (auto& byte : bytes) byte = static_cast<std::uint8_t>(random());
    const std::uint32_t whole = crc_by_definition(bytes);
    EXPECT_EQ(crc_of(bytes), whole);
    const std::size_t cut = size == 0 ? 0 : random() % size;
    const std::uint32_t first = crc32c(kCrc32cStart, {bytes.data(), cut});
    EXPECT_EQ(crc32c(first, {bytes.data() + cut, size - cut}), whole) << "cut at " << cut;
  }
}

TEST(Crc32cOfAMessageAndItsCrc, IsTheResidue) {
  Bytes bytes = {1, 2, 3, 4, 5};
  const std::uint32_t crc = crc_of(bytes);
  for (unsigned i = 0; i < 4; ++i) bytes.push_back(static_cast<std::uint8_t>(crc >> (8 * i)));
  EXPECT_EQ(crc_of(bytes), kCrc32cResidue);
  bytes[2] ^= 1;
  EXPECT_NE(crc_of(bytes), kCrc32cResidue);
}

}  // namespace
}  // namespace bareglass
