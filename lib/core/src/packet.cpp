#include "bareglass/core/packet.hpp"

#include "bareglass/core/cbor_writer.hpp"
#include "bareglass/core/crc32c.hpp"

namespace bareglass {

namespace {

/// Writes a body towards the end of the caller's buffer and then stuffs it towards the front, so
/// that one buffer serves. Keys must be added in ascending order (deterministic encoding).
class PacketBuilder {
 public:
  /// `body_most`: upper bound of the body's size; it decides how far from the front the body
  /// starts.
  PacketBuilder(View<std::uint8_t> out, std::size_t body_most, PacketKind kind, unsigned pairs)
      : out_(out), start_(start_of(out, body_most)), body_(behind(out, start_)) {
    body_.map(1u + pairs);
    number(PacketKey::kind, static_cast<std::uint8_t>(kind));
  }

  CborWriter& value_of(PacketKey key) {
    body_.unsigned_integer(static_cast<std::uint8_t>(key));
    return body_;
  }
  void number(PacketKey key, std::uint64_t value) { value_of(key).unsigned_integer(value); }
  void signed_number(PacketKey key, std::int64_t value) { value_of(key).integer(value); }
  void flag(PacketKey key, bool value) { value_of(key).boolean(value); }
  void text(PacketKey key, View<const char> value) { value_of(key).text(value); }

  PacketResult finish() {
    const std::size_t size = body_.size();
    if (body_.overflowed() || out_.size - start_ - size < 4)
      return {PacketStatus::buffer_too_small, 0};
    std::uint8_t* body = out_.data + start_;
    const std::uint32_t crc = crc32c(kCrc32cStart, {body, size});
    for (unsigned i = 0; i < 4; ++i) body[size + i] = static_cast<std::uint8_t>(crc >> (8 * i));
    const CobsResult stuffed = cobs_encode(out_, {body, size + 4});
    if (stuffed.status != CobsStatus::ok || stuffed.size == out_.size)
      return {PacketStatus::buffer_too_small, 0};
    out_[stuffed.size] = 0;
    return {PacketStatus::ok, stuffed.size + 1};
  }

 private:
  static std::size_t start_of(View<std::uint8_t> out, std::size_t body_most) {
    const std::size_t start = cobs_overhead(body_most + 4);
    return start < out.size ? start : out.size;
  }
  static View<std::uint8_t> behind(View<std::uint8_t> out, std::size_t start) {
    return {out.data + start, out.size - start};
  }

