#pragma once
// From the body of a packet to a record.

#include <cstddef>
#include <cstdint>

#include "bareglass/capture/records.hpp"

namespace bareglass::host {

enum class BodyStatus {
  ok,
  unknown_kind,  ///< well-formed, of a kind this version doesn't know; `out` untouched
  malformed,     ///< `expected` says what should have been there; `out` may be half filled
};

struct BodyResult {
  BodyStatus status = BodyStatus::ok;
  unsigned unknown_keys = 0;       ///< skipped; 0 unless ok
  const char* expected = nullptr;  ///< set if malformed
};

/// Fills `out` from one body whose CRC has been found right. Buffers of `out` are reused.
BodyResult parse_body(Record& out, const std::uint8_t* body, std::size_t size);

}  // namespace bareglass::host
