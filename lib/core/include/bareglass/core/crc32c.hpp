#pragma once
// CRC-32C (Castagnoli), the check at the end of every packet: polynomial 0x1EDC6F41, reflected in
// and out, start and final value inverted, as in RFC 3720 (iSCSI), section 12.1.

#include <cstdint>

#include "bareglass/core/types.hpp"

namespace bareglass {

/// The CRC of no bytes at all: what a running CRC starts from.
constexpr std::uint32_t kCrc32cStart = 0;

/// What crc32c() gives for any bytes followed by their own CRC, least significant byte first.
constexpr std::uint32_t kCrc32cResidue = 0x48674BC7u;

/// CRC of the bytes that gave `so_far` followed by `bytes`, so that a message may be fed in pieces:
/// crc32c(crc32c(kCrc32cStart, a), b) is the CRC of a then b. Works with a 16-entry table, two
/// steps a byte: 64 bytes of flash instead of 1 KiB.
std::uint32_t crc32c(std::uint32_t so_far, View<const std::uint8_t> bytes);

}  // namespace bareglass
