// The least firmware that uses every stage and sends every kind of packet: what it links is what a
// product pays for the core.
#include "bareglass/core/engine.hpp"
#include "bareglass/core/packet.hpp"

int image_main();  // called by startup.cpp

namespace {

using bareglass::PacketResult;

constexpr bareglass::Shape kShape{40, 24};
bareglass::Storage<kShape.rows, kShape.cols> storage;
std::uint16_t raw[kShape.rows * kShape.cols];
std::uint8_t packet[bareglass::frame_packet_bytes(kShape.rows, kShape.cols)];
volatile std::size_t bytes_sent = 0;  // stands for the serial port

void send(PacketResult result) { bytes_sent = bytes_sent + result.size; }

void send_all(const bareglass::Engine& engine, const bareglass::Frame& frame) {
  const bareglass::View<std::uint8_t> out{packet, sizeof packet};
  bareglass::PanelInfo info;
  info.shape = kShape;
  send(encode_panel_description(out, info));
  send(encode_raw_frame(out, frame));
  send(encode_difference_frame(out, engine.difference(), kShape, frame.sequence, frame.t_us));
  send(encode_factory_reference(out, {raw, sizeof raw / sizeof raw[0]}, kShape));
  send(encode_contacts(out, engine.contacts(), frame.t_us));
  send(encode_journal_entry(out, engine.journal().at(engine.journal().first())));
  send(encode_supply_state(out, bareglass::SupplyState{}));
  send(encode_note(out, {"ready", 5}, frame.t_us));
}

}  // namespace

int image_main() {
  static bareglass::Engine engine(storage.memory());
  bareglass::Settings settings;
  settings.shape = kShape;
  if (engine.configure(settings, {raw, sizeof raw / sizeof raw[0]}) !=
      bareglass::SettingsField::none)
    return 1;
  engine.power_up(0);
  for (std::uint32_t n = 1; n < 100; ++n) {
    const bareglass::Frame frame{raw, kShape, n, n * 8000u};
    engine.step(frame);
    send_all(engine, frame);
  }
  return static_cast<int>(engine.findings().size);
}
