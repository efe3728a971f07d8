#include "bareglass/core/cbor_writer.hpp"

namespace bareglass {

void CborWriter::append(std::uint8_t byte) {
  if (overflowed_ || size_ == out_.size) {
    overflowed_ = true;
    return;
  }
  out_[size_++] = byte;
}

void CborWriter::head(unsigned major, std::uint64_t value) {
  const unsigned kind = major << 5;
  if (value < 24) {
    append(static_cast<std::uint8_t>(kind | static_cast<unsigned>(value)));
    return;
  }
  // Additional information 24..27: the value follows in 1, 2, 4 or 8 bytes, most significant first.
  unsigned width = value < 0x100u ? 0 : (value < 0x10000u ? 1 : (value <= 0xFFFFFFFFu ? 2 : 3));
  append(static_cast<std::uint8_t>(kind | (24 + width)));
  for (unsigned left = 1u << width; left > 0; --left)
    append(static_cast<std::uint8_t>(value >> (8 * (left - 1))));
}

void CborWriter::integer(std::int64_t value) {
  // Major type 1 holds -1 - value, which is the complement.
  if (value < 0)
    head(1, ~static_cast<std::uint64_t>(value));
  else
    head(0, static_cast<std::uint64_t>(value));
}

void CborWriter::bytes(View<const std::uint8_t> value) {
  head(2, value.size);
  for (const std::uint8_t byte : value) append(byte);
}

void CborWriter::text(View<const char> value) {
  head(3, value.size);
  for (const char c : value) append(static_cast<std::uint8_t>(c));
}

void CborWriter::append_samples(std::uint64_t tag_number, View<const std::uint16_t> bits) {
  tag(tag_number);
  head(2, 2 * static_cast<std::uint64_t>(bits.size));
  if (overflowed_ || (out_.size - size_) / 2 < bits.size) {
    overflowed_ = true;
    return;
  }
  // One check for all: this loop is most of what a frame costs a microcontroller.
  std::uint8_t* to = out_.data + size_;
  for (const unsigned value : bits) {
    *to++ = static_cast<std::uint8_t>(value & 255u);
    *to++ = static_cast<std::uint8_t>(value >> 8);
  }
  size_ += 2 * bits.size;
}

void CborWriter::typed_array(View<const std::uint16_t> values) {
  append_samples(kTagUint16LittleEndian, values);
}

void CborWriter::typed_array(View<const std::int16_t> values) {
  append_samples(kTagSint16LittleEndian,
                 {reinterpret_cast<const std::uint16_t*>(values.data), values.size});
}

}  // namespace bareglass
