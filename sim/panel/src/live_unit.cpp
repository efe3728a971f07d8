#include "bareglass/panel/live_unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/capture/error.hpp"
#include "bareglass/settings/settings_table.hpp"

namespace bareglass::panel {

namespace {

/// How often the device tells its supply state.
constexpr double kSupplyEvery_s = 1.0;

std::uint16_t micrometres(double mm) {
  return static_cast<std::uint16_t>(std::lround(mm * 1000.0));
}

}  // namespace

LiveUnit::LiveUnit(const Scenario& scenario)
    : LiveUnit(scenario, kernels_of(scenario.panel, scenario.panel_path)) {}

LiveUnit::LiveUnit(const Scenario& scenario, field::SurfaceKernels kernels)
    : scenario_(scenario),
      panel_(scenario.panel, std::move(kernels), scenario.setup),
      timeline_(scenario),
      reference_(panel_.reference()),
      settings_(scenario.thresholds),
      storage_(std::make_unique<Storage<kMostLines, kMostLines>>()),
      device_(storage_->memory()) {
  configure();
}

void LiveUnit::configure() {
  settings_.shape = {scenario_.setup.rows, scenario_.setup.columns};
  settings_.finger_counts = finger_counts();
  settings_.pitch_row_um = micrometres(scenario_.panel.rows.pitch_mm);
  settings_.pitch_col_um = micrometres(scenario_.panel.columns.pitch_mm);
  settings_.frame_period_us = scenario_.frame_period_us;
  settings_.policy = scenario_.policy;
  settings_.raw_high = static_cast<std::uint16_t>(scenario_.setup.front_end.raw_max - 16);
  const View<const std::uint16_t> known{reference_.data(),
                                        scenario_.factory_reference ? reference_.size() : 0};
  const SettingsField wrong = device_.configure(settings_, known);
  if (wrong != SettingsField::none)
    throw host::CaptureError(
        scenario_.file, "",
        fmt::format("expected numbers that the device's settings can hold: {} {}", name_of(wrong),
                    host::range_text(host::range_of(wrong, settings_))));
}

std::uint16_t LiveUnit::finger_counts() {
  const int counts = panel_.finger_counts();
  if (counts < 16 || counts > 20000)
    throw host::CaptureError(
        scenario_.file, "",
        fmt::format("front_end.counts_per_ff: expected a gain at which a finger is 16 to 20000 "
                    "counts, not {}",
                    counts));
  return static_cast<std::uint16_t>(counts);
}

host::PanelDescription LiveUnit::description() const {
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
  return d;
}

void LiveUnit::announce(const SendRecord& send, bool knows_power_up) const {
  host::PanelDescription d = description();
  if (knows_power_up) d.power_up_us = power_up_us_;
  send(d);
  send(host::NoteRecord{t_us_, "story: " + scenario_.story});
  if (scenario_.factory_reference)
    send(host::ReferenceRecord{scenario_.setup.rows, scenario_.setup.columns, reference_});
}

void LiveUnit::listen(SendRecord send) {
  send_ = std::move(send);
  told_ = false;
  supply_told_ = false;
}

void LiveUnit::note(std::string text) const { send_(host::NoteRecord{t_us_, std::move(text)}); }

LiveUnit::Step LiveUnit::step() {
  t_us_ += scenario_.frame_period_us;
  Step out;
  const bool was_powered = on_;
  const Situation& now = timeline_.at(static_cast<double>(t_us_) * 1e-6);
  out.powered = on_ = timeline_.powered();
  const bool first = t_us_ == scenario_.frame_period_us;
  out.restarted = out.powered && !was_powered && !first;
  if (out.powered && first) device_.power_up(0);
  if (out.restarted) restart();
  if (send_) tell_truth();
  if (!out.powered) return out;
  frame_.sequence = sequence_++;
  frame_.t_us = t_us_;
  frame_.rows = scenario_.setup.rows;
  frame_.cols = scenario_.setup.columns;
  panel_.scan(frame_.raw, now, t_us_);
  out.result = device_.step({frame_.raw.data(), settings_.shape, frame_.sequence, t_us_});
  if (!send_) {
    journal_sent_ = device_.journal().end();
    return out;
  }
  tell_journal();
  tell_supply(now.device);
  send_(frame_);
  return out;
}

// The scan before this frame began with the power.
void LiveUnit::restart() {
  power_up_us_ = t_us_ - scenario_.frame_period_us;
  device_.power_up(power_up_us_);
  sequence_ = 0;
  if (!send_) return;
  host::PanelDescription d = description();
  d.power_up_us = power_up_us_;
  send_(d);
}

void LiveUnit::tell_truth() {
  if (!told_) {
    for (const std::string& line : timeline_.truth()) note("truth: " + line);
  } else {
    for (const std::size_t event : timeline_.happened()) note("truth: " + timeline_.truth(event));
  }
  told_ = true;
}

void LiveUnit::tell_journal() {
  const Journal& journal = device_.journal();
  journal_sent_ = std::max(journal_sent_, journal.first());
  for (; journal_sent_ < journal.end(); ++journal_sent_) {
    const JournalEntry& e = journal.at(journal_sent_);
    send_(host::JournalRecord{e.t_us, e.code, e.row, e.col, e.value, e.limit, e.detail});
  }
}

void LiveUnit::tell_supply(const DeviceState& device) {
  const bool changed = supply_told_ && (device.docked != docked_ || device.charging != charging_);
  const double t_s = static_cast<double>(t_us_) * 1e-6;
  if (supply_told_ && !changed && t_s < next_supply_s_) return;
  next_supply_s_ = t_s + kSupplyEvery_s;
  supply_told_ = true;
  docked_ = device.docked;
  charging_ = device.charging;
  send_(host::SupplyRecord{t_us_, static_cast<int>(std::lround(device.supply_mv)), device.charging,
                           device.docked,
                           static_cast<int>(std::lround(10.0 * device.temperature_c))});
}

}  // namespace bareglass::panel
