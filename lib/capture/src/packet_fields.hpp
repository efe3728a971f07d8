#pragma once
// The map of one packet, its values by key: what parse_body builds records from.

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>

#include "bareglass/core/packet_format.hpp"
#include "cbor_cursor.hpp"

namespace bareglass::host {

/// A set of keys, one bit each.
using KeySet = std::uint32_t;
static_assert(kPacketKeys <= 32);

constexpr KeySet key_bit(PacketKey key) { return KeySet{1} << static_cast<unsigned>(key); }

template <typename... Keys>
constexpr KeySet key_set(Keys... keys) {
  return (KeySet{0} | ... | key_bit(keys));
}

/// One pass over the map. Getters report the first thing they find wrong through wrong().
class PacketFields {
 public:
  /// False if the body is not one map with unsigned keys, each once.
  bool parse(const std::uint8_t* body, std::size_t size);

  bool has(PacketKey key) const { return (present_ & key_bit(key)) != 0; }
  /// Keys not in `used`, known or not.
  unsigned count_unused(KeySet used) const;

  /// Values of present keys; `least`..`most` is the range. On a miss, wrong() is set and 0
  /// returned.
  std::uint64_t number(PacketKey key, std::uint64_t most, const char* expected);
  std::int64_t signed_number(PacketKey key, std::int64_t least, std::int64_t most,
                             const char* expected);
  bool flag(PacketKey key, const char* expected);
  /// Checks length and UTF-8.
  void text(std::string& out, PacketKey key, const char* expected);
  /// Bytes of a typed array with that tag; nullptr on a miss.
  const std::uint8_t* typed_array(PacketKey key, unsigned tag, std::size_t bytes,
                                  const char* expected);
  /// Cursor over the elements of an array, `count` of them.
  CborCursor array(PacketKey key, std::uint64_t& count, const char* expected);

  const char* wrong() const { return wrong_; }
  void set_wrong(const char* expected) {
    if (wrong_ == nullptr) wrong_ = expected;
  }

 private:
  struct Field {
    CborHead head;
    unsigned tag;  ///< 0: none
    const std::uint8_t* content;
    std::size_t size;
  };
  bool parse_value(CborCursor& at, Field& field);
  const Field* field(PacketKey key, CborType type, const char* expected);

  std::array<Field, kPacketKeys> fields_;
  KeySet present_ = 0;
  unsigned unknown_ = 0;
  const char* wrong_ = nullptr;
};

}  // namespace bareglass::host
