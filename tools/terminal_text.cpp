#include "terminal_text.hpp"

#include <fmt/format.h>

namespace bareglass::tools {

std::string harmless(const std::string& text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto byte = static_cast<unsigned char>(text[i]);
    // U+0080 to U+009F, in UTF-8 C2 80 to C2 9F, are control characters too.
    const bool c1 =
        byte == 0xC2 && i + 1 < text.size() && static_cast<unsigned char>(text[i + 1]) < 0xA0;
    if (byte < 0x20 || byte == 0x7F)
      out += fmt::format("\\x{:02X}", byte);
    else if (c1)
      out += fmt::format("\\u{:04X}", static_cast<unsigned>(static_cast<unsigned char>(text[++i])));
    else
      out += text[i];
  }
  return out;
}

}  // namespace bareglass::tools
