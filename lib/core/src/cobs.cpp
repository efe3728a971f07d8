#include "bareglass/core/cobs.hpp"

namespace bareglass {

namespace {

/// A block of this code holds 254 bytes and stands for no zero after them.
constexpr std::uint8_t kFullBlock = 255;

}  // namespace

CobsResult cobs_encode(View<std::uint8_t> out, View<const std::uint8_t> in) {
  if (out.size == 0) return {CobsStatus::output_full, 0};
  std::size_t block = 0;  // where the open block's code goes
  std::size_t at = 1;
  std::uint8_t code = 1;
  for (std::size_t i = 0; i < in.size; ++i) {
    // Opening the next block waits for the byte that belongs into it, so that a full last block is
    // not followed by an empty one.
    if (code == kFullBlock) {
      if (at >= out.size) return {CobsStatus::output_full, 0};
      out[block] = code;
      block = at++;
      code = 1;
    }
    if (at >= out.size) return {CobsStatus::output_full, 0};
    // Read before the place is written: the two may coincide when encoding within one buffer.
    const std::uint8_t byte = in[i];
    if (byte == 0) {
      out[block] = code;
      block = at++;
      code = 1;
    } else {
      out[at++] = byte;
      ++code;
    }
  }
  out[block] = code;
  return {CobsStatus::ok, at};
}

CobsResult cobs_decode(View<std::uint8_t> out, View<const std::uint8_t> in) {
  std::size_t size = 0;
  std::size_t at = 0;
  while (at < in.size) {
    const std::uint8_t code = in[at++];
    const std::size_t run = code - 1u;
    if (code == 0 || run > in.size - at) return {CobsStatus::malformed, 0};
    for (std::size_t i = 0; i < run; ++i) {
      const std::uint8_t byte = in[at++];
      if (byte == 0) return {CobsStatus::malformed, 0};
      if (size == out.size) return {CobsStatus::output_full, 0};
      out[size++] = byte;
    }
    if (code != kFullBlock && at < in.size) {
      if (size == out.size) return {CobsStatus::output_full, 0};
      out[size++] = 0;
    }
  }
  return {CobsStatus::ok, size};
}

}  // namespace bareglass
