#pragma once
// Numbers of the panel frame stream: what a packet is made of. They are written here once; the
// page lib/capture/FORMAT.md tells the same with a worked example. A number never changes
// its meaning; new ones are added at the end.
//
//   stream = { packet }
//   packet = COBS(body, CRC-32C of the body, least significant byte first), 0x00
//   body   = one CBOR map: key 0 (kind) and the keys of that kind, all keys unsigned integers

#include <cstddef>
#include <cstdint>

namespace bareglass {

/// What a packet is: the value of PacketKey::kind.
enum class PacketKind : std::uint8_t {
  panel_description = 1,
  raw_frame = 2,
  difference_frame = 3,
  factory_reference = 4,
  contacts = 5,
  journal_entry = 6,
  supply_state = 7,
  note = 8,
};
constexpr std::uint8_t kLastPacketKind = 8;

/// Keys of the map. Each means the same in every kind that has it.
enum class PacketKey : std::uint8_t {
  kind = 0,              ///< unsigned: PacketKind; every packet has it
  sequence = 1,          ///< unsigned 32 bits: counts scans since power-up, wraps
  t_us = 2,              ///< unsigned 64 bits: microseconds on the controller's clock
  rows = 3,              ///< unsigned: driven lines, 1 or more
  cols = 4,              ///< unsigned: sensed lines, 1 or more
  samples = 5,           ///< typed array, row-major, rows * cols: tag 69 counts, tag 77 differences
  pitch_row_nm = 6,      ///< unsigned: between the centres of neighbouring rows, nanometres
  pitch_col_nm = 7,      ///< unsigned: between the centres of neighbouring columns, nanometres
  finger_counts = 8,     ///< unsigned: peak difference of the panel's nominal finger, counts
  counts_rise = 9,       ///< boolean: a finger raises the counts; absent means it lowers them
  frame_period_us = 10,  ///< unsigned 32 bits: from one scan to the next, microseconds
  unit_id = 11,          ///< text: which device
  panel_name = 12,       ///< text: which panel design
  firmware = 13,         ///< text: which firmware
  raw_max = 14,          ///< unsigned: greatest count the converter can give
  power_up_us = 15,      ///< unsigned 64 bits: when the panel was powered, on the clock of t_us
  contacts = 16,         ///< array of arrays [id, tip, x_q8, y_q8, strength]
  code = 17,             ///< unsigned 8 bits: JournalCode
  row = 18,              ///< unsigned 8 bits: a place; absent where a place makes no sense
  col = 19,              ///< unsigned 8 bits
  value = 20,            ///< signed 32 bits: what was measured
  limit = 21,            ///< signed 32 bits: what it was held against
  millivolts = 22,       ///< unsigned: supply voltage
  charging = 23,         ///< boolean
  docked = 24,           ///< boolean
  temperature_c10 = 25,  ///< signed: tenths of a degree Celsius
  text = 26,             ///< text: a remark
  detail = 27,           ///< unsigned 8 bits: JournalEntry::detail; absent means 0
};
constexpr std::uint8_t kPacketKeys = 28;

/// Longest text a packet may hold, bytes of UTF-8.
constexpr std::size_t kMaxPacketText = 4096;

}  // namespace bareglass
