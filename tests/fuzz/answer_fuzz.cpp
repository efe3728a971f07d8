// A dump of intact packets through everything that answers: replay, diagnosis, text, JSON, pages,
// pictures.

#include <nlohmann/json.hpp>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/present/report.hpp"
#include "bareglass/replay/replay.hpp"
#include "packet_maker.hpp"

namespace bareglass::fuzz {
namespace {

void require_sound(const host::Account& a) {
  using host::Account;
  require(a.events.size() <= Account::kMaxEvents && a.findings.size() <= Account::kMaxFindings &&
              a.notes.size() <= Account::kMaxFindings &&
              a.touches_us.size() <= Account::kMaxTouches,
          "an account is bounded");
  require(a.frames + a.frames_ignored <= a.stats.frames + a.frames_backward,
          "no more frames are replayed than were read");
  require_harmless_line(a.panel.unit_id + a.panel.panel_name + a.panel.firmware);
  for (const host::NoteRecord& note : a.notes) require_harmless_line(note.text);
}

void require_sound(const host::Diagnosis& d) {
  require(!d.causes.empty(), "there is always an answer");
  for (const host::CauseFound& cause : d.causes)
    require(cause.confidence >= 0.0 && cause.confidence <= 1.0, "confidence lies from 0 to 1");
}

void answer(const host::Account& account, const host::Diagnosis& diagnosis) {
  const std::string file = "dump\x9B.frames";
  host::ReportExtras extras;
  extras.dump = file;
  require_harmless(host::explanation_text(file, account, diagnosis, {false, true}));
  const std::string json = host::explanation_json(file, account, diagnosis);
  require_harmless(json);
  require(nlohmann::json::accept(json), "JSON is JSON");
  require_harmless(host::report_html(account, diagnosis, extras));
  require_harmless(host::ward_page_html(account, diagnosis, extras));
  const host::HeatMap map = host::explanation_picture(account, diagnosis);
  if (map.counts.empty()) return;
  require_harmless(host::heat_map_svg(map));
  require_harmless(host::heat_map_terminal(map, false));
}

}  // namespace
}  // namespace bareglass::fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bareglass;
  fuzz::PacketMaker maker(data, size);
  host::ReplayOptions options;
  if (maker.in().chance(40)) options.policy = static_cast<StartPolicy>(maker.in().byte() % 4);
  if (maker.in().chance(20)) options.power_up_us = maker.in().number(4);
  const std::vector<std::uint8_t> stream = maker.stream();
  try {
    const auto reader = host::open_capture(
        std::make_unique<fuzz::PiecesSource>(stream.data(), stream.size(), 1u << 20), "dump",
        {host::CaptureFormat::frames});
    const host::Account account = host::replay(*reader, "dump", options);
    fuzz::require_sound(account);
    const host::Diagnosis diagnosis = host::diagnose(account);
    fuzz::require_sound(diagnosis);
    fuzz::answer(account, diagnosis);
  } catch (const host::CaptureError& e) {
    fuzz::require_harmless_line(e.what());
  }
  return 0;
}
