#include "packet_body.hpp"

#include <cstring>

#include "bareglass/core/cbor_writer.hpp"
#include "packet_fields.hpp"

namespace bareglass::host {

namespace {

using Key = PacketKey;

constexpr std::uint64_t kMost32 = 0xFFFFFFFFu;
/// Pitches and counts are held as int or as millimetres; 2^31 - 1 keeps both exact.
constexpr std::uint64_t kMostInt = 0x7FFFFFFFu;

/// `out` as the alternative T, with its buffers kept if it is one already.
template <typename T>
T& as(Record& out) {
  T* same = std::get_if<T>(&out);
  return same != nullptr ? *same : out.emplace<T>();
}

struct Lines {
  int rows = 0, cols = 0;
  std::size_t nodes() const {
    return static_cast<std::size_t>(rows) * static_cast<std::size_t>(cols);
  }
};

Lines shape_of(PacketFields& fields) {
  constexpr const char* kExpected = "rows and columns from 1 to 1024";
  static_assert(kMaxCaptureLines == 1024);
  Lines lines;
  lines.rows = static_cast<int>(fields.number(Key::rows, kMaxCaptureLines, kExpected));
  lines.cols = static_cast<int>(fields.number(Key::cols, kMaxCaptureLines, kExpected));
  if (lines.rows < 1 || lines.cols < 1) fields.set_wrong(kExpected);
  return lines;
}

std::uint64_t time_of(PacketFields& fields) {
  return fields.number(Key::t_us, UINT64_MAX, "a time stamp");
}

template <typename T>
void copy_samples(std::vector<T>& out, const std::uint8_t* bytes, std::size_t count) {
  out.resize(count);
#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
  std::memcpy(out.data(), bytes, 2 * count);
#else
  for (std::size_t i = 0; i < count; ++i)
    out[i] = static_cast<T>(bytes[2 * i] | bytes[2 * i + 1] << 8);
#endif
}

void parse_frame(FrameRecord& out, PacketFields& fields, FrameKind kind) {
  const Lines lines = shape_of(fields);
  const bool raw = kind == FrameKind::raw;
  const unsigned tag = raw ? kTagUint16LittleEndian : kTagSint16LittleEndian;
  const std::uint8_t* samples = fields.typed_array(
      Key::samples, tag, 2 * lines.nodes(),
      raw ? "a uint16 array of rows x columns" : "a sint16 array of rows x columns");
  out.kind = kind;
  out.sequence =
      static_cast<std::uint32_t>(fields.number(Key::sequence, kMost32, "a sequence number"));
  out.t_us = time_of(fields);
  if (fields.wrong() != nullptr) return;
  out.rows = lines.rows;
  out.cols = lines.cols;
  if (raw) {
    copy_samples(out.raw, samples, lines.nodes());
    out.difference.clear();
  } else {
    copy_samples(out.difference, samples, lines.nodes());
    out.raw.clear();
  }
}

void parse_reference(ReferenceRecord& out, PacketFields& fields) {
  const Lines lines = shape_of(fields);
  const std::uint8_t* samples = fields.typed_array(
      Key::samples, kTagUint16LittleEndian, 2 * lines.nodes(), "a uint16 array of rows x columns");
  if (fields.wrong() != nullptr) return;
  out.rows = lines.rows;
  out.cols = lines.cols;
  copy_samples(out.raw, samples, lines.nodes());
}

std::uint64_t number_or_zero(PacketFields& fields, Key key, std::uint64_t most,
                             const char* expected) {
  return fields.has(key) ? fields.number(key, most, expected) : 0;
}

void text_if_present(std::string& out, PacketFields& fields, Key key) {
  if (fields.has(key)) fields.text(out, key, "UTF-8 text of at most 4096 bytes");
}

void parse_description(PanelDescription& out, PacketFields& fields) {
  constexpr double kNanometresPerMillimetre = 1e6;
  out = PanelDescription{};
  const Lines lines = shape_of(fields);
  out.rows = lines.rows;
  out.cols = lines.cols;
  out.pitch_row_mm =
      static_cast<double>(number_or_zero(fields, Key::pitch_row_nm, kMostInt, "a pitch in nm")) /
      kNanometresPerMillimetre;
  out.pitch_col_mm =
      static_cast<double>(number_or_zero(fields, Key::pitch_col_nm, kMostInt, "a pitch in nm")) /
      kNanometresPerMillimetre;
  out.finger_counts = static_cast<int>(
      number_or_zero(fields, Key::finger_counts, kMostInt, "finger counts below 2^31"));
  out.counts_rise = fields.has(Key::counts_rise) && fields.flag(Key::counts_rise, "true or false");
  out.frame_period_us = static_cast<std::uint32_t>(
      number_or_zero(fields, Key::frame_period_us, kMost32, "a frame period of 32 bits"));
  text_if_present(out.unit_id, fields, Key::unit_id);
  text_if_present(out.panel_name, fields, Key::panel_name);
  text_if_present(out.firmware, fields, Key::firmware);
  if (fields.has(Key::raw_max))
    out.raw_max = static_cast<std::uint32_t>(
        fields.number(Key::raw_max, kMost32, "a greatest count of 32 bits"));
  if (fields.has(Key::power_up_us))
    out.power_up_us = fields.number(Key::power_up_us, UINT64_MAX, "a power-up time");
}

bool read_int16(std::int16_t& out, CborCursor& at) {
  CborHead head;
  if (!at.head(head) || head.value > INT16_MAX) return false;
  const int value = static_cast<int>(head.value);
  out = static_cast<std::int16_t>(head.type == CborType::negative_integer ? -1 - value : value);
  return head.type == CborType::unsigned_integer || head.type == CborType::negative_integer;
}

bool read_contact(DeviceContact& out, CborCursor& at) {
  CborHead list, id, tip;
  if (!at.head(list) || list.type != CborType::array || list.value < 5) return false;
  if (!at.head(id) || id.type != CborType::unsigned_integer || id.value > 255) return false;
  if (!at.head(tip) || tip.type != CborType::simple || (tip.value | 1u) != 21u) return false;
  out.id = static_cast<std::uint8_t>(id.value);
  out.tip = tip.value == 21;
  if (!read_int16(out.x_q8, at) || !read_int16(out.y_q8, at) || !read_int16(out.strength, at))
    return false;
  // Elements that a later version may add.
  return at.skip_content({CborType::array, list.value - 5});
}

void parse_contacts(ContactsRecord& out, PacketFields& fields) {
  constexpr const char* kExpected = "contacts as [id, tip, x_q8, y_q8, strength]";
  out.t_us = time_of(fields);
  std::uint64_t count = 0;
  CborCursor at = fields.array(Key::contacts, count, kExpected);
  out.contacts.resize(count);
  for (DeviceContact& contact : out.contacts) {
    if (read_contact(contact, at)) continue;
    fields.set_wrong(kExpected);
    return;
  }
}

void parse_journal(JournalRecord& out, PacketFields& fields) {
  out = JournalRecord{};
  out.t_us = time_of(fields);
  out.code = static_cast<JournalCode>(fields.number(Key::code, 255, "a journal code up to 255"));
  if (fields.has(Key::row))
    out.row = static_cast<std::uint8_t>(fields.number(Key::row, 254, "a row up to 254"));
  if (fields.has(Key::col))
    out.col = static_cast<std::uint8_t>(fields.number(Key::col, 254, "a column up to 254"));
  out.value = static_cast<std::int32_t>(
      fields.signed_number(Key::value, INT32_MIN, INT32_MAX, "a value of 32 bits"));
  out.limit = static_cast<std::int32_t>(
      fields.signed_number(Key::limit, INT32_MIN, INT32_MAX, "a limit of 32 bits"));
  out.detail =
      static_cast<std::uint8_t>(number_or_zero(fields, Key::detail, 255, "a detail up to 255"));
}

void parse_supply(SupplyRecord& out, PacketFields& fields) {
  out = SupplyRecord{};
  out.t_us = time_of(fields);
  if (fields.has(Key::millivolts))
    out.millivolts =
        static_cast<int>(fields.number(Key::millivolts, 65535, "millivolts up to 65535"));
  if (fields.has(Key::charging)) out.charging = fields.flag(Key::charging, "true or false");
  if (fields.has(Key::docked)) out.docked = fields.flag(Key::docked, "true or false");
  if (fields.has(Key::temperature_c10))
    out.temperature_c10 = static_cast<int>(fields.signed_number(
        Key::temperature_c10, INT16_MIN, INT16_MAX, "a temperature of 16 bits"));
}

void parse_note(NoteRecord& out, PacketFields& fields) {
  out.t_us = time_of(fields);
  fields.text(out.text, Key::text, "UTF-8 text of at most 4096 bytes");
}

constexpr KeySet kFrameKeys =
    key_set(Key::kind, Key::sequence, Key::t_us, Key::rows, Key::cols, Key::samples);

/// Keys that parse_kind looks at, by PacketKind.
constexpr KeySet kUsedKeys[kLastPacketKind + 1] = {
    0,
    key_set(Key::kind, Key::rows, Key::cols, Key::pitch_row_nm, Key::pitch_col_nm,
            Key::finger_counts, Key::counts_rise, Key::frame_period_us, Key::unit_id,
            Key::panel_name, Key::firmware, Key::raw_max, Key::power_up_us),
    kFrameKeys,
    kFrameKeys,
    key_set(Key::kind, Key::rows, Key::cols, Key::samples),
    key_set(Key::kind, Key::t_us, Key::contacts),
    key_set(Key::kind, Key::t_us, Key::code, Key::row, Key::col, Key::value, Key::limit,
            Key::detail),
    key_set(Key::kind, Key::t_us, Key::millivolts, Key::charging, Key::docked,
            Key::temperature_c10),
    key_set(Key::kind, Key::t_us, Key::text),
};

void parse_kind(Record& out, PacketFields& fields, PacketKind kind) {
  switch (kind) {
    case PacketKind::panel_description:
      return parse_description(as<PanelDescription>(out), fields);
    case PacketKind::raw_frame:
      return parse_frame(as<FrameRecord>(out), fields, FrameKind::raw);
    case PacketKind::difference_frame:
      return parse_frame(as<FrameRecord>(out), fields, FrameKind::difference);
    case PacketKind::factory_reference:
      return parse_reference(as<ReferenceRecord>(out), fields);
    case PacketKind::contacts:
      return parse_contacts(as<ContactsRecord>(out), fields);
    case PacketKind::journal_entry:
      return parse_journal(as<JournalRecord>(out), fields);
    case PacketKind::supply_state:
      return parse_supply(as<SupplyRecord>(out), fields);
    case PacketKind::note:
      return parse_note(as<NoteRecord>(out), fields);
  }
}

}  // namespace

BodyResult parse_body(Record& out, const std::uint8_t* body, std::size_t size) {
  PacketFields fields;
  if (!fields.parse(body, size))
    return {BodyStatus::malformed, 0, "one CBOR map with unsigned keys, each once"};
  const std::uint64_t kind = fields.number(Key::kind, UINT64_MAX, "a packet kind");
  if (fields.wrong() != nullptr) return {BodyStatus::malformed, 0, fields.wrong()};
  if (kind == 0 || kind > kLastPacketKind) return {BodyStatus::unknown_kind, 0, nullptr};
  parse_kind(out, fields, static_cast<PacketKind>(kind));
  if (fields.wrong() != nullptr) return {BodyStatus::malformed, 0, fields.wrong()};
  return {BodyStatus::ok, fields.count_unused(kUsedKeys[kind]), nullptr};
}

}  // namespace bareglass::host
