#pragma once
// Consistent overhead byte stuffing: rewrites bytes so that zero does not occur, which leaves zero
// free to end a packet. S. Cheshire and M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM
// Transactions on Networking 7(2), 1999.

#include <cstddef>
#include <cstdint>

#include "bareglass/core/types.hpp"

namespace bareglass {

/// Most bytes by which `size` bytes can grow when encoded: one, and one more for each full 254.
constexpr std::size_t cobs_overhead(std::size_t size) { return size / 254 + 1; }

enum class CobsStatus : std::uint8_t {
  ok,
  output_full,  ///< `out` is too short; what it holds is of no use
  malformed,    ///< decoding only: a zero byte, or a block that reaches beyond the input
};

struct CobsResult {
  CobsStatus status = CobsStatus::ok;
  std::size_t size = 0;  ///< bytes written; meaningful with ok only
};

/// Encodes `in` into `out`, without the zero that ends a packet. Needs at most
/// in.size + cobs_overhead(in.size) bytes. A full last block is not followed by an empty one.
/// `in` may be the tail of `out`, from offset cobs_overhead(in.size) or later: a packet needs one
/// buffer, not two. Returns ok or output_full.
CobsResult cobs_encode(View<std::uint8_t> out, View<const std::uint8_t> in);

/// Decodes one packet, given without its ending zero. Needs at most in.size bytes; `out` and `in`
/// may start at the same byte. Returns ok, output_full or malformed. No bytes decode to no bytes.
CobsResult cobs_decode(View<std::uint8_t> out, View<const std::uint8_t> in);

}  // namespace bareglass
