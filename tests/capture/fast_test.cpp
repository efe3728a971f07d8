// The host's fast CRC and COBS against the core's plain ones.

#include <gtest/gtest.h>

#include <random>
#include <vector>

#include "bareglass/capture/cobs_fast.hpp"
#include "bareglass/capture/crc32c_fast.hpp"
#include "bareglass/core/cobs.hpp"
#include "bareglass/core/crc32c.hpp"

namespace bareglass::host {
namespace {

using Bytes = std::vector<std::uint8_t>;
constexpr unsigned kSeed = 1999;

TEST(FastCrc32cOfRandomBytes, EqualsTheCoresAtEveryLengthAndStart) {
  SCOPED_TRACE(kSeed);
  std::mt19937 random(kSeed);
  Bytes bytes(300);
  for (auto& byte : bytes) byte = static_cast<std::uint8_t>(random());
  for (std::size_t start = 0; start < 9; ++start)
    for (std::size_t size = 0; size + start <= bytes.size(); ++size) {
      const auto so_far = static_cast<std::uint32_t>(random());
      const std::uint32_t plain = crc32c(so_far, {bytes.data() + start, size});
      ASSERT_EQ(crc32c_fast(so_far, bytes.data() + start, size), plain) << start << ' ' << size;
      ASSERT_EQ(crc32c_sliced(so_far, bytes.data() + start, size), plain) << start << ' ' << size;
    }
}

/// Decodes exactly `stuffed`, held with the slack that the function may read.
std::optional<Bytes> fast_decoded(const Bytes& stuffed) {
  Bytes in = stuffed;
  in.resize(in.size() + kCobsSlack, 0xEE);
  Bytes out(stuffed.size() + kCobsSlack, 0xDD);
  const auto size = cobs_decode_fast(out.data(), in.data(), stuffed.size());
  if (!size) return std::nullopt;
  out.resize(*size);
  return out;
}

TEST(FastCobsOfRandomPackets, EqualsTheCoresAlsoWhenCutShort) {
  SCOPED_TRACE(kSeed);
  std::mt19937 random(kSeed);
  for (int round = 0; round < 3000; ++round) {
    const std::size_t zero_in = 1u + random() % (round % 2 == 0 ? 4u : 1000u);
    Bytes plain(random() % 700);
    for (auto& byte : plain)
      byte = static_cast<std::uint8_t>(random() % zero_in == 0 ? 0 : random());
    Bytes stuffed(plain.size() + cobs_overhead(plain.size()));
    stuffed.resize(
        cobs_encode({stuffed.data(), stuffed.size()}, {plain.data(), plain.size()}).size);
    ASSERT_EQ(fast_decoded(stuffed), plain) << "round " << round;

    stuffed.resize(random() % (stuffed.size() + 1));
    Bytes expected(stuffed.size());
    const CobsResult result =
        cobs_decode({expected.data(), expected.size()}, {stuffed.data(), stuffed.size()});
    expected.resize(result.size);
    const auto got = fast_decoded(stuffed);
    ASSERT_EQ(got.has_value(), result.status == CobsStatus::ok) << "round " << round;
    if (got) {
      ASSERT_EQ(*got, expected) << "round " << round;
    }
  }
}

}  // namespace
}  // namespace bareglass::host