  View<std::uint8_t> out_;
  std::size_t start_;
  CborWriter body_;
};

bool shape_fits(Shape shape, const void* samples, std::size_t count) {
  return shape.rows >= 1 && shape.cols >= 1 && samples != nullptr &&
         count == static_cast<std::size_t>(shape.rows) * static_cast<std::size_t>(shape.cols);
}

void add_shape(PacketBuilder& packet, Shape shape) {
  packet.number(PacketKey::rows, static_cast<std::uint64_t>(shape.rows));
  packet.number(PacketKey::cols, static_cast<std::uint64_t>(shape.cols));
}

// Signed samples come as the same bits: one function for both, compiled once.
PacketResult encode_frame(View<std::uint8_t> out, PacketKind kind,
                          View<const std::uint16_t> samples, Shape shape, std::uint32_t sequence,
                          std::uint64_t t_us) {
  if (!shape_fits(shape, samples.data, samples.size)) return {PacketStatus::bad_shape, 0};
  PacketBuilder packet(out, frame_body_most(samples.size), kind, 5);
  packet.number(PacketKey::sequence, sequence);
  packet.number(PacketKey::t_us, t_us);
  add_shape(packet, shape);
  CborWriter& value = packet.value_of(PacketKey::samples);
  if (kind == PacketKind::difference_frame)
    value.typed_array(View<const std::int16_t>{reinterpret_cast<const std::int16_t*>(samples.data),
                                               samples.size});
  else
    value.typed_array(samples);
  return packet.finish();
}

unsigned one_if(bool present) { return present ? 1u : 0u; }

unsigned description_pairs(const PanelInfo& info) {
  return 2 + one_if(info.pitch_row_nm != 0) + one_if(info.pitch_col_nm != 0) +
         one_if(info.finger_counts != 0) + one_if(info.counts_rise) +
         one_if(info.frame_period_us != 0) + one_if(!info.unit_id.empty()) +
         one_if(!info.panel_name.empty()) + one_if(!info.firmware.empty()) +
         one_if(info.raw_max != 0) + one_if(info.power_up_known);
}

void number_if_known(PacketBuilder& packet, PacketKey key, std::uint32_t value) {
  if (value != 0) packet.number(key, value);
}

void text_if_known(PacketBuilder& packet, PacketKey key, View<const char> value) {
  if (!value.empty()) packet.text(key, value);
}

}  // namespace

PacketResult encode_panel_description(View<std::uint8_t> out, const PanelInfo& info) {
  if (info.shape.rows < 1 || info.shape.cols < 1) return {PacketStatus::bad_shape, 0};
  if (info.unit_id.size > kMaxPacketText || info.panel_name.size > kMaxPacketText ||
      info.firmware.size > kMaxPacketText)
    return {PacketStatus::text_too_long, 0};
  const std::size_t text = info.unit_id.size + info.panel_name.size + info.firmware.size;
  PacketBuilder packet(out, description_body_most(text), PacketKind::panel_description,
                       description_pairs(info));
  add_shape(packet, info.shape);
  number_if_known(packet, PacketKey::pitch_row_nm, info.pitch_row_nm);
  number_if_known(packet, PacketKey::pitch_col_nm, info.pitch_col_nm);
  number_if_known(packet, PacketKey::finger_counts, info.finger_counts);
  if (info.counts_rise) packet.flag(PacketKey::counts_rise, true);
  number_if_known(packet, PacketKey::frame_period_us, info.frame_period_us);
  text_if_known(packet, PacketKey::unit_id, info.unit_id);
  text_if_known(packet, PacketKey::panel_name, info.panel_name);
  text_if_known(packet, PacketKey::firmware, info.firmware);
  number_if_known(packet, PacketKey::raw_max, info.raw_max);
  if (info.power_up_known) packet.number(PacketKey::power_up_us, info.power_up_us);
  return packet.finish();
}

PacketResult encode_raw_frame(View<std::uint8_t> out, const Frame& frame) {
  if (frame.shape.rows < 1 || frame.shape.cols < 1) return {PacketStatus::bad_shape, 0};
  const View<const std::uint16_t> raw{frame.raw, static_cast<std::size_t>(frame.shape.nodes())};
  return encode_frame(out, PacketKind::raw_frame, raw, frame.shape, frame.sequence, frame.t_us);
}

PacketResult encode_difference_frame(View<std::uint8_t> out, View<const std::int16_t> difference,
                                     Shape shape, std::uint32_t sequence, std::uint64_t t_us) {
  const View<const std::uint16_t> bits{reinterpret_cast<const std::uint16_t*>(difference.data),
                                       difference.size};
  return encode_frame(out, PacketKind::difference_frame, bits, shape, sequence, t_us);
}

PacketResult encode_factory_reference(View<std::uint8_t> out, View<const std::uint16_t> raw,
                                      Shape shape) {
  if (!shape_fits(shape, raw.data, raw.size)) return {PacketStatus::bad_shape, 0};
  PacketBuilder packet(out, frame_body_most(raw.size), PacketKind::factory_reference, 3);
  add_shape(packet, shape);
  packet.value_of(PacketKey::samples).typed_array(raw);
  return packet.finish();
}

PacketResult encode_contacts(View<std::uint8_t> out, View<const Contact> contacts,
                             std::uint64_t t_us) {
  PacketBuilder packet(out, contacts_body_most(contacts.size), PacketKind::contacts, 2);
  packet.number(PacketKey::t_us, t_us);
  CborWriter& list = packet.value_of(PacketKey::contacts);
  list.array(contacts.size);
  for (const Contact& contact : contacts) {
    list.array(5);
    list.unsigned_integer(contact.id);
    list.boolean(contact.tip);
    list.integer(contact.x_q8);
    list.integer(contact.y_q8);
    list.integer(contact.strength);
  }
  return packet.finish();
}

PacketResult encode_journal_entry(View<std::uint8_t> out, const JournalEntry& entry) {
  const bool row = entry.row != kNoLine;
  const bool col = entry.col != kNoLine;
  PacketBuilder packet(out, kJournalBodyMost, PacketKind::journal_entry,
                       4 + one_if(row) + one_if(col) + one_if(entry.detail != 0));
  packet.number(PacketKey::t_us, entry.t_us);
  packet.number(PacketKey::code, static_cast<std::uint8_t>(entry.code));
  if (row) packet.number(PacketKey::row, entry.row);
  if (col) packet.number(PacketKey::col, entry.col);
  packet.signed_number(PacketKey::value, entry.value);
  packet.signed_number(PacketKey::limit, entry.limit);
  if (entry.detail != 0) packet.number(PacketKey::detail, entry.detail);
  return packet.finish();
}

PacketResult encode_supply_state(View<std::uint8_t> out, const SupplyState& supply) {
  const bool charging = supply.charging != Known::unknown;
  const bool docked = supply.docked != Known::unknown;
  PacketBuilder packet(out, kSupplyBodyMost, PacketKind::supply_state,
                       1 + one_if(supply.millivolts != 0) + one_if(charging) + one_if(docked) +
                           one_if(supply.temperature_known));
  packet.number(PacketKey::t_us, supply.t_us);
  number_if_known(packet, PacketKey::millivolts, supply.millivolts);
  if (charging) packet.flag(PacketKey::charging, supply.charging == Known::yes);
  if (docked) packet.flag(PacketKey::docked, supply.docked == Known::yes);
  if (supply.temperature_known)
    packet.signed_number(PacketKey::temperature_c10, supply.temperature_c10);
  return packet.finish();
}

PacketResult encode_note(View<std::uint8_t> out, View<const char> text, std::uint64_t t_us) {
  if (text.size > kMaxPacketText) return {PacketStatus::text_too_long, 0};
  PacketBuilder packet(out, note_body_most(text.size), PacketKind::note, 2);
  packet.number(PacketKey::t_us, t_us);
  packet.text(PacketKey::text, text);
  return packet.finish();
}

}  // namespace bareglass
