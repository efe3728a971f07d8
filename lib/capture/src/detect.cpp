// Tells the format of a capture from its first bytes, where that is certain.

#include <cstring>

#include "packet_body.hpp"
#include "packet_decoder.hpp"
#include "packet_fields.hpp"
#include "readers.hpp"

namespace bareglass::host {

namespace {

constexpr std::size_t kLookBytes = 64 * 1024;
/// Text is believed only when this much of it and a whole line were seen, or all.
constexpr std::size_t kTextBytes = 1024;

bool begins_with(const InputBuffer& input, std::string_view start) {
  return input.size() >= start.size() && std::memcmp(input.data(), start.data(), start.size()) == 0;
}

/// Looks for an intact packet in the window from `searched` on; leaves there what is incomplete.
bool has_packet(std::size_t& searched, const InputBuffer& input, PacketDecoder& decoder) {
  while (searched < input.size()) {
    const std::uint8_t* from = input.data() + searched;
    const void* zero = std::memchr(from, 0, input.size() - searched);
    if (zero == nullptr) return false;
    const auto size = static_cast<std::size_t>(static_cast<const std::uint8_t*>(zero) - from);
    const View<const std::uint8_t> body = decoder.decode(from, size);
    Record record;
    if (!body.empty() && parse_body(record, body.data, body.size).status != BodyStatus::malformed)
      return true;
    searched += size + 1;
  }
  return false;
}

bool is_text(const InputBuffer& input) {
  for (std::size_t i = 0; i < input.size(); ++i) {
    const std::uint8_t byte = input.data()[i];
    if (byte < 0x20 && byte != '\n' && byte != '\r' && byte != '\t') return false;
  }
  return true;
}

bool looks_like_csv(const InputBuffer& input) {
  const std::size_t mark = begins_with(input, "\xEF\xBB\xBF") ? 3 : 0;
  if (input.size() <= mark) return false;
  const std::uint8_t first = input.data()[mark];
  const bool start = first == '#' || (first >= '0' && first <= '9') || begins_with(input, "t_us");
  return start && is_text(input);
}

bool enough_text(const InputBuffer& input) {
  return input.size() >= kTextBytes && std::memchr(input.data(), '\n', input.size()) != nullptr;
}

[[noreturn]] void give_up(const InputBuffer& input, const std::string& name) {
  if (input.size() == 0) throw CaptureError(name, at_byte(0), "is empty, expected a capture");
  if (begins_with(input, "\x1F\x8B"))
    throw CaptureError(name, at_byte(0),
                       "is compressed with gzip, expected a capture; unpack it first, for instance "
                       "with: gzip -dc FILE | bareglass info -");
  throw CaptureError(name, at_byte(0),
                     "expected an intact packet within the first 64 KiB, a .npy head or CSV text; "
                     "name the format with --format (known: " +
                         format_names() + ")");
}

}  // namespace

CaptureFormat detect_format(InputBuffer& input, const std::string& name) {
  PacketDecoder decoder;
  std::size_t searched = 0;
  for (;;) {
    const bool more = input.size() < kLookBytes && input.fill();
    if (begins_with(input, "\x93NUMPY")) return CaptureFormat::npy;
    if (has_packet(searched, input, decoder)) return CaptureFormat::frames;
    if ((!more || enough_text(input)) && looks_like_csv(input)) return CaptureFormat::csv;
    if (!more) give_up(input, name);
  }
}

}  // namespace bareglass::host
