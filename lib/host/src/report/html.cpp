#include "html.hpp"

#include <cstdint>
#include <stdexcept>
#include <utility>

namespace bareglass::host::report {

namespace {

constexpr std::string_view kReplacement = "\xEF\xBF\xBD";

struct Decoded {
  std::size_t bytes = 1;
  std::uint32_t point = 0;
  bool good = false;
};

// One code point of UTF-8 (RFC 3629: no surrogates, shortest form, up to U+10FFFF).
Decoded decode(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<std::uint8_t>(text[i]); };
  const std::uint8_t first = byte(0);
  if (first < 0x80) return {1, first, true};
  const std::size_t bytes = first >= 0xF0 ? 4u : first >= 0xE0 ? 3u : 2u;
  if (first < 0xC2 || first > 0xF4 || text.size() < bytes) return {};
  std::uint32_t point = first & (0xFFu >> (bytes + 1));
  for (std::size_t i = 1; i < bytes; ++i) {
    if ((byte(i) & 0xC0) != 0x80) return {};
    point = (point << 6) | (byte(i) & 0x3Fu);
  }
  constexpr std::uint32_t kLeast[] = {0, 0, 0x80, 0x800, 0x10000};
  const bool surrogate = point >= 0xD800 && point <= 0xDFFF;
  if (point < kLeast[bytes] || surrogate || point > 0x10FFFF) return {};
  return {bytes, point, true};
}

// Control characters, and the marks of UAX #9 that reorder what is around them.
bool is_unwelcome(std::uint32_t p) {
  const bool control = (p < 0x20 && p != '\t' && p != '\n') || (p >= 0x7F && p < 0xA0);
  const bool direction =
      (p >= 0x202A && p <= 0x202E) || (p >= 0x2066 && p <= 0x2069) || p == 0x200E || p == 0x200F;
  return control || direction || p == 0xFFFE || p == 0xFFFF;
}

}  // namespace

std::string escaped(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const Decoded d = decode(text);
    if (!d.good || is_unwelcome(d.point))
      out += kReplacement;
    else if (d.point == '&')
      out += "&amp;";
    else if (d.point == '<')
      out += "&lt;";
    else if (d.point == '>')
      out += "&gt;";
    else if (d.point == '"')
      out += "&quot;";
    else if (d.point == '\'')
      out += "&#39;";
    else
      out += text.substr(0, d.bytes);
    text.remove_prefix(d.bytes);
  }
  return out;
}

void Html::open(const char* tag, std::string_view attributes) {
  out_ += '<';
  out_ += tag;
  if (!attributes.empty()) out_ += ' ';
  out_ += attributes;
  out_ += '>';
  open_.push_back(tag);
}

void Html::close() {
  if (open_.empty()) throw std::logic_error("Html::close without an open element");
  out_ += "</";
  out_ += open_.back();
  out_ += ">\n";
  open_.pop_back();
}

void Html::element(const char* tag, std::string_view words, std::string_view attributes) {
  open(tag, attributes);
  text(words);
  close();
}

std::string Html::take() {
  if (!open_.empty()) throw std::logic_error("Html::take with an open element");
  return std::move(out_);
}

void begin_page(Html& page, std::string_view title, std::string_view style) {
  page.raw("<!DOCTYPE html>\n");
  page.open("html", "lang=\"en\"");
  page.open("head");
  page.raw("<meta charset=\"utf-8\"/>\n");
  page.raw("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n");
  page.raw(
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
      "'unsafe-inline'\"/>\n");
  page.element("title", title);
  page.open("style");
  page.raw(style);
  page.close();
  page.close();
  page.open("body");
}

}  // namespace bareglass::host::report
