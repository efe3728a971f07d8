#include "bareglass/core/cbor_writer.hpp"

#include <gtest/gtest.h>

#include <functional>
#include <string>
#include <vector>

namespace bareglass {
namespace {

using Write = std::function<void(CborWriter&)>;

std::string hex_of(const Write& write) {
  std::uint8_t buffer[64];
  CborWriter writer({buffer, sizeof buffer});
  write(writer);
  EXPECT_FALSE(writer.overflowed());
  std::string hex;
  for (std::size_t i = 0; i < writer.size(); ++i) {
    constexpr const char* kDigits = "0123456789abcdef";
    hex += kDigits[buffer[i] >> 4];
    hex += kDigits[buffer[i] & 15];
  }
  return hex;
}

void put_text(CborWriter& writer, const std::string& text) {
  writer.text({text.data(), text.size()});
}

TEST(CborOfRfc8949AppendixA, UnsignedIntegers) {
  const struct {
    std::uint64_t value;
    const char* hex;
  } examples[] = {{0, "00"},
                  {1, "01"},
                  {10, "0a"},
                  {23, "17"},
                  {24, "1818"},
                  {25, "1819"},
                  {100, "1864"},
                  {1000, "1903e8"},
                  {1000000, "1a000f4240"},
                  {1000000000000, "1b000000e8d4a51000"},
                  {18446744073709551615u, "1bffffffffffffffff"}};
  for (const auto& example : examples)
    EXPECT_EQ(hex_of([&](CborWriter& w) { w.unsigned_integer(example.value); }), example.hex);
}

TEST(CborOfRfc8949AppendixA, NegativeIntegers) {
  const struct {
    std::int64_t value;
    const char* hex;
  } examples[] = {{-1, "20"},        {-10, "29"}, {-100, "3863"},
                  {-1000, "3903e7"}, {0, "00"},   {1000, "1903e8"}};
  for (const auto& example : examples)
    EXPECT_EQ(hex_of([&](CborWriter& w) { w.integer(example.value); }), example.hex);
}

TEST(CborOfRfc8949AppendixA, BooleansBytesAndText) {
  EXPECT_EQ(hex_of([](CborWriter& w) { w.boolean(false); }), "f4");
  EXPECT_EQ(hex_of([](CborWriter& w) { w.boolean(true); }), "f5");
  EXPECT_EQ(hex_of([](CborWriter& w) { w.bytes({}); }), "40");
  const std::uint8_t bytes[] = {1, 2, 3, 4};
  EXPECT_EQ(hex_of([&](CborWriter& w) { w.bytes({bytes, 4}); }), "4401020304");
  EXPECT_EQ(hex_of([](CborWriter& w) { put_text(w, ""); }), "60");
  EXPECT_EQ(hex_of([](CborWriter& w) { put_text(w, "IETF"); }), "6449455446");
  EXPECT_EQ(hex_of([](CborWriter& w) { put_text(w, "\xC3\xBC"); }), "62c3bc");
}

TEST(CborOfRfc8949AppendixA, ArraysMapsAndTags) {
  EXPECT_EQ(hex_of([](CborWriter& w) { w.array(0); }), "80");
  EXPECT_EQ(hex_of([](CborWriter& w) {
              w.array(3);
              for (const unsigned v : {1u, 2u, 3u}) w.unsigned_integer(v);
            }),
            "83010203");
  EXPECT_EQ(hex_of([](CborWriter& w) {
              w.array(25);
              for (unsigned v = 1; v <= 25; ++v) w.unsigned_integer(v);
            }),
            "98190102030405060708090a0b0c0d0e0f101112131415161718181819");
  EXPECT_EQ(hex_of([](CborWriter& w) {
              w.map(2);
              for (const unsigned v : {1u, 2u, 3u, 4u}) w.unsigned_integer(v);
            }),
            "a201020304");
  EXPECT_EQ(hex_of([](CborWriter& w) {
              w.tag(1);
              w.unsigned_integer(1363896240);
            }),
            "c11a514b67b0");
}

TEST(CborOfTypedArrays, CarryTheTagsOfRfc8746AndLeastSignificantByteFirst) {
  // RFC 8746, section 2.1: 69 is uint16 little endian, 77 is sint16 little endian.
  const std::uint16_t counts[] = {1, 0x1234};
  EXPECT_EQ(hex_of([&](CborWriter& w) {
              w.typed_array(View<const std::uint16_t>{counts, 2});
            }),
            "d8454401003412");
  const std::int16_t differences[] = {-2, 300};
  EXPECT_EQ(hex_of([&](CborWriter& w) {
              w.typed_array(View<const std::int16_t>{differences, 2});
            }),
            "d84d44feff2c01");
}

TEST(CborWriterWithTooLittleRoom, OverflowsAndStaysInside) {
  const std::uint16_t counts[] = {1, 2, 3};
  const Write everything = [&](CborWriter& w) {
    w.map(2);
    w.unsigned_integer(1000000);
    w.typed_array(View<const std::uint16_t>{counts, 3});
    put_text(w, "abc");
    w.boolean(true);
  };
  const std::size_t needed = hex_of(everything).size() / 2;
  for (std::size_t room = 0; room <= needed; ++room) {
    std::vector<std::uint8_t> buffer(room + 1, 0xA5);
    CborWriter writer({buffer.data(), room});
    everything(writer);
    EXPECT_EQ(writer.overflowed(), room < needed) << room;
    EXPECT_LE(writer.size(), room);
    EXPECT_EQ(buffer[room], 0xA5);
  }
}

TEST(CborWriterAfterAnOverflow, StaysOverflowedWhenSomethingSmallerWouldFit) {
  std::uint8_t buffer[2];
  CborWriter writer({buffer, 2});
  writer.unsigned_integer(1000000);
  writer.boolean(true);
  EXPECT_TRUE(writer.overflowed());
}

}  // namespace
}  // namespace bareglass
