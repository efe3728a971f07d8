#include "bareglass/replay/replay.hpp"

#include <algorithm>
#include <cstdlib>
#include <string>
#include <utility>

#include "bareglass/observe/survey_taker.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/replay/dump_feed.hpp"
#include "bareglass/replay/dump_words.hpp"
#include "bareglass/settings/setting_words.hpp"

namespace bareglass::host {

namespace {

// An account is for people and for what is written for them: its names are harmless.
PanelDescription shown(PanelDescription panel) {
  for (std::string* name : {&panel.unit_id, &panel.panel_name, &panel.firmware})
    *name = plain::harmless(*name);
  return panel;
}

using LargestStorage = Storage<kMaxLines, kMaxLines>;

/// Holds the engine and turns records into an account.
class Replayer {
 public:
  Replayer(std::string file, const ReplayOptions& options)
      : file_(std::move(file)),
        options_(options),
        storage_(std::make_unique<LargestStorage>()),
        engine_(storage_->memory()),
        feed_(engine_, options.power_up_us) {
    account_.settings = options.settings.value_or(Settings{});
  }

  void take(const PanelDescription& panel);
  void take(const FrameRecord& frame);
  void take(const ReferenceRecord& reference);
  void take(const ContactsRecord&) {}
  void take(const JournalRecord& entry);
  void take(const SupplyRecord& supply);
  void take(const NoteRecord& note) {
    if (account_.notes.size() >= Account::kMaxFindings) return;
    account_.notes.push_back({feed_.clock().on_line(note.t_us), plain::harmless(note.text)});
  }

  Account finish(const CaptureStats& stats);
  std::uint64_t frames() const { return account_.frames; }

 private:
  void start(const FrameRecord& first);
  void settle_settings(const FrameRecord& first);
  void settle_finger(const FrameRecord& first);
  void choose_kind(const FrameRecord& first);
  void step(const FrameRecord& frame);
  void begin_run();
  void note_clock_restart();
  void count_left_out(const DumpFeed::Stepped& stepped);
  void survey(const DumpFeed::Stepped& stepped);
  void drain_journal();
  void follow_findings(std::uint64_t t_us);
  FindingStory* story_of(const Finding& finding);
  void take_picture(std::uint64_t t_us, int weight);
  void keep_levels(bool looked);
  void count_touches();

