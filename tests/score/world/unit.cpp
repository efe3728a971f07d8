#include "unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <memory>
#include <stdexcept>

#include "bareglass/core/engine.hpp"
#include "front_end.hpp"

namespace bareglass::world {

namespace {

constexpr double kSupplyEvery_s = 1.0;
constexpr int kMostLines = 128;
enum Stream : std::uint64_t { kFaults = 221 };

/// Which of the faults are there: intermittent ones come and go as a random telegraph.
class Telegraphs {
 public:
  explicit Telegraphs(std::uint64_t seed) : random_(seed, kFaults) {}

  std::vector<panel::LineFault> at(const std::vector<panel::NamedFault>& faults, double t_s) {
    std::vector<panel::LineFault> out;
    for (const auto& [name, fault] : faults) {
      if (fault.mean_there_s <= 0.0 || is_there(name, fault, t_s)) out.push_back(fault);
    }
    return out;
  }

 private:
  struct State {
    bool there = true;
    double until_s = -1.0;
  };
  bool is_there(const std::string& name, const panel::LineFault& fault, double t_s) {
    State& s = states_[name];
    if (s.until_s < 0.0) s.until_s = t_s + fault.mean_there_s * random_.exponential();
    while (s.until_s < t_s) {
      s.there = !s.there;
      s.until_s += (s.there ? fault.mean_there_s : fault.mean_away_s) * random_.exponential();
    }
    return s.there;
  }
  panel::Random random_;
  std::map<std::string, State> states_;
};

/// The unit, frame by frame.
class Unit {
 public:
  explicit Unit(const WorldCase& c);
  std::vector<host::Record> run();

 private:
  void configure();
  void announce();
  void power_up(double at_s);
  void scan(const panel::Situation& now, double t_s);
  void tell_journal();
  void tell_supply(const panel::DeviceState& device);
  host::PanelDescription description() const;

