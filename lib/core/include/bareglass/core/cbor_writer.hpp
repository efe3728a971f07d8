#pragma once
// The part of CBOR (RFC 8949) that packets need, written into a caller's buffer: shortest heads,
// definite lengths (RFC 8949 section 4.2.1, core deterministic encoding). The order of map keys is
// the caller's.

#include <cstddef>
#include <cstdint>

#include "bareglass/core/types.hpp"

namespace bareglass {

/// Appends items one after another. Once something does not fit, nothing more is written and
/// overflowed() stays true, so one check at the end is enough.
class CborWriter {
 public:
  explicit CborWriter(View<std::uint8_t> out) : out_(out) {}

  void unsigned_integer(std::uint64_t value) { head(0, value); }
  void integer(std::int64_t value);
  void bytes(View<const std::uint8_t> value);
  /// `value` must be UTF-8; it is not checked.
  void text(View<const char> value);
  void boolean(bool value) { append(value ? 0xF5 : 0xF4); }
  /// The next `count` items are the elements.
  void array(std::uint64_t count) { head(4, count); }
  /// The next 2 * `pairs` items are key, value, key, value ...
  void map(std::uint64_t pairs) { head(5, pairs); }
  /// The next item is the tagged one.
  void tag(std::uint64_t number) { head(6, number); }
  /// RFC 8746 typed arrays of 16-bit numbers, least significant byte first, with their tag.
  void typed_array(View<const std::uint16_t> values);
  void typed_array(View<const std::int16_t> values);

  /// Bytes written so far; after an overflow, those that did fit.
  std::size_t size() const { return size_; }
  bool overflowed() const { return overflowed_; }

 private:
  void head(unsigned major, std::uint64_t value);
  void append(std::uint8_t byte);
  /// `bits` of one loop for both signs.
  void append_samples(std::uint64_t tag_number, View<const std::uint16_t> bits);

  View<std::uint8_t> out_;
  std::size_t size_ = 0;
  bool overflowed_ = false;
};

/// RFC 8746, section 2.1: tag 0b010_f_s_e_ll, here integer (f 0), little endian (e 1), 16 bits
/// (ll 01); s is 0 for unsigned, 1 for signed.
constexpr std::uint8_t kTagUint16LittleEndian = 69;
constexpr std::uint8_t kTagSint16LittleEndian = 77;

}  // namespace bareglass
