#include "bareglass/view/bench_model.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/capture/error.hpp"
#include "bareglass/field/kernel_store.hpp"
#include "bench_events.hpp"
#include "embedded_texts.hpp"

namespace bareglass::view {

using panel::Action;
using panel::Event;

namespace {

/// A contact this near to a finger's outline is that finger's.
constexpr double kFingerReach_mm = 8.0;
/// From here on a thing's capacitance to earth is a person's.
constexpr double kPersonFrom_pf = 50.0;
constexpr std::size_t kMostActs = 10'000;

/// Kernels that are built in if they belong to the panel, else as panel::kernels_of.
field::SurfaceKernels kernels_at_hand(const panel::Scenario& story) {
  const std::string input = field::kernel_input(story.panel, field::Mesh{});
  for (const EmbeddedText& file : embedded_kernels()) {
    try {
      return field::parse_kernels(file.text, file.name, input);
    } catch (const field::PanelError&) {
      // Another panel's.
    }
  }
  return panel::kernels_of(story.panel, story.panel_path);
}

bool starts_unpowered(const panel::Scenario& story) {
  bool on = true;
  for (const Event& e : story.events) {
    if (e.at_s > 0.0) break;
    if (e.action == Action::power_off || e.action == Action::power_on)
      on = e.action == Action::power_on;
  }
  return !on;
}

}  // namespace

panel::Scenario bare_bench(int rows, int columns, double glass_mm) {
  panel::Scenario s;
  s.file = "bench";
  s.story = "Made at the bench.";
  s.unit_id = "bench-unit-01";
  s.panel = field::reference_panel(glass_mm);
  s.setup.rows = rows;
  s.setup.columns = columns;
  s.events.push_back(device_event("power_off", Action::power_off, 0.0));
  return s;
}

BenchModel::BenchModel(panel::Scenario story) {
  begin(std::make_unique<panel::Scenario>(std::move(story)));
  // A story that begins with the power is left at its beginning, so that it can be recorded whole.
  if (!starts_unpowered(*story_)) return;
  step();
  due_us_ = unit_->t_us();
}

BenchModel::~BenchModel() {
  try {
    stop_recording();
  } catch (const host::CaptureError&) {
    // Nobody is left to be told; the unfinished file is removed by its writer.
  }
}

void BenchModel::begin(std::unique_ptr<panel::Scenario> story) {
  story->record_from_s = 0.0;
  auto unit = std::make_unique<panel::LiveUnit>(*story, kernels_at_hand(*story));
  if (recording()) {
    try {
      stop_recording();
    } catch (const host::CaptureError& e) {
      recording_problem_ = e.what();
    }
  }
  unit_ = std::move(unit);
  story_ = std::move(story);
  story_told = story_->story;
  due_us_ = 0;
  due_rest_us_ = 0.0;
  drag_thing_.reset();
  drag_target_.reset();
}

double BenchModel::now_s() const { return static_cast<double>(unit_->t_us()) * 1e-6; }

void BenchModel::step() {
  follow_drag();
  const panel::LiveUnit::Step done = unit_->step();
  if (observer_) observer_(done);
}

void BenchModel::advance(double seconds) {
  due_rest_us_ += std::max(0.0, seconds) * 1e6;
  const double whole = std::floor(due_rest_us_ + 1e-6);
  due_rest_us_ = std::max(0.0, due_rest_us_ - whole);
  due_us_ += static_cast<std::uint64_t>(whole);
  // What an observer does may begin another story.
  while (unit_->t_us() + story_->frame_period_us <= due_us_) step();
}

std::vector<Lying> BenchModel::lying() const {
  std::vector<Lying> out;
  for (std::size_t k = 0; k < story_->things.size(); ++k) {
    panel::ThingState state = unit_->timeline().thing(k);
    if (state.there) out.push_back({k, std::move(state)});
  }
  return out;
}

std::optional<std::size_t> BenchModel::thing_at(field::Point at, double reach_mm) const {
  const std::vector<Lying> all = lying();
  for (auto it = all.rbegin(); it != all.rend(); ++it) {
    const field::Point own{at.x - it->state.place.x, at.y - it->state.place.y};
    if (it->state.outline->footprint().distance(own) <= reach_mm) return it->thing;
  }
  return std::nullopt;
}

std::optional<std::size_t> BenchModel::thing_named(const std::string& name) const {
  for (std::size_t k = 0; k < story_->things.size(); ++k)
    if (story_->things[k].name == name) return k;
  return std::nullopt;
}

std::vector<BenchContact> BenchModel::contacts() const {
  std::vector<BenchContact> out;
  if (!unit_->powered()) return out;
  const std::vector<Lying> all = lying();
  const Settings& settings = unit_->device().settings();
  for (const Contact& c : unit_->device().contacts()) {
    if (!c.tip || !c.confidence) continue;
    BenchContact contact;
    contact.id = c.id;
    contact.x_mm = c.x_q8 / 256.0 * story_->panel.columns.pitch_mm;
    contact.y_mm = c.y_q8 / 256.0 * story_->panel.rows.pitch_mm;
    contact.percent = 100.0 * c.strength / settings.finger_counts;
    contact.made = std::any_of(all.begin(), all.end(), [&](const Lying& l) {
      const bool person = !story_->things[l.thing].is_film && l.state.earth_pf >= kPersonFrom_pf &&
                          l.state.device_pf == 0.0;
      return person && l.state.outline->footprint().distance(
                           {contact.x_mm - l.state.place.x, contact.y_mm - l.state.place.y}) <=
                           kFingerReach_mm;
    });
    out.push_back(contact);
  }
  return out;
}

BenchModel::Scene BenchModel::scene(const Aspects& aspects) const {
  Scene out;
  for (const std::size_t k : aspects.things) out.things.push_back(unit_->timeline().thing(k));
  out.faults = unit_->timeline().faults();
  out.device = surroundings();
  out.powered = unit_->powered();
  return out;
}

// All take effect in the next frame: one microsecond after the last one is later than all that has
// been played, in the story as it is and in the one that is read again.
void BenchModel::happen(std::vector<Event> events) {
  for (Event& e : events) e.at_s = 0.0;
  schedule(events);
}

void BenchModel::schedule(const std::vector<Event>& events) {
  const double at_s = static_cast<double>(unit_->t_us() + 1) * 1e-6;
  for (Event e : events) {
    e.at_s += at_s;
    const auto later = std::upper_bound(story_->events.begin(), story_->events.end(), e.at_s,
                                        [](double t, const Event& x) { return t < x.at_s; });
    story_->events.insert(later, std::move(e));
  }
}

void BenchModel::act(std::string label, Aspects aspects, std::vector<Event> events) {
  if (drag_thing_) end_drag();
  Act done;
  done.label = std::move(label);
  done.before = scene(aspects);
  for (const std::size_t k : aspects.things)
    if (!unit_->timeline().knows(k)) done.added.push_back(story_->things[k]);
  done.aspects = std::move(aspects);
  done.events = events;
  happen(std::move(events));
  step();
  due_us_ = std::max(due_us_, unit_->t_us());
  remember(std::move(done));
}

void BenchModel::remember(Act act) {
  undone_.clear();
  if (done_.size() == kMostActs) done_.erase(done_.begin());
  done_.push_back(std::move(act));
}

std::vector<Event> BenchModel::way_back(const Act& act) const {
  std::vector<Event> out;
  const Scene now = scene(act.aspects);
  for (std::size_t k = 0; k < act.aspects.things.size(); ++k)
    restore_thing(out, *story_, act.aspects.things[k], now.things[k], act.before.things[k]);
  if (act.aspects.lines) restore_lines(out, now.faults, act.before.faults);
  if (act.aspects.device) restore_device(out, now.device, act.before.device);
  if (act.aspects.power && now.powered != act.before.powered)
    out.push_back(act.before.powered ? device_event("power_on", Action::power_on, 0.0)
                                     : device_event("power_off", Action::power_off, 0.0));
  return out;
}

void BenchModel::come_to(const std::shared_ptr<const panel::Scenario>& story) {
  begin(std::make_unique<panel::Scenario>(*story));
  step();
  due_us_ = unit_->t_us();
}

bool BenchModel::undo() {
  if (drag_thing_) end_drag();
  if (done_.empty()) return false;
  if (done_.back().story_before) {
    come_to(done_.back().story_before);
  } else {
    happen(way_back(done_.back()));
    step();
    due_us_ = std::max(due_us_, unit_->t_us());
  }
  undone_.push_back(std::move(done_.back()));
  done_.pop_back();
  return true;
}

bool BenchModel::redo() {
  if (drag_thing_) end_drag();
  if (undone_.empty()) return false;
  Act act = std::move(undone_.back());
  undone_.pop_back();
  if (act.story_after) {
    come_to(act.story_after);
  } else {
    act.before = scene(act.aspects);
    // Going back past a change of the bench left these out of the story.
    for (std::size_t k = 0; k < act.added.size(); ++k)
      if (act.aspects.things[k] >= story_->things.size()) story_->things.push_back(act.added[k]);
    happen(act.events);
    step();
    due_us_ = std::max(due_us_, unit_->t_us());
  }
  done_.push_back(std::move(act));
  return true;
}

std::string BenchModel::undo_label() const { return done_.empty() ? "" : done_.back().label; }
std::string BenchModel::redo_label() const { return undone_.empty() ? "" : undone_.back().label; }

}  // namespace bareglass::view
