#include "bareglass/panel/player.hpp"

#include <fmt/format.h>

#include <cmath>
#include <memory>

#include "bareglass/core/engine.hpp"
#include "bareglass/host/capture/error.hpp"

namespace bareglass::panel {

namespace {

constexpr int kMostLines = 128;
/// How often the device tells its supply state.
constexpr double kSupplyEvery_s = 1.0;

/// One run of a scenario.
class Performance {
 public:
  Performance(const Scenario& scenario, const SendRecord& send)
      : scenario_(scenario),
        send_(send),
        panel_(scenario.panel, kernels_of(scenario.panel, scenario.panel_path), scenario.setup),
        timeline_(scenario),
        reference_(panel_.reference()),
        storage_(std::make_unique<Storage<kMostLines, kMostLines>>()),
        device_(storage_->memory()) {
    settings_.shape = {scenario.setup.rows, scenario.setup.columns};
    settings_.finger_counts = finger_counts();
    settings_.pitch_row_um = micrometres(scenario.panel.rows.pitch_mm);
    settings_.pitch_col_um = micrometres(scenario.panel.columns.pitch_mm);
    settings_.frame_period_us = scenario.frame_period_us;
    settings_.policy = scenario.policy;
    const std::uint16_t top = scenario.setup.front_end.raw_max;
    settings_.raw_high = static_cast<std::uint16_t>(top - 16);
    const View<const std::uint16_t> known{reference_.data(),
                                          scenario.factory_reference ? reference_.size() : 0};
    const SettingsField wrong = device_.configure(settings_, known);
    if (wrong != SettingsField::none)
      throw host::CaptureError(
          scenario.file, "",
          fmt::format("expected numbers that the device's settings can hold; {} is out of range",
                      name_of(wrong)));
  }

  void run(const PlayProgress& progress) {
    const bool from_power_up = scenario_.record_from_s <= 0.0;
    device_.power_up(0);
    describe(from_power_up, 0);
    note(0, "story: " + scenario_.story);
    if (scenario_.factory_reference)
      send_(host::ReferenceRecord{scenario_.setup.rows, scenario_.setup.columns, reference_});
    const double period_s = scenario_.frame_period_us * 1e-6;
    const auto frames = static_cast<std::uint32_t>(std::floor(scenario_.duration_s / period_s));
    for (std::uint32_t n = 0; n < frames; ++n) {
      step(n);
      if (progress) progress((n + 1) * period_s, scenario_.duration_s);
    }
  }

 private:
  std::uint16_t finger_counts() {
    const int counts = panel_.finger_counts();
    if (counts < 16 || counts > 20000)
      throw host::CaptureError(
          scenario_.file, "",
          fmt::format("front_end.counts_per_ff: expected a gain at which a finger is 16 to 20000 "
                      "counts, not {}",
                      counts));
    return static_cast<std::uint16_t>(counts);
  }
  static std::uint16_t micrometres(double mm) {
    return static_cast<std::uint16_t>(std::lround(mm * 1000.0));
  }

  void describe(bool from_power_up, std::uint64_t power_up_us) {
    host::PanelDescription d;
    d.rows = scenario_.setup.rows;
    d.cols = scenario_.setup.columns;
    d.pitch_row_mm = scenario_.panel.rows.pitch_mm;
    d.pitch_col_mm = scenario_.panel.columns.pitch_mm;
    d.finger_counts = settings_.finger_counts;
    d.frame_period_us = scenario_.frame_period_us;
    d.unit_id = scenario_.unit_id;
    d.panel_name = scenario_.panel.name;
    d.firmware = "simulated 1";
    d.raw_max = scenario_.setup.front_end.raw_max;
    if (from_power_up) d.power_up_us = power_up_us;
    send_(d);
  }

  void note(std::uint64_t t_us, std::string text) {
    send_(host::NoteRecord{t_us, std::move(text)});
  }

  void step(std::uint32_t n) {
    const std::uint64_t t_us = std::uint64_t{scenario_.frame_period_us} * (n + 1);
    const double t_s = static_cast<double>(t_us) * 1e-6;
    const bool was_powered = timeline_.powered();
    const Situation& now = timeline_.at(t_s);
    const bool recording = t_s >= scenario_.record_from_s;
    if (timeline_.powered() && !was_powered) restart(t_us, recording);
    if (recording) tell_truth(t_us);
    if (!timeline_.powered()) return;
    frame_.sequence = sequence_++;
    frame_.t_us = t_us;
    frame_.rows = scenario_.setup.rows;
    frame_.cols = scenario_.setup.columns;
    panel_.scan(frame_.raw, now, t_us);
    device_.step({frame_.raw.data(), settings_.shape, frame_.sequence, t_us});
    if (!recording) {
      journal_sent_ = device_.journal().end();
      return;
    }
    send_journal();
    tell_supply(now.device, t_us);
    send_(frame_);
  }

  // The scan before this frame began with the power.
  void restart(std::uint64_t t_us, bool recording) {
    const std::uint64_t power_up_us = t_us - scenario_.frame_period_us;
    device_.power_up(power_up_us);
    sequence_ = 0;
    if (recording) describe(true, power_up_us);
  }

  void tell_truth(std::uint64_t t_us) {
    if (!told_) {
      for (const std::string& line : timeline_.truth()) note(t_us, "truth: " + line);
    } else {
      for (const std::size_t event : timeline_.happened())
        note(t_us, "truth: " + timeline_.truth(event));
    }
    told_ = true;
  }

  void send_journal() {
    const Journal& journal = device_.journal();
    journal_sent_ = std::max(journal_sent_, journal.first());
    for (; journal_sent_ < journal.end(); ++journal_sent_) {
      const JournalEntry& e = journal.at(journal_sent_);
      send_(host::JournalRecord{e.t_us, e.code, e.row, e.col, e.value, e.limit, e.detail});
    }
  }

  void tell_supply(const DeviceState& device, std::uint64_t t_us) {
    const bool changed = supply_told_ && (device.docked != docked_ || device.charging != charging_);
    const double t_s = static_cast<double>(t_us) * 1e-6;
    if (supply_told_ && !changed && t_s < next_supply_s_) return;
    next_supply_s_ = t_s + kSupplyEvery_s;
    supply_told_ = true;
    docked_ = device.docked;
    charging_ = device.charging;
    send_(host::SupplyRecord{t_us, static_cast<int>(std::lround(device.supply_mv)), device.charging,
                             device.docked,
                             static_cast<int>(std::lround(10.0 * device.temperature_c))});
  }

  const Scenario& scenario_;
  const SendRecord& send_;
  SimulatedPanel panel_;
  Timeline timeline_;
  std::vector<std::uint16_t> reference_;
  Settings settings_;
  std::unique_ptr<Storage<kMostLines, kMostLines>> storage_;
  Engine device_;
  host::FrameRecord frame_;
  std::uint32_t sequence_ = 0;
  std::uint32_t journal_sent_ = 0;
  double next_supply_s_ = 0.0;
  bool told_ = false;
  bool supply_told_ = false;
  bool docked_ = false;
  bool charging_ = false;
};

}  // namespace

void play(const Scenario& scenario, const SendRecord& send, const PlayProgress& progress) {
  Performance(scenario, send).run(progress);
}

}  // namespace bareglass::panel
