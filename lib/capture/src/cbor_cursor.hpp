#pragma once
// Walks CBOR (RFC 8949) items in memory: definite lengths only, no recursion, never beyond the end.

#include <cstddef>
#include <cstdint>

namespace bareglass::host {

/// Major types as numbered by RFC 8949, section 3.1.
enum class CborType : std::uint8_t {
  unsigned_integer = 0,
  negative_integer = 1,  ///< stands for -1 - value
  bytes = 2,
  text = 3,
  array = 4,
  map = 5,
  tag = 6,
  simple = 7,  ///< value 20 false, 21 true; floats by their bits
};

struct CborHead {
  CborType type = CborType::simple;
  std::uint64_t value = 0;  ///< number, length in bytes, elements, pairs, tag number
};

class CborCursor {
 public:
  CborCursor(const std::uint8_t* bytes, std::size_t size) : at_(bytes), end_(bytes + size) {}

  std::size_t left() const { return static_cast<std::size_t>(end_ - at_); }
  const std::uint8_t* at() const { return at_; }

  /// Reads an item's head. False if it is cut off, uses a reserved or indefinite length, or counts
  /// more bytes or elements than are left.
  bool head(CborHead& out);
  /// Steps over the `count` bytes of a string whose head was just read.
  void step(std::uint64_t count) { at_ += count; }
  /// Steps over what follows `head`, however deep. False as for head().
  bool skip_content(const CborHead& head);

 private:
  const std::uint8_t* at_;
  const std::uint8_t* end_;
};

}  // namespace bareglass::host
