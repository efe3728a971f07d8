// Tells the format of a capture from its first bytes, where that is certain.

#include <algorithm>
#include <cstring>

#include "packet_body.hpp"
#include "packet_decoder.hpp"
#include "packet_fields.hpp"
#include "readers.hpp"
#include "table/layout.hpp"
#include "table/utf16.hpp"

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

/// The lines of the window; one that is cut off at its end is left out, unless it is the only one.
TableHead window_lines(const InputBuffer& input, bool whole) {
  std::string_view text(reinterpret_cast<const char*>(input.data()), input.size());
  if (text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
  TableHead head;
  head.whole = whole;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    if (end == std::string_view::npos && !whole && !head.lines.empty()) break;
    std::string_view line = text.substr(0, end);
    if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
    head.lines.push_back({head.lines.size() + 1, std::string(line)});
    text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
  }
  return head;
}

bool starts_as(std::string_view text, std::string_view start) {
  return text.substr(0, start.size()) == start;
}

/// Our CSV says in its own words what its values are, or names its panel and its time stamps; of
/// lines of comments nothing else can be made either.
bool is_our_csv(const TableHead& head) {
  bool comments = false, lines_told = false;
  for (const TableLine& line : head.lines) {
    const std::string_view text = line.text;
    if (text.empty()) continue;
    if (text.front() != '#') return lines_told && starts_as(text, "t_us,");
    comments = true;
    lines_told = lines_told || starts_as(text, "# rows:") || starts_as(text, "# cols:");
    if (text == "# values: raw" || text == "# values: difference") return true;
  }
  return comments && head.whole;
}

std::optional<CaptureFormat> touch_format_of(const std::string& name) {
  const std::size_t dot = name.rfind('.');
  const auto format =
      dot == std::string::npos ? std::nullopt : format_of_name(name.substr(dot + 1));
  for (const CaptureFormat touch :
       {CaptureFormat::td16, CaptureFormat::td08, CaptureFormat::tu16, CaptureFormat::tu08})
    if (format == touch) return format;
  return std::nullopt;
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
                     "not recognised: no intact packet within the first 64 KiB, no .npy head, no "
                     "CSV of ours. If it is a table of numbers: `bareglass convert FILE --preview "
                     "--format table` says how it is read. Otherwise name the format with --format "
                     "(known: " +
                         format_names() + ")");
}

}  // namespace

CaptureFormat detect_format(InputBuffer& input, const std::string& name,
                            const TableOptions& table) {
  PacketDecoder decoder;
  std::size_t searched = 0;
  for (;;) {
    const bool more = input.size() < kLookBytes && input.fill();
    if (begins_with(input, "\x93NUMPY")) return CaptureFormat::npy;
    if (has_packet(searched, input, decoder)) return CaptureFormat::frames;
    const auto touch = touch_format_of(name);
    if (!more && touch && input.size() > 0) return *touch;
    if (!touch && (!more || enough_text(input))) {
      if (utf16_order(input.data(), input.size())) return CaptureFormat::table;
      const TableHead head = is_text(input) ? window_lines(input, !more) : TableHead{};
      if (is_our_csv(head)) return CaptureFormat::csv;
      if (holds_table(head, table)) return CaptureFormat::table;
    }
    if (!more) give_up(input, name);
  }
}

}  // namespace bareglass::host
