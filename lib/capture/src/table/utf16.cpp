#include "table/utf16.hpp"

#include <algorithm>
#include <cstring>

namespace bareglass::host {

namespace {

constexpr std::uint32_t kReplacement = 0xFFFD;

void append_utf8(std::string& out, std::uint32_t c) {
  const auto byte = [&out](std::uint32_t value) { out += static_cast<char>(value); };
  if (c < 0x80) return byte(c);
  if (c < 0x800) {
    byte(0xC0 | c >> 6);
  } else {
    if (c < 0x10000) {
      byte(0xE0 | c >> 12);
    } else {
      byte(0xF0 | c >> 18);
      byte(0x80 | (c >> 12 & 0x3F));
    }
    byte(0x80 | (c >> 6 & 0x3F));
  }
  byte(0x80 | (c & 0x3F));
}

}  // namespace

std::optional<Utf16Order> utf16_order(const std::uint8_t* bytes, std::size_t size) {
  if (size >= 2 && bytes[0] == 0xFF && bytes[1] == 0xFE) return Utf16Order::little;
  if (size >= 2 && bytes[0] == 0xFE && bytes[1] == 0xFF) return Utf16Order::big;
  constexpr std::size_t kLook = 64;
  const std::size_t look = std::min(size, kLook) / 2 * 2;
  if (look < 16) return std::nullopt;
  std::size_t zeros[2] = {};
  for (std::size_t i = 0; i < look; ++i) zeros[i % 2] += bytes[i] == 0 ? 1 : 0;
  if (zeros[0] == 0 && zeros[1] == look / 2) return Utf16Order::little;
  if (zeros[1] == 0 && zeros[0] == look / 2) return Utf16Order::big;
  return std::nullopt;
}

std::uint32_t Utf16Source::unit_at(std::size_t byte) const {
  const std::uint8_t* b = beneath_->data() + byte;
  const std::uint32_t low = order_ == Utf16Order::little ? b[0] : b[1];
  const std::uint32_t high = order_ == Utf16Order::little ? b[1] : b[0];
  return high << 8 | low;
}

bool Utf16Source::take(std::uint32_t& code_point) {
  if (!beneath_->fill_to(2)) {
    beneath_->consume(beneath_->size());
    return false;
  }
  const std::uint32_t first = unit_at(0);
  code_point = first;
  std::size_t used = 2;
  if (first >= 0xD800 && first < 0xE000) {
    code_point = kReplacement;
    if (first < 0xDC00 && beneath_->fill_to(4)) {
      const std::uint32_t second = unit_at(2);
      if (second >= 0xDC00 && second < 0xE000) {
        code_point = 0x10000 + ((first - 0xD800) << 10) + (second - 0xDC00);
        used = 4;
      }
    }
  }
  beneath_->consume(used);
  return true;
}

std::size_t Utf16Source::read(std::uint8_t* to, std::size_t most) {
  std::uint32_t c = 0;
  while (waiting_.size() < most && take(c)) append_utf8(waiting_, c);
  const std::size_t size = std::min(most, waiting_.size());
  if (size > 0) std::memcpy(to, waiting_.data(), size);
  waiting_.erase(0, size);
  return size;
}

}  // namespace bareglass::host
