#include "bareglass/plain/harmless.hpp"

namespace bareglass::plain {

namespace {

struct Range {
  std::uint32_t first, last;
};

// Beyond ASCII, in rising order. Not listed: the format characters that are visible signs of a
// script (U+0600 to U+0605, U+06DD, U+070F, U+0890, U+0891, U+08E2, U+110BD, U+110CD).
constexpr Range kUnwelcome[] = {
    {0x007F, 0x009F},    // delete, C1 controls
    {0x00AD, 0x00AD},    // soft hyphen
    {0x061C, 0x061C},    // Arabic letter mark
    {0x180E, 0x180E},    // Mongolian vowel separator
    {0x200B, 0x200F},    // zero width, left-to-right and right-to-left marks
    {0x2028, 0x202E},    // separators, embeddings and overrides of direction (UAX #9)
    {0x2060, 0x206F},    // word joiner, invisible operators, isolates, deprecated format characters
    {0xFDD0, 0xFDEF},    // noncharacters
    {0xFEFF, 0xFEFF},    // byte order mark
    {0xFFF9, 0xFFFB},    // interlinear annotation
    {0x13430, 0x1343F},  // hieroglyph joiners
    {0x1BCA0, 0x1BCA3},  // shorthand format controls
    {0x1D173, 0x1D17A},  // musical beams
    {0xE0000, 0xE007F},  // tags
};

// As many digits, upper case.
void append_hex(std::string& out, std::uint32_t value, int digits) {
  for (int at = 4 * (digits - 1); at >= 0; at -= 4) out += "0123456789ABCDEF"[value >> at & 15];
}

void append_shown(std::string& out, const CodePoint& p) {
  const bool byte = !p.good || p.value < 0x80;
  const bool longer = p.value > 0xFFFF;
  out += byte ? "\\x" : longer ? "\\U" : "\\u";
  append_hex(out, p.value, byte ? 2 : longer ? 8 : 4);
}

std::string shown(std::string_view text, bool keep_lines) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const CodePoint p = first_code_point(text);
    const bool kept = keep_lines && (p.value == '\n' || p.value == '\t');
    if (p.good && (kept || !is_unwelcome(p.value)))
      out += text.substr(0, p.bytes);
    else
      append_shown(out, p);
    text.remove_prefix(p.bytes);
  }
  return out;
}

}  // namespace

CodePoint first_code_point(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<std::uint8_t>(text[i]); };
  const std::uint8_t first = byte(0);
  if (first < 0x80) return {1, first, true};
  const std::size_t bytes = first >= 0xF0 ? 4u : first >= 0xE0 ? 3u : 2u;
  if (first < 0xC2 || first > 0xF4 || text.size() < bytes) return {1, first, false};
  std::uint32_t value = first & (0xFFu >> (bytes + 1));
  for (std::size_t i = 1; i < bytes; ++i) {
    if ((byte(i) & 0xC0) != 0x80) return {1, first, false};
    value = (value << 6) | (byte(i) & 0x3Fu);
  }
  constexpr std::uint32_t kLeast[] = {0, 0, 0x80, 0x800, 0x10000};
  const bool surrogate = value >= 0xD800 && value <= 0xDFFF;
  if (value < kLeast[bytes] || surrogate || value > 0x10FFFF) return {1, first, false};
  return {bytes, value, true};
}

bool is_unwelcome(std::uint32_t code_point) {
  if (code_point < 0x20) return true;
  if (code_point < 0x7F) return false;
  if ((code_point & 0xFFFE) == 0xFFFE) return true;  // the last two of every plane: noncharacters
  for (const Range& range : kUnwelcome)
    if (code_point >= range.first && code_point <= range.last) return true;
  return false;
}

std::string harmless(std::string_view text) { return shown(text, false); }
std::string harmless_lines(std::string_view text) { return shown(text, true); }

}  // namespace bareglass::plain
