// Writes the panel frame stream with the very encoder a controller uses.

#include <cmath>

#include "bareglass/core/packet.hpp"
#include "writers.hpp"

namespace bareglass::host {

namespace {

View<const char> view_of(const std::string& text) { return {text.data(), text.size()}; }

template <typename T>
View<const T> view_of(const std::vector<T>& values) {
  return {values.data(), values.size()};
}

Known known_of(const std::optional<bool>& flag) {
  if (!flag) return Known::unknown;
  return *flag ? Known::yes : Known::no;
}

class StreamWriter final : public CaptureWriter {
 public:
  explicit StreamWriter(Output output) : output_(std::move(output)) {}

  void write(const Record& record) override {
    std::visit([this](const auto& r) { put(r); }, record);
  }
  void finish() override { output_->finish(); }

 private:
  void put(const PanelDescription& panel) {
    PanelInfo info;
    info.shape = {panel.rows, panel.cols};
    info.pitch_row_nm = nanometres(panel.pitch_row_mm);
    info.pitch_col_nm = nanometres(panel.pitch_col_mm);
    if (panel.finger_counts < 0) fail("finger counts of 0 or more");
    info.finger_counts = static_cast<std::uint32_t>(panel.finger_counts);
    info.counts_rise = panel.counts_rise;
    info.frame_period_us = panel.frame_period_us;
    info.raw_max = panel.raw_max.value_or(0);
    info.power_up_known = panel.power_up_us.has_value();
    info.power_up_us = panel.power_up_us.value_or(0);
    info.unit_id = view_of(panel.unit_id);
    info.panel_name = view_of(panel.panel_name);
    info.firmware = view_of(panel.firmware);
    const std::size_t text = panel.unit_id.size() + panel.panel_name.size() + panel.firmware.size();
    send(encode_panel_description(room(description_packet_bytes(text)), info));
  }

  void put(const FrameRecord& frame) {
    const Shape shape{frame.rows, frame.cols};
    check_shape(shape, frame.kind == FrameKind::raw ? frame.raw.size() : frame.difference.size());
    const View<std::uint8_t> out = room(frame_packet_bytes(frame.rows, frame.cols));
    if (frame.kind == FrameKind::raw)
      send(encode_raw_frame(out, {frame.raw.data(), shape, frame.sequence, frame.t_us}));
    else
      send(encode_difference_frame(out, view_of(frame.difference), shape, frame.sequence,
                                   frame.t_us));
  }

  void put(const ReferenceRecord& reference) {
    const Shape shape{reference.rows, reference.cols};
    check_shape(shape, reference.raw.size());
    send(encode_factory_reference(room(frame_packet_bytes(reference.rows, reference.cols)),
                                  view_of(reference.raw), shape));
  }

  void put(const ContactsRecord& record) {
    std::vector<Contact> contacts;
    for (const DeviceContact& from : record.contacts) {
      Contact contact;
      contact.id = from.id;
      contact.tip = from.tip;
      contact.x_q8 = from.x_q8;
      contact.y_q8 = from.y_q8;
      contact.strength = from.strength;
      contacts.push_back(contact);
    }
    send(encode_contacts(room(contacts_packet_bytes(contacts.size())), view_of(contacts),
                         record.t_us));
  }

  void put(const JournalRecord& entry) {
    send(encode_journal_entry(
        room(kJournalPacketBytes),
        {entry.t_us, entry.value, entry.limit, entry.code, entry.detail, entry.row, entry.col}));
  }

  void put(const SupplyRecord& record) {
    const int millivolts = record.millivolts.value_or(0);
    const int temperature = record.temperature_c10.value_or(0);
    if (millivolts < 0 || millivolts > 65535) fail("millivolts from 0 to 65535");
    if (temperature < INT16_MIN || temperature > INT16_MAX) fail("a temperature of 16 bits");
    SupplyState supply;
    supply.t_us = record.t_us;
    supply.millivolts = static_cast<std::uint16_t>(millivolts);
    supply.charging = known_of(record.charging);
    supply.docked = known_of(record.docked);
    supply.temperature_known = record.temperature_c10.has_value();
    supply.temperature_c10 = static_cast<std::int16_t>(temperature);
    send(encode_supply_state(room(kSupplyPacketBytes), supply));
  }

  void put(const NoteRecord& note) {
    send(encode_note(room(note_packet_bytes(note.text.size())), view_of(note.text), note.t_us));
  }

  std::uint32_t nanometres(double mm) const {
    if (!(mm >= 0 && mm <= 1000)) fail("a pitch from 0 to 1000 mm");
    return static_cast<std::uint32_t>(std::llround(mm * 1e6));
  }

  void check_shape(Shape shape, std::size_t values) const {
    const bool lines = shape.rows >= 1 && shape.rows <= kMaxCaptureLines && shape.cols >= 1 &&
                       shape.cols <= kMaxCaptureLines;
    if (!lines || values != static_cast<std::size_t>(shape.nodes()))
      fail("1 to 1024 rows and columns and a value for each node");
  }

  View<std::uint8_t> room(std::size_t size) {
    if (buffer_.size() < size) buffer_.resize(size);
    return {buffer_.data(), buffer_.size()};
  }

  void send(const PacketResult& packet) {
    switch (packet.status) {
      case PacketStatus::ok:
        output_->write(buffer_.data(), packet.size);
        return;
      case PacketStatus::bad_shape:
        fail("1 or more rows and columns and a value for each node");
      case PacketStatus::text_too_long:
        fail("texts of at most 4096 bytes");
      case PacketStatus::buffer_too_small:
        fail("a packet that fits its buffer");
    }
  }

  [[noreturn]] void fail(const char* expected) const {
    throw CaptureWriteError(output_->name(), "",
                            std::string("cannot hold the record, expected ") + expected);
  }

  Output output_;
  std::vector<std::uint8_t> buffer_;
};

}  // namespace

std::unique_ptr<CaptureWriter> make_stream_writer(Output output) {
  return std::make_unique<StreamWriter>(std::move(output));
}

}  // namespace bareglass::host
