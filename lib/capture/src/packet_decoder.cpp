#include "packet_decoder.hpp"

#include "bareglass/capture/cobs_fast.hpp"
#include "bareglass/capture/crc32c_fast.hpp"
#include "bareglass/core/crc32c.hpp"

namespace bareglass::host {

namespace {

constexpr std::size_t kCrcBytes = 4;

}  // namespace

View<const std::uint8_t> PacketDecoder::decode(const std::uint8_t* bytes, std::size_t size) {
  if (decoded_.size() < size + kCobsSlack) decoded_.resize(size + kCobsSlack);
  const auto decoded = cobs_decode_fast(decoded_.data(), bytes, size);
  if (!decoded || *decoded <= kCrcBytes) return {};
  if (crc32c_fast(kCrc32cStart, decoded_.data(), *decoded) != kCrc32cResidue) return {};
  return {decoded_.data(), *decoded - kCrcBytes};
}

View<const std::uint8_t> PacketDecoder::decode_front(std::size_t& size_used,
                                                     const std::uint8_t* bytes, std::size_t size) {
  if (decoded_.size() < size + kCobsSlack) decoded_.resize(size + kCobsSlack);
  std::uint32_t crc = kCrc32cStart;
  std::size_t count = 0;
  for (std::size_t at = 0; at < size;) {
    const std::size_t code = bytes[at++];
    if (code == 0 || code - 1 > size - at) return {};
    const std::size_t begin = count;
    for (std::size_t i = 1; i < code; ++i) decoded_[count++] = bytes[at++];
    crc = crc32c_fast(crc, decoded_.data() + begin, count - begin);
    // A packet's blocks end where its zero should be; there the residue shows.
    if (crc == kCrc32cResidue && count > kCrcBytes && at < size) {
      size_used = at;
      return {decoded_.data(), count - kCrcBytes};
    }
    if (code == 255) continue;
    decoded_[count] = 0;
    crc = crc32c_fast(crc, decoded_.data() + count++, 1);
  }
  return {};
}

}  // namespace bareglass::host
