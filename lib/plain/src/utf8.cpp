#include "bareglass/plain/utf8.hpp"

namespace bareglass::plain {

namespace {

/// Continuation bytes after a first byte, and the range of the second byte (RFC 3629, section 4).
struct Utf8Form {
  int more;
  std::uint8_t second_least, second_most;
};

Utf8Form form_of(std::uint8_t first) {
  if (first < 0x80) return {0, 0, 0};
  if (first < 0xC2 || first > 0xF4) return {-1, 0, 0};
  if (first < 0xE0) return {1, 0x80, 0xBF};
  if (first < 0xF0)
    return {2, static_cast<std::uint8_t>(first == 0xE0 ? 0xA0 : 0x80),
            static_cast<std::uint8_t>(first == 0xED ? 0x9F : 0xBF)};
  return {3, static_cast<std::uint8_t>(first == 0xF0 ? 0x90 : 0x80),
          static_cast<std::uint8_t>(first == 0xF4 ? 0x8F : 0xBF)};
}

}  // namespace

bool is_utf8(const std::uint8_t* bytes, std::size_t size) {
  for (std::size_t i = 0; i < size;) {
    const Utf8Form form = form_of(bytes[i++]);
    if (form.more < 0 || static_cast<std::size_t>(form.more) > size - i) return false;
    for (int k = 0; k < form.more; ++k, ++i) {
      const std::uint8_t least = k == 0 ? form.second_least : 0x80;
      const std::uint8_t most = k == 0 ? form.second_most : 0xBF;
      if (bytes[i] < least || bytes[i] > most) return false;
    }
  }
  return true;
}

}  // namespace bareglass::plain
