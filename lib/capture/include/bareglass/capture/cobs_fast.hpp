#pragma once
// COBS decoding for hosts: the core's result (bareglass/core/cobs.hpp), copying runs at once.

#include <cstddef>
#include <cstdint>
#include <optional>

namespace bareglass::host {

/// Bytes beyond its end that cobs_decode_fast may read from `in` and write to `out`: short runs are
/// copied as 16 bytes, because a copy of fixed size costs no branch.
constexpr std::size_t kCobsSlack = 16;

/// Decodes one packet, given without its ending zero and known to hold no zero (nothing else is
/// found out by this function). `out` needs size + kCobsSlack bytes, and `in` must be readable for
/// kCobsSlack bytes beyond `size`. Gives the decoded size, or nothing if a block reaches beyond the
/// input. The two must not overlap.
std::optional<std::size_t> cobs_decode_fast(std::uint8_t* out, const std::uint8_t* in,
                                            std::size_t size);

}  // namespace bareglass::host
