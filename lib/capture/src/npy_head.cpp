#include "npy_head.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <cstring>
#include <limits>
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
  if (count != 2 && count != 3)
    throw std::runtime_error(fmt::format(
        "expected two or three dimensions, frames x nodes or frames x rows x columns, found {}",
        text));
  head.frames = size[0];
  if (count == 2) {
    constexpr std::uint64_t kMost = std::uint64_t{kMaxCaptureLines} * kMaxCaptureLines;
    if (size[1] < 1 || size[1] > kMost)
      throw std::runtime_error(fmt::format("expected 1 to {} nodes, found {}", kMost, size[1]));
    head.width = size[1];
    return;
  }
  if (size[1] < 1 || size[1] > kMaxCaptureLines || size[2] < 1 || size[2] > kMaxCaptureLines)
    throw std::runtime_error(fmt::format("expected 1 to {} rows and columns, found {} x {}",
                                         kMaxCaptureLines, size[1], size[2]));
  head.rows = static_cast<int>(size[1]);
  head.cols = static_cast<int>(size[2]);
}

void parse_type(NpyHead& head, std::string_view quoted_type) {
  const std::string_view type =
      quoted_type.size() > 2 ? quoted_type.substr(1, quoted_type.size() - 2) : quoted_type;
  const char order = type.size() == 3 ? type[0] : '?';
  const char kind = type.size() == 3 ? type[1] : '?';
  const int bytes = type.size() == 3 ? type[2] - '0' : 0;
  const bool size = bytes == 1 || bytes == 2 || bytes == 4 || bytes == 8;
  const bool known = (kind == 'u' || kind == 'i' || kind == 'f') && size &&
                     (order == '<' || order == '>' || (order == '|' && bytes == 1));
  if (!known || (kind == 'f' && bytes == 1))
    throw std::runtime_error(fmt::format(
        "expected elements of an integer type (such as <u2, >i4, |u1) or a float type (<f2, <f4, "
        "<f8), found {}",
        quoted(type)));
  head.type = {bytes, kind != 'u', kind == 'f', order == '>'};
}

// IEEE 754 binary16.
double half_in(std::uint64_t bits) {
  const int exponent = static_cast<int>(bits >> 10 & 31);
  const auto fraction = static_cast<double>(bits & 1023);
  const double sign = (bits & 0x8000) != 0 ? -1.0 : 1.0;
  if (exponent == 31) return std::numeric_limits<double>::quiet_NaN();
  if (exponent == 0) return sign * std::ldexp(fraction, -24);
  return sign * std::ldexp(1024 + fraction, exponent - 25);
}

double float_in(std::uint64_t bits, int bytes) {
  if (bytes == 2) return half_in(bits);
  if (bytes == 8) {
    double value = 0;
    std::memcpy(&value, &bits, sizeof value);
    return value;
  }
  const auto low = static_cast<std::uint32_t>(bits);
  float value = 0;
  std::memcpy(&value, &low, sizeof value);
  return static_cast<double>(value);
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
  head.columns_first = order == "True";
  if (order != "False" && order != "True")
    throw std::runtime_error(
        fmt::format("expected 'fortran_order' to be True or False, found {}", quoted(order)));
  const std::string_view shape = value_of(dictionary, "shape", ')', true);
  if (shape.size() < 2 || shape.front() != '(')
    throw std::runtime_error("expected a shape in parentheses in the .npy head");
  parse_shape(head, shape);
  return head;
}

double sample_in(const std::uint8_t* bytes, const SampleType& type) {
  std::uint64_t bits = 0;
  for (int i = 0; i < type.bytes; ++i)
    bits = bits << 8 | bytes[type.big_endian ? i : type.bytes - 1 - i];
  if (type.is_float) return float_in(bits, type.bytes);
  if (!type.is_signed) return static_cast<double>(bits);
  const int unused = 64 - 8 * type.bytes;
  return static_cast<double>(static_cast<std::int64_t>(bits << unused) >> unused);
}

std::string npy_head_text(const NpyHead& head) {
  const char* type = head.type.bytes == 1 ? (head.type.is_signed ? "|i1" : "|u1")
                                          : (head.type.is_signed ? "<i2" : "<u2");
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
