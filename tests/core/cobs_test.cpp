#include "bareglass/core/cobs.hpp"

#include <gtest/gtest.h>

#include <random>
#include <vector>

namespace bareglass {
namespace {

using Bytes = std::vector<std::uint8_t>;

constexpr std::uint8_t kCanary = 0xA5;

Bytes encoded(const Bytes& in) {
  Bytes out(in.size() + cobs_overhead(in.size()));
  const CobsResult result = cobs_encode({out.data(), out.size()}, {in.data(), in.size()});
  EXPECT_EQ(result.status, CobsStatus::ok);
  out.resize(result.size);
  return out;
}

CobsResult decode_into(Bytes& out, const Bytes& in) {
  const CobsResult result = cobs_decode({out.data(), out.size()}, {in.data(), in.size()});
  if (result.status == CobsStatus::ok) out.resize(result.size);
  return result;
}

Bytes decoded(const Bytes& in) {
  Bytes out(in.size());
  EXPECT_EQ(decode_into(out, in).status, CobsStatus::ok);
  return out;
}

Bytes run(unsigned first, unsigned last) {
  Bytes bytes;
  for (unsigned v = first; v <= last; ++v) bytes.push_back(static_cast<std::uint8_t>(v));
  return bytes;
}

Bytes operator+(Bytes a, const Bytes& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

TEST(CobsOfWorkedExamples, TheHeaderInThePaper) {
  // Cheshire and Baker 1999, the example packet of the section on the algorithm (from memory).
  const Bytes plain = {0x45, 0x00, 0x00, 0x2C, 0x4C, 0x79, 0x00, 0x00, 0x40, 0x06, 0x4F, 0x37};
  const Bytes stuffed = {0x02, 0x45, 0x01, 0x04, 0x2C, 0x4C, 0x79,
                         0x01, 0x05, 0x40, 0x06, 0x4F, 0x37};
  EXPECT_EQ(encoded(plain), stuffed);
  EXPECT_EQ(decoded(stuffed), plain);
}

TEST(CobsOfWorkedExamples, ZerosRunsAndFullBlocks) {
  // Examples in common circulation for the full-block edge, from memory; each follows from the
  // paper's table of codes by hand.
  const struct {
    Bytes plain, stuffed;
  } examples[] = {
      {{}, {0x01}},
      {{0x00}, {0x01, 0x01}},
      {{0x00, 0x00}, {0x01, 0x01, 0x01}},
      {{0x00, 0x11, 0x00}, {0x01, 0x02, 0x11, 0x01}},
      {{0x11, 0x22, 0x00, 0x33}, {0x03, 0x11, 0x22, 0x02, 0x33}},
      {{0x11, 0x22, 0x33, 0x44}, {0x05, 0x11, 0x22, 0x33, 0x44}},
      {{0x11, 0x00, 0x00, 0x00}, {0x02, 0x11, 0x01, 0x01, 0x01}},
      {run(1, 254), Bytes{0xFF} + run(1, 254)},
      {Bytes{0} + run(1, 254), Bytes{0x01, 0xFF} + run(1, 254)},
      {run(1, 255), Bytes{0xFF} + run(1, 254) + Bytes{0x02, 0xFF}},
      {run(2, 255) + Bytes{0}, Bytes{0xFF} + run(2, 255) + Bytes{0x01, 0x01}},
      {run(3, 255) + Bytes{0, 1}, Bytes{0xFE} + run(3, 255) + Bytes{0x02, 0x01}},
  };
  for (const auto& example : examples) {
    EXPECT_EQ(encoded(example.plain), example.stuffed);
    EXPECT_EQ(decoded(example.stuffed), example.plain);
  }
}

TEST(CobsOfWorkedExamples, AnEmptyBlockAfterAFullLastOneIsReadToo) {
  // The paper's own encoder ends a full last block with an empty one.
  EXPECT_EQ(decoded(Bytes{0xFF} + run(1, 254) + Bytes{0x01}), run(1, 254));
}

class CobsOfRandomBytes : public testing::TestWithParam<unsigned> {};

TEST_P(CobsOfRandomBytes, RoundTripsWithoutZerosAlsoWithinOneBuffer) {
  const unsigned zero_in = GetParam();
  const unsigned seed = 7 + zero_in;
  SCOPED_TRACE(seed);
  std::mt19937 random(seed);
  for (std::size_t size = 0; size < 1100; size += size < 20 ? 1 : 53) {
    Bytes plain(size);
    for (auto& byte : plain)
      byte = static_cast<std::uint8_t>(random() % zero_in == 0 ? 0 : random());
    const Bytes stuffed = encoded(plain);
    for (const std::uint8_t byte : stuffed) ASSERT_NE(byte, 0);
    ASSERT_EQ(decoded(stuffed), plain);

    const std::size_t front = cobs_overhead(size);
    Bytes shared(front, kCanary);
    shared = shared + plain;
    const CobsResult result =
        cobs_encode({shared.data(), shared.size()}, {shared.data() + front, size});
    ASSERT_EQ(result.status, CobsStatus::ok);
    shared.resize(result.size);
    ASSERT_EQ(shared, stuffed);
  }
}

INSTANTIATE_TEST_SUITE_P(ZeroOneByteIn, CobsOfRandomBytes, testing::Values(1u, 2u, 10u, 100000u),
                         [](const auto& one) { return "OneIn" + std::to_string(one.param); });

TEST(CobsIntoAShortBuffer, SaysSoAndStaysInside) {
  const Bytes plain = Bytes{1, 0, 2} + run(1, 255) + Bytes{0};
  const Bytes stuffed = encoded(plain);
  for (std::size_t room = 0; room < stuffed.size(); ++room) {
    Bytes out(room + 1, kCanary);
    EXPECT_EQ(cobs_encode({out.data(), room}, {plain.data(), plain.size()}).status,
              CobsStatus::output_full)
        << room;
    EXPECT_EQ(out[room], kCanary);
  }
  for (std::size_t room = 0; room < plain.size(); ++room) {
    Bytes out(room + 1, kCanary);
    EXPECT_EQ(cobs_decode({out.data(), room}, {stuffed.data(), stuffed.size()}).status,
              CobsStatus::output_full)
        << room;
    EXPECT_EQ(out[room], kCanary);
  }
}

TEST(CobsOfDamagedBytes, ZerosAndBlocksBeyondTheEndAreMalformed) {
  for (const Bytes& bad : {Bytes{0}, Bytes{0x02}, Bytes{0x03, 0x11}, Bytes{0x03, 0x11, 0x00},
                           Bytes{0x01, 0x00}, Bytes{0xFF, 0x01}}) {
    Bytes out(300);
    EXPECT_EQ(decode_into(out, bad).status, CobsStatus::malformed);
  }
}

}  // namespace
}  // namespace bareglass
