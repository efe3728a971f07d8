#include "bareglass/core/packet.hpp"

#include <gtest/gtest.h>

#include <cstring>
#include <functional>
#include <string>
#include <vector>

#include "bareglass/core/crc32c.hpp"

namespace bareglass {
namespace {

using Bytes = std::vector<std::uint8_t>;
using Out = View<std::uint8_t>;

/// The body of a packet, after checking that it ends in the only zero and that its CRC is right.
Bytes body_of(const Bytes& packet) {
  EXPECT_FALSE(packet.empty());
  EXPECT_EQ(packet.back(), 0);
  EXPECT_EQ(std::memchr(packet.data(), 0, packet.size()), &packet.back());
  Bytes plain(packet.size());
  const CobsResult result =
      cobs_decode({plain.data(), plain.size()}, {packet.data(), packet.size() - 1});
  EXPECT_EQ(result.status, CobsStatus::ok);
  plain.resize(result.size);
  EXPECT_EQ(crc32c(kCrc32cStart, {plain.data(), plain.size()}), kCrc32cResidue);
  plain.resize(plain.size() - 4);
  return plain;
}

View<const char> view(const std::string& text) { return {text.data(), text.size()}; }

struct Case {
  const char* name;
  std::size_t enough;  ///< what the header promises to suffice
  std::function<PacketResult(Out)> encode;
};

constexpr std::uint64_t kLate = 0xFFFFFFFFFFFFFFFFu;
constexpr std::uint32_t kMost = 0xFFFFFFFFu;

/// Every kind with every number as large as it gets.
std::vector<Case> greatest_packets() {
  static const std::vector<std::uint16_t> counts(40 * 24, 0xFFFF);
  static const std::vector<std::int16_t> differences(40 * 24, -257);
  static const std::string text(200, 'x');
  static std::vector<Contact> contacts(kMaxContacts);
  for (Contact& contact : contacts) contact = {255, true, true, -32768, 32767, -32768, 0};
  PanelInfo info;
  info.shape = {0x7FFFFFFF, 0x7FFFFFFF};
  info.pitch_row_nm = info.pitch_col_nm = info.finger_counts = kMost;
  info.counts_rise = true;
  info.frame_period_us = info.raw_max = kMost;
  info.power_up_known = true;
  info.power_up_us = kLate;
  info.unit_id = info.panel_name = info.firmware = view(text);
  const SupplyState supply{kLate, 65535, Known::yes, Known::no, true, -32768};
  const JournalEntry entry{kLate, INT32_MIN, INT32_MAX, static_cast<JournalCode>(255),
                           255,   254,       254};
  return {
      {"description", description_packet_bytes(600),
       [=](Out out) { return encode_panel_description(out, info); }},
      {"raw", frame_packet_bytes(40, 24),
       [](Out out) {
         return encode_raw_frame(out, {counts.data(), {40, 24}, kMost, kLate});
       }},
      {"difference", frame_packet_bytes(40, 24),
       [](Out out) {
         return encode_difference_frame(out, {differences.data(), differences.size()}, {40, 24},
                                        kMost, kLate);
       }},
      {"reference", frame_packet_bytes(40, 24),
       [](Out out) {
         return encode_factory_reference(out, {counts.data(), counts.size()}, {40, 24});
       }},
      {"contacts", contacts_packet_bytes(kMaxContacts),
       [](Out out) {
         return encode_contacts(out, {contacts.data(), contacts.size()}, kLate);
       }},
      {"journal", kJournalPacketBytes, [=](Out out) { return encode_journal_entry(out, entry); }},
      {"supply", kSupplyPacketBytes, [=](Out out) { return encode_supply_state(out, supply); }},
      {"note", note_packet_bytes(200), [](Out out) { return encode_note(out, view(text), kLate); }},
  };
}

TEST(PacketsWithTheGreatestNumbers, FitThePromisedBuffer) {
  for (const Case& each : greatest_packets()) {
    SCOPED_TRACE(each.name);
    Bytes buffer(each.enough);
    const PacketResult result = each.encode({buffer.data(), buffer.size()});
    ASSERT_EQ(result.status, PacketStatus::ok);
    buffer.resize(result.size);
    EXPECT_FALSE(body_of(buffer).empty());
  }
}

TEST(PacketsIntoAShorterBuffer, AreWholeOrRefusedAndStayInside) {
  for (const Case& each : greatest_packets()) {
    SCOPED_TRACE(each.name);
    std::size_t refused = 0;
    for (std::size_t room = 0; room <= each.enough; ++room) {
      Bytes buffer(room + 1, 0xA5);
      const PacketResult result = each.encode({buffer.data(), room});
      EXPECT_EQ(buffer[room], 0xA5);
      if (result.status == PacketStatus::ok) {
        EXPECT_LE(result.size, room);
        buffer.resize(result.size);
        body_of(buffer);
        continue;
      }
      EXPECT_EQ(result.status, PacketStatus::buffer_too_small);
      ++refused;
    }
    EXPECT_GT(refused, 20u);
  }
}

TEST(ARawFramePacket, HasTheBodyThatWasWrittenByHand) {
  const std::uint16_t raw[] = {0x0102, 0, 0xFFFF, 300, 4, 5};
  Bytes buffer(frame_packet_bytes(2, 3));
  const PacketResult result =
      encode_raw_frame({buffer.data(), buffer.size()}, {raw, {2, 3}, 7, 16000});
  ASSERT_EQ(result.status, PacketStatus::ok);
  buffer.resize(result.size);
  const Bytes body = {0xA6,                    // map of 6
                      0,    2,                 // kind: raw frame
                      1,    7,                 // sequence
                      2,    0x19, 0x3E, 0x80,  // time
                      3,    2,    4,    3,     // rows, columns
                      5,    0xD8, 69,   0x4C,  // samples: tag 69, 12 bytes
                      0x02, 0x01, 0,    0,    0xFF, 0xFF, 0x2C, 0x01, 4, 0, 5, 0};
  EXPECT_EQ(body_of(buffer), body);
}

TEST(ASupplyPacketOfADeviceThatKnowsLittle, LeavesTheUnknownOut) {
  Bytes buffer(kSupplyPacketBytes);
  SupplyState supply;
  supply.t_us = 5;
  supply.docked = Known::no;
  const PacketResult result = encode_supply_state({buffer.data(), buffer.size()}, supply);
  ASSERT_EQ(result.status, PacketStatus::ok);
  buffer.resize(result.size);
  EXPECT_EQ(body_of(buffer), (Bytes{0xA3, 0, 7, 2, 5, 0x18, 24, 0xF4}));
}

TEST(AJournalPacketWithoutAPlace, LeavesRowAndColumnOut) {
  Bytes buffer(kJournalPacketBytes);
  const JournalEntry entry{9, -3, 4, JournalCode::power_up, 0, kNoLine, kNoLine};
  const PacketResult result = encode_journal_entry({buffer.data(), buffer.size()}, entry);
  ASSERT_EQ(result.status, PacketStatus::ok);
  buffer.resize(result.size);
  EXPECT_EQ(body_of(buffer), (Bytes{0xA5, 0, 6, 2, 9, 17, 1, 20, 0x22, 21, 4}));
}

TEST(FramesOfAWrongShape, AreRefusedAndTheBufferStaysUntouched) {
  const std::uint16_t raw[6] = {};
  const std::int16_t difference[6] = {};
  Bytes buffer(frame_packet_bytes(2, 3), 0xA5);
  const Out out{buffer.data(), buffer.size()};
  for (const Shape shape : {Shape{0, 3}, Shape{2, 0}, Shape{-2, -3}}) {
    EXPECT_EQ(encode_raw_frame(out, {raw, shape, 0, 0}).status, PacketStatus::bad_shape);
    EXPECT_EQ(encode_difference_frame(out, {difference, 6}, shape, 0, 0).status,
              PacketStatus::bad_shape);
  }
  EXPECT_EQ(encode_raw_frame(out, {nullptr, {2, 3}, 0, 0}).status, PacketStatus::bad_shape);
  EXPECT_EQ(encode_factory_reference(out, {raw, 5}, {2, 3}).status, PacketStatus::bad_shape);
  EXPECT_EQ(encode_panel_description(out, {}).status, PacketStatus::bad_shape);
  EXPECT_EQ(buffer, Bytes(buffer.size(), 0xA5));
}

TEST(TextsBeyondTheLimit, AreRefused) {
  const std::string text(kMaxPacketText + 1, 'x');
  Bytes buffer(note_packet_bytes(text.size()));
  const Out out{buffer.data(), buffer.size()};
  EXPECT_EQ(encode_note(out, view(text), 0).status, PacketStatus::text_too_long);
  EXPECT_EQ(encode_note(out, {text.data(), kMaxPacketText}, 0).status, PacketStatus::ok);
  PanelInfo info;
  info.shape = {2, 3};
  info.firmware = view(text);
  EXPECT_EQ(encode_panel_description(out, info).status, PacketStatus::text_too_long);
}

}  // namespace
}  // namespace bareglass