  std::string file_;
  const ReplayOptions& options_;
  std::unique_ptr<LargestStorage> storage_;
  Engine engine_;
  DumpFeed feed_;
  Account account_;
  SurveyTaker survey_;
  SurveyTaker spoiled_;  ///< the same of saturated frames
  bool described_ = false;
  std::optional<StartPolicy> device_policy_;
  std::uint32_t journal_read_ = 0;
  const std::uint16_t* raw_now_ = nullptr;  ///< the frame being stepped
  std::uint64_t last_frame_us_ = 0;
  int picture_weight_ = 0;
  std::uint16_t tips_down_ = 0;   ///< bit per contact id
  bool was_running_ = false;      ///< before the frame that is being replayed
  bool later_reference_ = false;  ///< has been told
  bool switched_off_ = false;     ///< between the last frame and the next one
};

void Replayer::take(const PanelDescription& panel) {
  const std::optional<std::uint64_t> told = account_.panel.power_up_us;
  account_.panel = shown(panel);
  if (!panel.power_up_us) account_.panel.power_up_us = told;
  described_ = true;
  if (!feed_.take(panel)) return;
  account_.kind = DumpKind::from_power_up;
  switched_off_ = true;
  ++account_.power_ups;
  begin_run();
}

void Replayer::take(const ReferenceRecord& reference) {
  const bool started = feed_.started();
  const bool differs = feed_.take(reference) != DumpFeed::Offered::known;
  if (started && differs && !later_reference_) {
    later_reference_ = true;
    account_.assumptions.emplace_back(text::later_reference());
  }
}

// What a run decides outweighs what an earlier one did: the last is what the unit does now.
void Replayer::begin_run() {
  survey_.interrupt();
  spoiled_.interrupt();
  picture_weight_ = 0;
  tips_down_ = 0;
  if (account_.runs.size() == Account::kMaxRuns) account_.runs.pop_back();
  Run run;
  run.zero_us = run.first_us = run.last_us = feed_.clock().zero_us();
  run.shift_us = feed_.clock().shift_us();
  run.power_up_known = feed_.clock().power_up_us().has_value();
  account_.runs.push_back(run);
}

void Replayer::take(const JournalRecord& entry) {
  if (account_.device_journal.size() < Account::kMaxEvents) {
    account_.device_journal.push_back(entry);
    account_.device_journal.back().t_us = feed_.clock().on_line(entry.t_us);
  }
  // The device says at power-up which policy it follows.
  const bool power_up = entry.code == JournalCode::power_up;
  if (power_up && entry.value >= 0 && entry.value <= 3)
    device_policy_ = static_cast<StartPolicy>(entry.value);
}

void Replayer::take(const SupplyRecord& supply) {
  if (supply.docked) account_.docked = supply.docked;
  if (!supply.millivolts) return;
  const int now = *supply.millivolts;
  account_.lowest_millivolts = std::min(account_.lowest_millivolts.value_or(now), now);
  account_.highest_millivolts = std::max(account_.highest_millivolts.value_or(now), now);
}

// What a finger is in counts is never guessed in silence: it follows from something, or is asked
// for.
void Replayer::settle_finger(const FrameRecord& first) {
  const View<const std::uint16_t> kept = feed_.offered_reference();
  const std::vector<std::uint16_t> reference(kept.begin(), kept.end());
  const auto scale = finger_scale(account_.panel, first, reference, options_.finger_hints());
  if (!scale) {
    // Of a panel that the core can't take, that is what is told.
    const Shape& shape = account_.settings.shape;
    if (std::max(shape.rows, shape.cols) > kMaxLines || std::min(shape.rows, shape.cols) < 2)
      return;
    throw CaptureError(file_, "signal of a finger", text::ask_for_finger(first.kind));
  }
  account_.finger = *scale;
  account_.settings.finger_counts = static_cast<std::uint16_t>(scale->counts);
  if (scale->source == FingerScale::Source::bare_reading)
    account_.assumptions.emplace_back(text::assumed_finger(*scale));
}

// Settings as given, with what the dump knows better about its own panel.
void Replayer::settle_settings(const FrameRecord& first) {
  Settings& s = account_.settings;
  const PanelDescription& p = account_.panel;
  std::vector<std::string>& assumed = account_.assumptions;
  s.shape = {first.rows, first.cols};
  if (p.frame_period_us != 0) s.frame_period_us = p.frame_period_us;
  const auto to_um = [](double mm) {
    return static_cast<std::uint16_t>(std::clamp(mm * 1000.0 + 0.5, 0.0, 65535.0));
  };
  if (p.pitch_row_mm > 0 && p.pitch_col_mm > 0) {
    s.pitch_row_um = to_um(p.pitch_row_mm);
    s.pitch_col_um = to_um(p.pitch_col_mm);
  } else {
    assumed.emplace_back(text::assumed_pitch(s));
  }
  if (described_) s.counts_rise = p.counts_rise;
  if (p.raw_max && *p.raw_max > 32 && *p.raw_max <= 65535)
    s.raw_high = static_cast<std::uint16_t>(*p.raw_max - *p.raw_max / 4096 - 1);
  settle_finger(first);
  if (options_.policy)
    s.policy = *options_.policy;
  else if (device_policy_)
    s.policy = *device_policy_;
  // Without a power-up in the dump there is no start for a policy to judge.
  else if (!options_.settings && account_.kind == DumpKind::from_power_up)
    assumed.emplace_back(text::assumed_policy(s));
}

void Replayer::choose_kind(const FrameRecord& first) {
  if (options_.power_up_us.value_or(0) > first.t_us)
    throw CaptureError(file_, "--power-up", text::late_power_up(*options_.power_up_us, first.t_us));
  if (options_.power_up_us) account_.panel.power_up_us = options_.power_up_us;
  if (first.kind == FrameKind::difference)
    account_.kind = DumpKind::differences_only;
  else
    account_.kind =
        feed_.holds_power_up(first.t_us) ? DumpKind::from_power_up : DumpKind::raw_midway;
}

void Replayer::start(const FrameRecord& first) {
  choose_kind(first);
  settle_settings(first);
  Settings& s = account_.settings;
  if (account_.kind == DumpKind::raw_midway) {
    // Nobody knows what the device decided before; look at the glass as often as it takes.
    s.policy = StartPolicy::wait;
    s.wait_ms = 0;
    s.settle_ms = 0;
  }
  if (account_.kind == DumpKind::differences_only) s.track_ms = 0;
  const std::size_t nodes = static_cast<std::size_t>(s.shape.nodes());
  const View<const std::uint16_t> reference = feed_.offered_reference();
  if (!reference.empty() && reference.size != nodes)
    throw CaptureError(file_, "factory reference", text::reference_shape(reference.size, s.shape));
  account_.has_reference = !reference.empty() && account_.kind != DumpKind::differences_only;
  const SettingsField wrong = feed_.start(s, account_.has_reference, first);
  if (wrong != SettingsField::none)
    throw CaptureError(file_, "settings", text::wrong_setting(wrong, s));
  if (account_.kind == DumpKind::from_power_up) ++account_.power_ups;
  account_.first_us = last_frame_us_ = first.t_us;
  survey_.begin(s.shape, s.frame_period_us);
  spoiled_.begin(s.shape, s.frame_period_us);
  if (options_.started) options_.started(s);
}

void Replayer::take(const FrameRecord& frame) {
  if (!feed_.started()) start(frame);
  if (feed_.belongs(frame))
    step(frame);
  else
    ++account_.frames_ignored;
}

void Replayer::step(const FrameRecord& frame) {
  ++account_.frames;
  was_running_ = engine_.state() == InputState::running || engine_.state() == InputState::paused;
  const DumpFeed::Stepped stepped = feed_.step(frame);
  const StepResult& result = stepped.result;
  raw_now_ = feed_.raw();
  if (account_.runs.empty()) begin_run();
  if (stepped.clock == DumpClock::Step::began_anew) note_clock_restart();
  if (stepped.clock == DumpClock::Step::jumped) ++account_.clock_jumps;
  const std::uint64_t now_us = feed_.clock().latest_us();
  if (!switched_off_ && stepped.clock == DumpClock::Step::on)
    account_.longest_gap_us = std::max(account_.longest_gap_us, now_us - last_frame_us_);
  switched_off_ = false;
  account_.last_us = last_frame_us_ = now_us;
  Run& run = account_.runs.back();
  if (run.frames++ == 0) {
    run.first_us = now_us;
    const bool differences = account_.kind == DumpKind::differences_only;
    run.power_up_known = feed_.clock().power_up_us().has_value() && !differences;
    run.zero_us = differences ? now_us : feed_.clock().zero_us();
  }
  run.last_us = now_us;
  count_left_out(stepped);
  // A panel that can no longer see lifts its contacts.
  if (options_.contacts && result.status != FrameStatus::repeated)
    options_.contacts(engine_.contacts(), now_us);
  survey(stepped);
  if (result.looked || !engine_.findings().empty()) follow_findings(now_us);
  if (engine_.journal().end() != journal_read_) drain_journal();
  if (!engine_.contacts().empty()) count_touches();
  if (result.looked && !result.state_changed) return;
  if (result.looked) take_picture(now_us, engine_.input_on() ? 1 : 3);
}

void Replayer::count_left_out(const DumpFeed::Stepped& stepped) {
  switch (stepped.result.status) {
    case FrameStatus::saturated:
      ++account_.frames_saturated;
      break;
    case FrameStatus::stamp_backward:
      ++account_.frames_backward;
      break;
    case FrameStatus::stamp_ahead:
      ++account_.frames_ahead;
      break;
    case FrameStatus::clock_restarted:
      ++(stepped.jump_ms < 0 ? account_.frames_backward : account_.frames_ahead);
      break;
    default:
      break;
  }
}

// What the core refused says nothing of the glass; where all nodes stand at the converter's ends it
// says that nothing was seen.
void Replayer::survey(const DumpFeed::Stepped& stepped) {
  if (!survey_.begun()) return;
  if (stepped.result.status == FrameStatus::ok) survey_.take(raw_now_, stepped.t_us);
  if (stepped.result.status == FrameStatus::saturated) spoiled_.take(raw_now_, stepped.t_us);
}

// The clock begins again: the unit started anew, though no description says when.
void Replayer::note_clock_restart() {
  begin_run();
  switched_off_ = true;
  if (account_.runs.back().power_up_known) {
    ++account_.power_ups;
    return;
  }
  if (++account_.clock_restarts == 1) account_.assumptions.emplace_back(text::assumed_restart());
}

// Decisions against input outweigh findings, findings outweigh a bare glass; the first of a kind
// stays.
void Replayer::take_picture(std::uint64_t t_us, int weight) {
  if (weight <= picture_weight_) return;
  picture_weight_ = weight;
  DecisiveMoment& d = account_.decisive;
  d.t_us = t_us;
  d.shape = account_.settings.shape;
  d.limit = engine_.region_limit();
  const bool looked =
      engine_.state() != InputState::paused && account_.kind != DumpKind::differences_only;
  d.against = !looked                   ? DecisiveMoment::Against::baseline
              : engine_.has_reference() ? DecisiveMoment::Against::reference
                                        : DecisiveMoment::Against::smoothness;
  const auto view = engine_.difference();
  d.difference.assign(view.begin(), view.end());
  keep_levels(looked);
}

// The two pictures that the difference was made of, where the dump holds them.
void Replayer::keep_levels(bool looked) {
  DecisiveMoment& d = account_.decisive;
  d.raw.clear();
  d.bare.clear();
  if (account_.kind == DumpKind::differences_only || raw_now_ == nullptr) return;
  const auto from_q8 = [](BaselineQ8 q8) {
    return static_cast<std::uint16_t>(std::clamp<std::int64_t>((q8 + 128) / 256, 0, 65535));
  };
  const auto mean = engine_.baseline_q8();
  std::vector<std::uint16_t> rounded(mean.size);
  std::transform(mean.begin(), mean.end(), rounded.begin(), from_q8);
  if (looked) {
    d.raw = std::move(rounded);
    const View<const std::uint16_t> reference = feed_.reference();
    d.bare.assign(reference.begin(), reference.end());
  } else {
    d.raw.assign(raw_now_, raw_now_ + account_.settings.shape.nodes());
    d.bare = std::move(rounded);
  }
}

void Replayer::drain_journal() {
  const Journal& journal = engine_.journal();
  for (std::uint32_t n = std::max(journal_read_, journal.first()); n < journal.end(); ++n) {
    const JournalEntry& entry = journal.at(n);
    if (account_.events.size() < Account::kMaxEvents)
      account_.events.push_back(entry);
    else
      ++account_.events_left_out;
    const bool paused =
        entry.code == JournalCode::input_off && engine_.state() == InputState::paused;
    if (paused) take_picture(entry.t_us, 3);
    if (entry.code == JournalCode::finding_began && engine_.input_on()) take_picture(entry.t_us, 2);
    if (entry.code == JournalCode::phantom_held_back) take_picture(entry.t_us, 2);
  }
  journal_read_ = journal.end();
}

FindingStory* Replayer::story_of(const Finding& finding) {
  for (FindingStory& story : account_.findings)
    if (story.last.kind == finding.kind && story.last.first_us == finding.first_us &&
        overlaps(story.last.box, finding.box, 1))
      return &story;
  if (account_.findings.size() >= Account::kMaxFindings) {
    ++account_.findings_left_out;
    return nullptr;
  }
  FindingStory story;
  // Policy adopt goes on running with what its look found.
  story.at_power_up =
      !was_running_ && account_.touches == 0 && account_.kind == DumpKind::from_power_up;
  account_.findings.push_back(std::move(story));
  return &account_.findings.back();
}

void Replayer::follow_findings(std::uint64_t t_us) {
  for (const Finding& finding : engine_.findings()) {
    if (!finding.confirmed) continue;
    FindingStory* story = story_of(finding);
    if (story == nullptr || story->ended) continue;
    story->last = finding;
    if (std::abs(finding.peak) > std::abs(story->greatest)) {
      story->greatest = finding.peak;
      story->greatest_us = finding.last_us;
    }
    if (finding.nodes > story->widest_nodes) {
      story->widest_nodes = finding.nodes;
      story->widest = finding.box;
    }
    if (finding.gone) {
      story->ended = true;
      story->ended_us = t_us;
    } else if (finding.last_us == t_us) {
      std::vector<FindingStory::Point>& course = story->course;
      course.push_back({t_us, finding.mean});
      if (course.size() < FindingStory::kMaxPoints) continue;
      // Every other point goes, so that the course keeps its ends and its shape in bounded memory.
      std::size_t kept = 0;
      for (std::size_t i = 0; i < course.size(); i += 2) course[kept++] = course[i];
      course.resize(kept);
    }
  }
}

void Replayer::count_touches() {
  for (const Contact& contact : engine_.contacts()) {
    const auto bit = static_cast<std::uint16_t>(1u << contact.id);
    if (contact.tip && !(tips_down_ & bit)) {
      ++account_.touches;
      if (account_.touches_us.size() < Account::kMaxTouches)
        account_.touches_us.push_back(last_frame_us_);
    }
    tips_down_ = static_cast<std::uint16_t>(contact.tip ? tips_down_ | bit : tips_down_ & ~bit);
  }
}

Account Replayer::finish(const CaptureStats& stats) {
  if (!feed_.started()) throw CaptureError(file_, "whole file", text::no_frames());
  raw_now_ = nullptr;  // its frame is gone
  // Of a panel that was blind all the time there is nothing to draw.
  if (picture_weight_ == 0 && account_.frames_saturated < account_.frames)
    take_picture(account_.last_us, 1);
  account_.stats = stats;
  account_.final_state = engine_.state();
  const bool measured =
      engine_.state() == InputState::running || engine_.state() == InputState::paused;
  account_.sigma_q4 = measured ? engine_.panel_sigma_q4() : 0;
  account_.survey = survey_.finish();
  account_.survey.spoiled = spoiled_.finish().windows;
  const View<const std::uint16_t> reference = feed_.reference();
  account_.survey.reference.assign(reference.begin(), reference.end());
  // What the device took for bare is all that differences are held against.
  if (account_.kind == DumpKind::differences_only)
    account_.survey.reference.assign(static_cast<std::size_t>(account_.settings.shape.nodes()),
                                     DumpFeed::kMidScale);
  return std::move(account_);
}

}  // namespace

Account replay(CaptureReader& reader, const std::string& file, const ReplayOptions& options) {
  Replayer replayer(file, options);
  Record record;
  for (std::uint64_t n = 1; reader.next(record); ++n) {
    std::visit([&](const auto& r) { replayer.take(r); }, record);
    if (options.progress && n % 4096 == 0) options.progress(replayer.frames());
  }
  return replayer.finish(reader.stats());
}

}  // namespace bareglass::host
