#pragma once
// Are these bytes text?

#include <cstddef>
#include <cstdint>

namespace bareglass::plain {

/// True for well-formed UTF-8 (RFC 3629): no overlong forms, surrogates or values above U+10FFFF.
bool is_utf8(const std::uint8_t* bytes, std::size_t size);

}  // namespace bareglass::plain
