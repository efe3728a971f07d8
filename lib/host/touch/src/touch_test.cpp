#include "bareglass/touch/touch_test.hpp"

#include <algorithm>
#include <cmath>

#include "geometry.hpp"

namespace bareglass::host {

using State = TouchStepResult::State;
using Kind = TouchStep::Kind;

TouchTest::TouchTest(TouchPlan plan, const Settings& settings)
    : plan_(std::move(plan)),
      shape_(settings.shape),
      pitch_{settings.pitch_col_um / 1000.0, settings.pitch_row_um / 1000.0},
      progress_(plan_.steps.size()),
      touched_(static_cast<std::size_t>(settings.shape.nodes())) {}

PointMm TouchTest::place_of(const Contact& contact) const {
  return {(contact.x_q8 / 256.0 + 0.5) * pitch_.x, (contact.y_q8 / 256.0 + 0.5) * pitch_.y};
}

void TouchTest::feed(View<const Contact> contacts, std::uint64_t t_us) {
  if (frames_++ == 0) zero_us_ = t_us;
  const double t_s = t_us > zero_us_ ? static_cast<double>(t_us - zero_us_) * 1e-6 : 0.0;
  bool seen[kMaxContacts] = {};
  for (const Contact& contact : contacts) {
    if (contact.id >= kMaxContacts) continue;
    Stroke& stroke = strokes_[contact.id];
    seen[contact.id] = contact.tip;
    if (!contact.tip) continue;
    const PointMm at = place_of(contact);
    if (!stroke.down) begin(stroke, at, t_s);
    sample(stroke, at);
  }
  for (int id = 0; id < kMaxContacts; ++id)
    if (strokes_[id].down && !seen[id]) end(strokes_[id]);
}

void TouchTest::begin(Stroke& stroke, PointMm at, double t_s) {
  const int step = choose(at, t_s);
  stroke = {true, step, ++strokes_begun_, at, at, std::vector<bool>(touched_.size())};
  if (step == kExtra) {
    note_extra(at);
    return;
  }
  last_step_ = step;
  broken_line_ = kExtra;
  Progress& p = progress(step);
  if (p.state == State::missing) p.state = State::incomplete;
}

void TouchTest::note_extra(PointMm at) {
  ++extra_;
  if (extra_at_.size() < TouchResult::kMostExtra) extra_at_.push_back(at);
}

bool TouchTest::begins(std::size_t step, PointMm at) const {
  const TouchStep& s = plan_.steps[step];
  return distance(s.from, at) <= plan_.reach_mm || distance(s.to, at) <= plan_.reach_mm;
}

TouchTest::Stroke* TouchTest::busy_stroke() {
  const auto found = std::find_if(std::begin(strokes_), std::end(strokes_),
                                  [](const Stroke& s) { return s.down && s.step != kExtra; });
  return found == std::end(strokes_) ? nullptr : found;
}

// A line broke off: does this contact go on with it, rather than begin the next step?
bool TouchTest::goes_on(PointMm at) const {
  if (broken_line_ == kExtra) return false;
  const TouchStep& line = plan_.steps[static_cast<std::size_t>(broken_line_)];
  if (distance_from_segment(at, line.from, line.to) > plan_.reach_mm) return false;
  std::size_t next = static_cast<std::size_t>(broken_line_) + 1;
  while (next < plan_.steps.size() && progress_[next].state != State::missing) ++next;
  if (next == plan_.steps.size() || !begins(next, at)) return true;
  const TouchStep& n = plan_.steps[next];
  return distance(at, broken_at_) < std::min(distance(at, n.from), distance(at, n.to));
}

int TouchTest::choose_by_time(PointMm at, double t_s) {
  for (std::size_t k = 0; k < plan_.steps.size(); ++k) {
    const TouchStep& s = plan_.steps[k];
    if (t_s < *s.from_s || t_s > *s.until_s) continue;
    if (distance_from_segment(at, s.from, s.to) > plan_.reach_mm) continue;
    const bool in_use = std::any_of(std::begin(strokes_), std::end(strokes_), [&](const Stroke& o) {
      return o.down && o.step == static_cast<int>(k);
    });
    if (in_use) continue;
    if (progress_[k].state != State::missing) ++progress_[k].dropped;
    return static_cast<int>(k);
  }
  return kExtra;
}

// The first step that is still to be done and begins here; earlier ones may have been skipped.
int TouchTest::choose_in_order(PointMm at) const {
  for (std::size_t k = 0; k < plan_.steps.size(); ++k)
    if (progress_[k].state == State::missing && begins(k, at)) return static_cast<int>(k);
  return kExtra;
}

int TouchTest::choose(PointMm at, double t_s) {
  if (plan_.steps.front().from_s) return choose_by_time(at, t_s);
  const int next = choose_in_order(at);
  if (Stroke* busy = busy_stroke()) {
    // One finger does one step at a time. Whoever holds a later step has come by itself.
    if (next == kExtra || busy->step < next) return kExtra;
    take_back(*busy);
    note_extra(busy->begin);
    return next;
  }
  if (goes_on(at)) {
    ++progress(broken_line_).dropped;
    return broken_line_;
  }
  if (next != kExtra) return next;
  if (last_step_ != kExtra && begins(static_cast<std::size_t>(last_step_), at)) {
    ++progress(last_step_).dropped;
    return last_step_;
  }
  return kExtra;
}

void TouchTest::sample(Stroke& stroke, PointMm at) {
  stroke.last = at;
  const auto line_at = [](double mm, double pitch, int lines) {
    return std::clamp(static_cast<int>(std::floor(mm / pitch)), 0, lines - 1);
  };
  if (stroke.step == kExtra) return;
  const int row = line_at(at.y, pitch_.y, shape_.rows), col = line_at(at.x, pitch_.x, shape_.cols);
  stroke.touched[static_cast<std::size_t>(row * shape_.cols + col)] = true;
  const bool on_point = plan_.steps[static_cast<std::size_t>(stroke.step)].kind == Kind::point;
  if (on_point && distance(at, stroke.begin) > plan_.reach_mm) turn_into_line(stroke);
  if (stroke.step == kExtra) return;
  std::vector<Sample>& samples = progress(stroke.step).samples;
  samples.push_back({at, stroke.number});
  if (samples.size() < kMostSamples) return;
  std::size_t kept = 0;
  for (std::size_t i = 0; i < samples.size(); i += 2) samples[kept++] = samples[i];
  samples.resize(kept);
}

// The contact does not belong to its step after all; gives what the step had from it.
std::vector<TouchTest::Sample> TouchTest::take_back(Stroke& stroke) {
  Progress& p = progress(stroke.step);
  std::vector<Sample> taken;
  const auto mine = [&](const Sample& s) { return s.stroke == stroke.number; };
  std::copy_if(p.samples.begin(), p.samples.end(), std::back_inserter(taken), mine);
  p.samples.erase(std::remove_if(p.samples.begin(), p.samples.end(), mine), p.samples.end());
  if (p.samples.empty()) p.state = State::missing;
  stroke.step = kExtra;
  return taken;
}

// What was taken for a touch of a point is drawn away from it: it was the next line from there, and
// the point was left out.
void TouchTest::turn_into_line(Stroke& stroke) {
  std::vector<Sample> moved = take_back(stroke);
  for (std::size_t k = 0; k < plan_.steps.size() && stroke.step == kExtra; ++k)
    if (plan_.steps[k].kind == Kind::line && progress_[k].state == State::missing &&
        begins(k, stroke.begin))
      stroke.step = static_cast<int>(k);
  last_step_ = stroke.step;
  if (stroke.step == kExtra) return note_extra(stroke.begin);
  Progress& line = progress(stroke.step);
  line.state = State::incomplete;
  line.samples = std::move(moved);
}

void TouchTest::end(Stroke& stroke) {
  stroke.down = false;
  if (stroke.step == kExtra) return;
  for (std::size_t n = 0; n < touched_.size(); ++n)
    if (stroke.touched[n]) touched_[n] = true;
  const TouchStep& s = plan_.steps[static_cast<std::size_t>(stroke.step)];
  Progress& p = progress(stroke.step);
  if (s.kind == Kind::point) {
    p.state = State::done;
    return;
  }
  const PointMm first = p.samples.empty() ? stroke.begin : p.samples.front().at;
  const PointMm goal = distance(first, s.from) <= distance(first, s.to) ? s.to : s.from;
  if (distance(stroke.last, goal) <= plan_.reach_mm) {
    p.state = State::done;
    return;
  }
  broken_line_ = stroke.step;
  broken_at_ = stroke.last;
}

std::size_t TouchTest::step() const {
  const auto open = std::find_if(progress_.begin(), progress_.end(),
                                 [](const Progress& p) { return p.state == State::missing; });
  return static_cast<std::size_t>(open - progress_.begin());
}

TouchResult TouchTest::result() const {
  TouchResult r;
  r.shape = shape_;
  r.frames = frames_;
  r.extra_at = extra_at_;
  std::vector<double> errors;
  for (std::size_t k = 0; k < progress_.size(); ++k) {
    std::vector<PointMm> places;
    for (const Sample& s : progress_[k].samples) places.push_back(s.at);
    TouchStepResult step = measure_step(plan_.steps[k], places);
    step.state = progress_[k].state;
    step.dropped = progress_[k].dropped;
    r.steps.push_back(step);
    if (plan_.steps[k].kind == Kind::point)
      for (const PointMm& at : places) errors.push_back(distance(at, plan_.steps[k].from));
  }
  std::vector<bool> touched = touched_;
  for (const Stroke& s : strokes_)
    for (std::size_t n = 0; s.down && s.step != kExtra && n < touched.size(); ++n)
      if (s.touched[n]) touched[n] = true;
  r.coverage = coverage_of(plan_, touched, shape_, pitch_);
  r.checks = check_limits(plan_, r, errors, extra_);
  r.passed =
      std::all_of(r.checks.begin(), r.checks.end(), [](const TouchCheck& c) { return c.passed; });
  return r;
}

}  // namespace bareglass::host
