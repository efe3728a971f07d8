#include "bareglass/capture/cobs_fast.hpp"

#include <cstring>

namespace bareglass::host {

std::optional<std::size_t> cobs_decode_fast(std::uint8_t* out, const std::uint8_t* in,
                                            std::size_t size) {
  std::uint8_t* to = out;
  std::size_t at = 0;
  while (at < size) {
    const unsigned code = in[at++];
    const std::size_t run = code - 1u;
    if (run > size - at) return std::nullopt;
    std::memcpy(to, in + at, kCobsSlack);
    if (run > kCobsSlack) std::memcpy(to + kCobsSlack, in + at + kCobsSlack, run - kCobsSlack);
    at += run;
    to += run;
    // The zero is always written and counted only where the block stands for one.
    *to = 0;
    to += (code != 255u && at < size) ? 1 : 0;
  }
  return static_cast<std::size_t>(to - out);
}

}  // namespace bareglass::host
