#include "csv_text.hpp"

#include <fmt/format.h>

#include <charconv>

#include "bareglass/core/packet_format.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/plain/utf8.hpp"
#include "packet_fields.hpp"

namespace bareglass::host {

namespace {

bool is_space(char c) { return c == ' ' || c == '\t' || c == '\r'; }

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

/// Value of "\xHH" at the front of `text`, or -1.
int escape_at(std::string_view text) {
  if (text.size() < 4 || text[0] != '\\' || text[1] != 'x') return -1;
  const int high = hex_digit(text[2]);
  const int low = hex_digit(text[3]);
  return high < 0 || low < 0 ? -1 : 16 * high + low;
}

template <typename T>
bool parse_whole(std::string_view text, T& out) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), out);
  return error == std::errc() && end == text.data() + text.size();
}

}  // namespace

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
  return text;
}

std::string escaped(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size();) {
    const plain::CodePoint p = plain::first_code_point(text.substr(i));
    const bool end = i == 0 || i + 1 == text.size();
    const bool coded =
        !p.good || plain::is_unwelcome(p.value) || p.value == '\\' || (p.value == ' ' && end);
    for (const char c : text.substr(i, p.bytes))
      out += coded ? fmt::format("\\x{:02X}", static_cast<unsigned char>(c)) : std::string(1, c);
    i += p.bytes;
  }
  return out;
}

std::string unescaped(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const int code = escape_at(text.substr(i));
    out += code < 0 ? text[i] : static_cast<char>(code);
    i += code < 0 ? 0 : 3;
  }
  const std::vector<std::uint8_t> bytes(out.begin(), out.end());
  if (out.size() > kMaxPacketText || !plain::is_utf8(bytes.data(), bytes.size()))
    throw LineProblem(fmt::format("expected UTF-8 text of at most {} bytes", kMaxPacketText));
  return out;
}

std::string quoted(std::string_view text) {
  constexpr std::size_t kShown = 24;
  std::string out;
  for (const char c : text.substr(0, kShown)) {
    const auto byte = static_cast<unsigned char>(c);
    out += byte < 0x20 || byte > 0x7E ? fmt::format("\\x{:02X}", byte) : std::string(1, c);
  }
  return "\"" + out + (text.size() > kShown ? "...\"" : "\"");
}

std::int64_t integer_in(std::string_view text, std::int64_t least, std::int64_t most,
                        const char* what) {
  std::int64_t value = 0;
  if (parse_whole(trimmed(text), value) && value >= least && value <= most) return value;
  throw LineProblem(fmt::format("{} is {}, expected an integer from {} to {}", what,
                                quoted(trimmed(text)), least, most));
}

std::uint64_t time_in(std::string_view text, const char* what) {
  std::uint64_t value = 0;
  if (parse_whole(trimmed(text), value)) return value;
  throw LineProblem(
      fmt::format("{} is {}, expected whole microseconds", what, quoted(trimmed(text))));
}

double decimal_in(std::string_view text, double most, const char* what) {
  double value = 0;
  // The comparison is false for NaN.
  if (parse_whole(trimmed(text), value) && value >= 0 && value <= most) return value;
  throw LineProblem(
      fmt::format("{} is {}, expected a number from 0 to {}", what, quoted(trimmed(text)), most));
}

bool flag_in(std::string_view text, const char* what) {
  text = trimmed(text);
  if (text == "true" || text == "false") return text == "true";
  throw LineProblem(fmt::format("{} is {}, expected true or false", what, quoted(text)));
}

std::vector<std::string_view> words_of(std::string_view text) {
  std::vector<std::string_view> words;
  for (std::size_t i = 0; i < text.size();) {
    if (is_space(text[i])) {
      ++i;
      continue;
    }
    std::size_t end = i;
    while (end < text.size() && !is_space(text[end])) ++end;
    words.push_back(text.substr(i, end - i));
    i = end;
  }
  return words;
}

}  // namespace bareglass::host
