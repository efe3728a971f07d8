#pragma once
// CRC-32C for hosts: the core's result (bareglass/core/crc32c.hpp) at several bytes a step.

#include <cstddef>
#include <cstdint>

namespace bareglass::host {

/// As bareglass::crc32c. Uses the processor's CRC-32C instruction where there is one.
std::uint32_t crc32c_fast(std::uint32_t so_far, const std::uint8_t* bytes, std::size_t size);

/// The portable way crc32c_fast falls back to: eight tables, eight bytes a step (M. E. Kounavis and
/// F. L. Berry, "Novel Table Lookup-Based Algorithms for High-Performance CRC Generation", IEEE
/// Transactions on Computers 57(11), 2008).
std::uint32_t crc32c_sliced(std::uint32_t so_far, const std::uint8_t* bytes, std::size_t size);

}  // namespace bareglass::host
