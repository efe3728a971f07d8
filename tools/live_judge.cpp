#include "live_judge.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "bareglass/words/text.hpp"

namespace bareglass::tools {

LiveJudge::LiveJudge(host::ReplayOptions options, Say say)
    : options_(std::move(options)),
      say_(std::move(say)),
      storage_(std::make_unique<Storage>()),
      engine_(storage_->memory()),
      feed_(engine_, std::nullopt) {}

void LiveJudge::take(const host::Record& record) {
  std::visit([this](const auto& r) { put(r); }, record);
}

void LiveJudge::put(const host::PanelDescription& panel) {
  panel_ = panel;
  if (feed_.take(panel)) powered_up("The unit was powered up again.");
}

void LiveJudge::powered_up(const std::string& sentence) {
  ++power_ups_;
  say_(sentence);
}

void LiveJudge::start(const host::FrameRecord& first) {
  tried_ = true;
  const bool raw = first.kind == host::FrameKind::raw;
  say_(fmt::format("Frames arrive: {} rows x {} columns, {}.", first.rows, first.cols,
                   raw ? "raw counts" : "differences"));
  Settings settings = options_.settings.value_or(Settings{});
  settings.shape = {first.rows, first.cols};
  if (panel_.frame_period_us != 0) settings.frame_period_us = panel_.frame_period_us;
  settings.counts_rise = panel_.counts_rise;
  const View<const std::uint16_t> kept = feed_.offered_reference();
  const auto scale =
      host::finger_scale(panel_, first, {kept.begin(), kept.end()}, options_.finger_hints());
  if (!scale) {
    why_not_ = "not judged: the signal of a finger is not known (--finger-counts)";
    return;
  }
  settings.finger_counts = static_cast<std::uint16_t>(scale->counts);
  const bool at_power_up = raw && feed_.holds_power_up(first.t_us);
  if (!at_power_up) settings.policy = StartPolicy::wait;
  const SettingsField wrong = feed_.start(settings, !kept.empty(), first);
  if (wrong != SettingsField::none) {
    why_not_ =
        fmt::format("not judged: {} of this panel is out of the core's range", name_of(wrong));
    return;
  }
  judging_ = true;
  if (at_power_up) powered_up("Power-up seen: it is in this recording.");
}

void LiveJudge::put(const host::FrameRecord& frame) {
  ++frames_;
  if (!tried_) start(frame);
  if (!judging_ || !feed_.belongs(frame)) return count_step(frame.t_us);
  const host::DumpFeed::Stepped stepped = feed_.step(frame);
  if (stepped.clock == host::DumpClock::Step::began_anew)
    powered_up("The unit's clock began again: it restarted.");
  count_step(stepped.t_us);
  if (engine_.journal().end() != journal_read_) tell_journal();
}

void LiveJudge::tell_journal() {
  const Journal& journal = engine_.journal();
  for (std::uint32_t n = std::max(journal_read_, journal.first()); n < journal.end(); ++n) {
    const JournalEntry& entry = journal.at(n);
    const bool decision = entry.code == JournalCode::input_on ||
                          entry.code == JournalCode::input_off ||
                          entry.code == JournalCode::glass_not_bare;
    if (decision) say_(host::text::event(entry, engine_.settings()));
  }
  journal_read_ = journal.end();
}

void LiveJudge::count_step(std::uint64_t t_us) {
  constexpr double kFollow = 0.1;
  if (frames_ > 1 && t_us > last_us_) {
    const auto step = static_cast<double>(t_us - last_us_);
    step_us_ = step_us_ > 0 ? step_us_ + kFollow * (step - step_us_) : step;
  }
  last_us_ = t_us;
}

double LiveJudge::rate() const { return step_us_ > 0 ? 1e6 / step_us_ : 0.0; }

std::string LiveJudge::state() const {
  if (judging_) return host::text::state(engine_.state());
  return why_not_;
}

}  // namespace bareglass::tools
