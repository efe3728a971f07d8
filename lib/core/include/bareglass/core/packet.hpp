#pragma once
// Packets of the panel frame stream as a controller sends them. Every function writes one whole
// packet, ending zero included, into a caller's buffer and needs no other memory:
//
//   std::uint8_t buffer[bareglass::frame_packet_bytes(40, 24)];
//   const auto sent = bareglass::encode_raw_frame({buffer, sizeof buffer}, frame);
//   if (sent.status == bareglass::PacketStatus::ok) uart_write(buffer, sent.size);

#include <cstddef>
#include <cstdint>

#include "bareglass/core/cobs.hpp"
#include "bareglass/core/contacts.hpp"
#include "bareglass/core/journal.hpp"
#include "bareglass/core/packet_format.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass {

enum class PacketStatus : std::uint8_t {
  ok,
  buffer_too_small,  ///< nothing to send; the buffer holds nothing of use
  bad_shape,      ///< rows or columns below 1, samples missing or not rows * cols; buffer untouched
  text_too_long,  ///< more than kMaxPacketText bytes; buffer untouched
};

struct PacketResult {
  PacketStatus status = PacketStatus::ok;
  std::size_t size = 0;  ///< bytes to send, the ending zero included; 0 unless ok
};

/// What a unit says of itself. Zero and empty mean "not known" and are not sent.
struct PanelInfo {
  Shape shape;
  std::uint32_t pitch_row_nm = 0;
  std::uint32_t pitch_col_nm = 0;
  std::uint32_t finger_counts = 0;
  bool counts_rise = false;
  std::uint32_t frame_period_us = 0;
  std::uint32_t raw_max = 0;
  bool power_up_known = false;
  std::uint64_t power_up_us = 0;  ///< sent if power_up_known
  View<const char> unit_id;       ///< UTF-8, as the other texts
  View<const char> panel_name;
  View<const char> firmware;
};

enum class Known : std::uint8_t { unknown, no, yes };

/// Absent values are not sent.
struct SupplyState {
  std::uint64_t t_us = 0;
  std::uint16_t millivolts = 0;  ///< 0: unknown
  Known charging = Known::unknown;
  Known docked = Known::unknown;
  bool temperature_known = false;
  std::int16_t temperature_c10 = 0;  ///< tenths of a degree Celsius
};

/// Bytes a packet needs for a body of `body` bytes: body, CRC, stuffing and the ending zero.
constexpr std::size_t packet_bytes(std::size_t body) {
  return body + 4 + cobs_overhead(body + 4) + 1;
}

/// Greatest bodies, each with the sum it comes from. Most numbers take up to 5 bytes, times 9, keys
/// 1, or 2 from key 24 on.
///
/// Map 1, kind 2, sequence 6, time 10, rows 6, columns 6, samples key 1, tag 2, length 9.
constexpr std::size_t frame_body_most(std::size_t nodes) { return 43 + 2 * nodes; }
/// Map 1, kind 2, seven numbers of 6, one flag 2, time 10, three texts of 4 and their bytes.
constexpr std::size_t description_body_most(std::size_t text) { return 69 + text; }
/// Map 1, kind 2, time 10, key 1, array 9; each contact: array 1, id 2, tip 1, three numbers of 3.
constexpr std::size_t contacts_body_most(std::size_t count) { return 23 + 13 * count; }
/// Map 1, kind 2, time 10, code 3, place 3 + 3, value and limit 6 + 6, detail 4.
constexpr std::size_t kJournalBodyMost = 38;
/// Map 1, kind 2, time 10, millivolts 4, charging 2, docked 3, temperature 5.
constexpr std::size_t kSupplyBodyMost = 27;
/// Map 1, kind 2, time 10, key 2, length 3.
constexpr std::size_t note_body_most(std::size_t text) { return 18 + text; }

/// Buffer that suffices for a raw, difference or reference frame of that shape.
constexpr std::size_t frame_packet_bytes(int rows, int cols) {
  return packet_bytes(
      frame_body_most(static_cast<std::size_t>(rows) * static_cast<std::size_t>(cols)));
}
/// ... for a panel description whose three texts have `text` bytes together.
constexpr std::size_t description_packet_bytes(std::size_t text) {
  return packet_bytes(description_body_most(text));
}
constexpr std::size_t contacts_packet_bytes(std::size_t count) {
  return packet_bytes(contacts_body_most(count));
}
constexpr std::size_t kJournalPacketBytes = packet_bytes(kJournalBodyMost);
constexpr std::size_t kSupplyPacketBytes = packet_bytes(kSupplyBodyMost);
/// ... for a note of `text` bytes.
constexpr std::size_t note_packet_bytes(std::size_t text) {
  return packet_bytes(note_body_most(text));
}

/// Each returns ok, or buffer_too_small if `out` is shorter than the packet (the functions above
/// say what always suffices), or what else is named with it.
///
/// bad_shape, text_too_long.
PacketResult encode_panel_description(View<std::uint8_t> out, const PanelInfo& info);
/// bad_shape.
PacketResult encode_raw_frame(View<std::uint8_t> out, const Frame& frame);
/// `difference`: counts, positive as a finger is; rows * cols. bad_shape.
PacketResult encode_difference_frame(View<std::uint8_t> out, View<const std::int16_t> difference,
                                     Shape shape, std::uint32_t sequence, std::uint64_t t_us);
/// `raw`: counts of the bare panel as stored in the factory; rows * cols. bad_shape.
PacketResult encode_factory_reference(View<std::uint8_t> out, View<const std::uint16_t> raw,
                                      Shape shape);
PacketResult encode_contacts(View<std::uint8_t> out, View<const Contact> contacts,
                             std::uint64_t t_us);
PacketResult encode_journal_entry(View<std::uint8_t> out, const JournalEntry& entry);
PacketResult encode_supply_state(View<std::uint8_t> out, const SupplyState& supply);
/// `text`: UTF-8. text_too_long.
PacketResult encode_note(View<std::uint8_t> out, View<const char> text, std::uint64_t t_us);

}  // namespace bareglass
