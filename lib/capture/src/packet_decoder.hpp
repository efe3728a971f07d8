#pragma once
// From the bytes between two zeros to a checked body.

#include <cstddef>
#include <cstdint>
#include <vector>

#include "bareglass/core/types.hpp"

namespace bareglass::host {

class PacketDecoder {
 public:
  /// The body of one packet given without its zero, if its CRC is right; otherwise an empty view.
  /// `bytes` must be readable for kCobsSlack bytes beyond `size`. The view lasts until the next
  /// call.
  View<const std::uint8_t> decode(const std::uint8_t* bytes, std::size_t size);

  /// For bytes that did not decode: a packet at their front whose ending zero was damaged, so that
  /// it runs into the next one. The damaged byte is then at bytes[size_used]. Empty if there is
  /// none.
  View<const std::uint8_t> decode_front(std::size_t& size_used, const std::uint8_t* bytes,
                                        std::size_t size);

 private:
  std::vector<std::uint8_t> decoded_;
};

}  // namespace bareglass::host
