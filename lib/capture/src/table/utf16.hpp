#pragma once
// Text in UTF-16, as some spreadsheets save it, turned to UTF-8.

#include <memory>
#include <optional>
#include <string>

#include "input_buffer.hpp"

namespace bareglass::host {

/// Byte order of UTF-16 text: by its mark, or because every second byte of its beginning is zero.
/// Nothing for other text.
enum class Utf16Order { little, big };
std::optional<Utf16Order> utf16_order(const std::uint8_t* bytes, std::size_t size);

/// UTF-8 of what `beneath` holds from now on. Units that make no character become U+FFFD.
class Utf16Source final : public ByteSource {
 public:
  Utf16Source(std::shared_ptr<InputBuffer> beneath, Utf16Order order)
      : beneath_(std::move(beneath)), order_(order) {}
  std::size_t read(std::uint8_t* to, std::size_t most) override;

 private:
  std::uint32_t unit_at(std::size_t byte) const;
  /// Code point at the window's front; takes it. False at the end.
  bool take(std::uint32_t& code_point);

  std::shared_ptr<InputBuffer> beneath_;
  Utf16Order order_;
  std::string waiting_;
};

}  // namespace bareglass::host
