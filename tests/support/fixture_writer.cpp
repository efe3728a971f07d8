#include <fstream>
#include <memory>
#include <random>
#include <sstream>

#include "bareglass/core/engine.hpp"
#include "bareglass/host/capture/writer.hpp"
#include "support/fixture_scripts.hpp"

namespace bareglass::support {

namespace {

using Send = std::function<void(const host::Record&)>;

host::PanelDescription description_of(const FixtureScript& script, const Settings& settings) {
  host::PanelDescription d;
  d.rows = settings.shape.rows;
  d.cols = settings.shape.cols;
  d.pitch_row_mm = settings.pitch_row_um / 1000.0;
  d.pitch_col_mm = settings.pitch_col_um / 1000.0;
  d.finger_counts = settings.finger_counts;
  d.frame_period_us = settings.frame_period_us;
  d.unit_id = script.unit_id;
  d.panel_name = "demo panel 80 x 50 mm";
  d.firmware = "demo 1";
  d.raw_max = 65535;
  if (script.with_power_up) d.power_up_us = 0;
  return d;
}

// Sends what the device's own journal has gained, as its firmware would.
void send_journal(const Send& send, const Journal& journal, std::uint32_t& sent) {
  for (; sent < journal.end(); ++sent) {
    const JournalEntry& e = journal.at(sent);
    send(host::JournalRecord{e.t_us, e.code, e.row, e.col, e.value, e.limit, e.detail});
  }
}

// What a loose plug does to a transmission: bytes garbled here, a stretch missing there, and the
// recording torn off in the middle of a packet.
void write_damaged_copy(const std::string& from, const std::string& to) {
  std::ifstream in(from, std::ios::binary);
  std::ostringstream copied;
  copied << in.rdbuf();
  std::string bytes = copied.str();
  std::mt19937_64 random(108);
  for (int k = 0; k < 12; ++k)
    bytes[2000 + random() % (bytes.size() - 2000)] ^= static_cast<char>(1 + random() % 255);
  bytes.erase(bytes.size() / 2, 5000);
  bytes.resize(bytes.size() - 100);
  std::ofstream out(to, std::ios::binary);
  out << bytes;
  if (!out.flush()) throw host::CaptureWriteError(to, "", "room for the fixture");
}

}  // namespace

void play(const FixtureScript& script, const Send& send) {
  EffectScene scene(script.panel);
  Settings settings = settings_for(script.panel);
  settings.policy = script.policy;
  const std::vector<std::uint16_t> reference = scene.reference();

  // The device itself: the same core, with the reference it would have.
  const auto storage = std::make_unique<Storage<32, 32>>();
  Engine device(storage->memory());
  device.configure(settings, {reference.data(), reference.size()});
  device.power_up(0);

  send(description_of(script, settings));
  send(host::NoteRecord{0, "story: " + script.story});
  if (script.with_reference)
    send(host::ReferenceRecord{settings.shape.rows, settings.shape.cols, reference});
  std::uint32_t sent = 0;
  host::FrameRecord frame;
  frame.kind = host::FrameKind::raw;
  frame.rows = settings.shape.rows;
  frame.cols = settings.shape.cols;
  const std::uint64_t period = settings.frame_period_us;
  const auto frames = static_cast<std::uint32_t>(script.last_s * 1e6 / static_cast<double>(period));
  for (std::uint32_t n = 0; n <= frames; ++n) {
    frame.sequence = n;
    frame.t_us = period * (n + 1);
    const double t_s = static_cast<double>(frame.t_us) / 1e6;
    scene.clear();
    script.at(scene, t_s);
    frame.raw = scene.frame();
    device.step({frame.raw.data(), settings.shape, frame.sequence, frame.t_us});
    if (t_s < script.first_s) {
      sent = device.journal().end();
      continue;
    }
    send_journal(send, device.journal(), sent);
    send(frame);
  }
}

std::vector<std::string> write_fixtures(const std::string& folder) {
  std::vector<std::string> written;
  for (const FixtureScript& script : fixture_scripts()) {
    const std::string path = folder + "/" + script.name + ".frames";
    const auto writer = host::create_capture(path, host::CaptureFormat::frames);
    play(script, [&](const host::Record& record) { writer->write(record); });
    writer->finish();
    written.push_back(script.name + ".frames");
  }
  write_damaged_copy(folder + "/finger-at-power-up.frames", folder + "/damaged.frames");
  written.emplace_back("damaged.frames");
  return written;
}

}  // namespace bareglass::support
