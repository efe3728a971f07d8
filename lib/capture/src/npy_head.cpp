#include "npy_head.hpp"

#include <fmt/format.h>

#include <charconv>
#include <stdexcept>

#include "bareglass/capture/records.hpp"
#include "csv_text.hpp"

namespace bareglass::host {

namespace {

constexpr std::size_t kMostHeadBytes = 64 * 1024;

/// The text after `'name':` up to `stop` (which is left out unless `with_stop`).
std::string_view value_of(std::string_view dictionary, std::string_view name, char stop,
                          bool with_stop) {
  const std::size_t at = dictionary.find(fmt::format("'{}'", name));
  const std::size_t colon = at == std::string_view::npos ? at : dictionary.find(':', at);
  const std::size_t end =
      colon == std::string_view::npos ? colon : dictionary.find(stop, colon + 1);
  if (end == std::string_view::npos)
    throw std::runtime_error(fmt::format("expected '{}' in the .npy head", name));
  return trimmed(dictionary.substr(colon + 1, end - colon - (with_stop ? 0 : 1)));
}

std::uint64_t dimension(std::string_view text) {
  std::uint64_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size())
    throw std::runtime_error(fmt::format("expected a number in the shape, found {}", quoted(text)));
  return value;
}

void parse_shape(NpyHead& head, std::string_view text) {
  std::uint64_t size[3] = {};
  std::size_t count = 0;
  std::string_view left = text.substr(1, text.size() - 2);
  while (!trimmed(left).empty()) {
    const std::size_t comma = left.find(',');
    if (count < 3) size[count] = dimension(trimmed(left.substr(0, comma)));
    ++count;
    left = comma == std::string_view::npos ? std::string_view() : left.substr(comma + 1);
  }
  if (count != 3)
    throw std::runtime_error(
        fmt::format("expected three dimensions, frames x rows x columns, found {}", text));
  if (size[1] < 1 || size[1] > kMaxCaptureLines || size[2] < 1 || size[2] > kMaxCaptureLines)
    throw std::runtime_error(fmt::format("expected 1 to {} rows and columns, found {} x {}",
                                         kMaxCaptureLines, size[1], size[2]));
  head.frames = size[0];
  head.rows = static_cast<int>(size[1]);
  head.cols = static_cast<int>(size[2]);
}

void parse_type(NpyHead& head, std::string_view quoted_type) {
  const std::string_view type =
      quoted_type.size() > 2 ? quoted_type.substr(1, quoted_type.size() - 2) : quoted_type;
  head.is_signed = type == "<i2" || type == "|i1";
  head.bytes = type == "|u1" || type == "|i1" ? 1 : 2;
  if (!head.is_signed && type != "<u2" && type != "|u1")
    throw std::runtime_error(
        fmt::format("expected elements of type <u2, <i2, |u1 or |i1, found {}", quoted(type)));
}

}  // namespace

std::size_t npy_dictionary_offset(const std::uint8_t* preamble) {
  return preamble[6] == 1 ? 10 : 12;
}

std::size_t npy_head_bytes(const std::uint8_t* preamble) {
  constexpr std::uint8_t kMagic[6] = {0x93, 'N', 'U', 'M', 'P', 'Y'};
  for (std::size_t i = 0; i < 6; ++i)
    if (preamble[i] != kMagic[i]) return 0;
  if (preamble[6] < 1 || preamble[6] > 3) return 0;
  std::uint64_t length = preamble[8] | static_cast<std::uint64_t>(preamble[9]) << 8;
  if (preamble[6] > 1)
    length |= static_cast<std::uint64_t>(preamble[10]) << 16 |
              static_cast<std::uint64_t>(preamble[11]) << 24;
  if (length > kMostHeadBytes) return 0;
  return npy_dictionary_offset(preamble) + static_cast<std::size_t>(length);
}

NpyHead parse_npy_dictionary(std::string_view dictionary) {
  NpyHead head;
  parse_type(head, value_of(dictionary, "descr", ',', false));
  // Fortran order has frames as the fastest index: a frame is not together in the file.
  const std::string_view order = value_of(dictionary, "fortran_order", ',', false);
  if (order != "False")
    throw std::runtime_error(
        fmt::format("expected C order ('fortran_order': False), found {}", quoted(order)));
  const std::string_view shape = value_of(dictionary, "shape", ')', true);
  if (shape.size() < 2 || shape.front() != '(')
    throw std::runtime_error("expected a shape in parentheses in the .npy head");
  parse_shape(head, shape);
  return head;
}

std::string npy_head_text(const NpyHead& head) {
  const char* type =
      head.bytes == 1 ? (head.is_signed ? "|i1" : "|u1") : (head.is_signed ? "<i2" : "<u2");
  std::string text("\x93NUMPY\x01\x00", 8);
  constexpr std::size_t kLength = kNpyHeadBytes - 10;
  text += static_cast<char>(kLength & 255);
  text += static_cast<char>(kLength >> 8);
  text += fmt::format("{{'descr': '{}', 'fortran_order': False, 'shape': ({}, {}, {}), }}", type,
                      head.frames, head.rows, head.cols);
  text.resize(kNpyHeadBytes - 1, ' ');
  return text + '\n';
}

}  // namespace bareglass::host