  const WorldCase& case_;
  Forward forward_;
  panel::Timeline timeline_;
  panel::NodeMatrix charge_;
  Eigen::VectorXd hum_;
  std::unique_ptr<FrontEnd> front_end_;
  std::unique_ptr<Storage<kMostLines, kMostLines>> storage_;
  Engine device_;
  Telegraphs telegraphs_;
  std::vector<std::uint16_t> reference_;
  std::vector<host::Record> out_;
  host::FrameRecord frame_;
  double powered_s_ = 0.0;         ///< of the story
  double clock_zero_s_ = 0.0;      ///< of the story, at time 0 of the unit's clock
  std::uint64_t power_up_us_ = 0;  ///< on the unit's clock
  std::uint32_t sequence_ = 0;
  std::uint32_t journal_sent_ = 0;
  double next_supply_s_ = 0.0;
};

std::uint16_t micrometres(double mm) { return static_cast<std::uint16_t>(std::lround(mm * 1000)); }

Unit::Unit(const WorldCase& c)
    : case_(c),
      forward_(c),
      timeline_(c.scenario),
      storage_(std::make_unique<Storage<kMostLines, kMostLines>>()),
      device_(storage_->memory()),
      telegraphs_(c.seed) {
  forward_.read(charge_, hum_, {}, {});
  front_end_ = std::make_unique<FrontEnd>(c, charge_);
  reference_ = front_end_->reference();
  configure();
}

void Unit::configure() {
  const panel::Scenario& s = case_.scenario;
  Settings settings = s.thresholds;
  settings.shape = {s.setup.rows, s.setup.columns};
  settings.finger_counts = static_cast<std::uint16_t>(case_.finger_counts);
  settings.counts_rise = case_.disturbance.counts_rise;
  settings.pitch_row_um = micrometres(s.panel.rows.pitch_mm);
  settings.pitch_col_um = micrometres(s.panel.columns.pitch_mm);
  settings.frame_period_us = s.frame_period_us;
  settings.policy = s.policy;
  settings.raw_high = static_cast<std::uint16_t>(s.setup.front_end.raw_max - 16);
  const View<const std::uint16_t> known{reference_.data(),
                                        s.factory_reference ? reference_.size() : 0};
  const SettingsField wrong = device_.configure(settings, known);
  if (wrong != SettingsField::none)
    throw std::runtime_error(
        fmt::format("case {}: the core's settings can't hold its {}", case_.seed, name_of(wrong)));
}

host::PanelDescription Unit::description() const {
  const panel::Scenario& s = case_.scenario;
  host::PanelDescription d;
  d.rows = s.setup.rows;
  d.cols = s.setup.columns;
  d.pitch_row_mm = s.panel.rows.pitch_mm;
  d.pitch_col_mm = s.panel.columns.pitch_mm;
  d.finger_counts = case_.finger_counts;
  d.counts_rise = case_.disturbance.counts_rise;
  d.frame_period_us = s.frame_period_us;
  d.unit_id = s.unit_id;
  d.panel_name = s.panel.name;
  d.firmware = "simulated 1";
  d.raw_max = s.setup.front_end.raw_max;
  d.power_up_us = power_up_us_;
  return d;
}

void Unit::announce() {
  const panel::Scenario& s = case_.scenario;
  out_.emplace_back(description());
  out_.emplace_back(
      host::NoteRecord{0, fmt::format("story: case {} of world {}", case_.seed, case_.world)});
  for (const Item& item : case_.items) {
    std::string text =
        fmt::format("truth: {} visible={} snr={:.0f} peak={:.2f} right=", name_of(item.kind),
                    item.visible, item.snr, item.peak_of_finger);
    for (const std::string& name : item.right) text += name + ",";
    out_.emplace_back(host::NoteRecord{0, text});
  }
  if (s.factory_reference)
    out_.emplace_back(host::ReferenceRecord{s.setup.rows, s.setup.columns, reference_});
}

void Unit::power_up(double at_s) {
  powered_s_ = at_s;
  if (case_.disturbance.clock_restarts) clock_zero_s_ = at_s;
  power_up_us_ = static_cast<std::uint64_t>(std::llround((at_s - clock_zero_s_) * 1e6));
  sequence_ = 0;
  next_supply_s_ = at_s;
  device_.power_up(power_up_us_);
}

void Unit::tell_journal() {
  const Journal& journal = device_.journal();
  for (journal_sent_ = std::max(journal_sent_, journal.first()); journal_sent_ < journal.end();
       ++journal_sent_) {
    const JournalEntry& e = journal.at(journal_sent_);
    out_.emplace_back(
        host::JournalRecord{e.t_us, e.code, e.row, e.col, e.value, e.limit, e.detail});
  }
}

void Unit::tell_supply(const panel::DeviceState& device) {
  out_.emplace_back(host::SupplyRecord{frame_.t_us, static_cast<int>(std::lround(device.supply_mv)),
                                       device.charging, device.docked,
                                       static_cast<int>(std::lround(10.0 * device.temperature_c))});
}

void Unit::scan(const panel::Situation& now, double t_s) {
  forward_.read(charge_, hum_, now, telegraphs_.at(timeline_.faults(), t_s));
  front_end_->digitise(frame_.raw, charge_, hum_, now.device, t_s, t_s - powered_s_);
  frame_.sequence = sequence_++;
  frame_.t_us = static_cast<std::uint64_t>(std::llround((t_s - clock_zero_s_) * 1e6));
  frame_.rows = case_.scenario.setup.rows;
  frame_.cols = case_.scenario.setup.columns;
  device_.step({frame_.raw.data(), {frame_.rows, frame_.cols}, frame_.sequence, frame_.t_us});
  tell_journal();
  if (t_s >= next_supply_s_) {
    tell_supply(now.device);
    next_supply_s_ = t_s + kSupplyEvery_s;
  }
  out_.emplace_back(frame_);
}

std::vector<host::Record> Unit::run() {
  const panel::Scenario& s = case_.scenario;
  const double period_s = s.frame_period_us * 1e-6;
  const int frames = static_cast<int>(s.duration_s / period_s);
  bool was_on = false;
  for (int n = 1; n <= frames; ++n) {
    const double t_s = n * period_s;
    const panel::Situation& now = timeline_.at(t_s);
    const bool on = timeline_.powered();
    if (on && !was_on) {
      power_up(n == 1 ? 0.0 : t_s - period_s);
      if (n == 1)
        announce();
      else
        out_.emplace_back(description());
    }
    was_on = on;
    if (on) scan(now, t_s);
  }
  return std::move(out_);
}

}  // namespace

std::vector<host::Record> play(const WorldCase& c) { return Unit(c).run(); }

}  // namespace bareglass::world
