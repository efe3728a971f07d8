#include "geometry.hpp"

#include <algorithm>
#include <cmath>

#include "bareglass/statistics/statistics.hpp"

namespace bareglass::host {

namespace {

constexpr double kAskedWithin = 0.3;  // pitches: nearer to a line than a straight hand errs

double length(double x, double y) { return std::sqrt(x * x + y * y); }

PointMm mean_of(const std::vector<PointMm>& places) {
  PointMm mean;
  for (const PointMm& p : places) {
    mean.x += p.x / static_cast<double>(places.size());
    mean.y += p.y / static_cast<double>(places.size());
  }
  return mean;
}

struct Straightness {
  double max = 0.0, rms = 0.0;
};

// Distances from the line through `on` in the direction of the unit vector `along`.
Straightness from_line(const std::vector<PointMm>& places, PointMm on, PointMm along) {
  Straightness s;
  double squares = 0.0;
  for (const PointMm& p : places) {
    const double d = std::abs((p.x - on.x) * along.y - (p.y - on.y) * along.x);
    s.max = std::max(s.max, d);
    squares += d * d;
  }
  s.rms = std::sqrt(squares / static_cast<double>(places.size()));
  return s;
}

// Direction of the line with the least squared perpendicular distances (principal axis).
PointMm principal_axis(const std::vector<PointMm>& places, PointMm mean) {
  double xx = 0.0, xy = 0.0, yy = 0.0;
  for (const PointMm& p : places) {
    xx += (p.x - mean.x) * (p.x - mean.x);
    xy += (p.x - mean.x) * (p.y - mean.y);
    yy += (p.y - mean.y) * (p.y - mean.y);
  }
  const double angle = 0.5 * std::atan2(2.0 * xy, xx - yy);
  return {std::cos(angle), std::sin(angle)};
}

void measure_point(TouchStepResult& r, const TouchStep& step, const std::vector<PointMm>& places) {
  const PointMm mean = mean_of(places);
  r.offset = {mean.x - step.from.x, mean.y - step.from.y};
  r.accuracy_mm = length(r.offset.x, r.offset.y);
  double squares = 0.0;
  for (const PointMm& p : places) squares += std::pow(distance(p, mean), 2);
  r.jitter_rms_mm = std::sqrt(squares / static_cast<double>(places.size()));
}

void measure_line(TouchStepResult& r, const TouchStep& step, const std::vector<PointMm>& places) {
  const double all = distance(step.from, step.to);
  const PointMm along{(step.to.x - step.from.x) / all, (step.to.y - step.from.y) / all};
  double first = all, last = 0.0;
  for (const PointMm& p : places) {
    const double at = (p.x - step.from.x) * along.x + (p.y - step.from.y) * along.y;
    first = std::min(first, at);
    last = std::max(last, at);
  }
  r.short_mm = std::max({first, all - last, 0.0});
  if (places.size() < 3) return;
  const Straightness intended = from_line(places, step.from, along);
  r.intended_max_mm = intended.max;
  r.intended_rms_mm = intended.rms;
  const PointMm mean = mean_of(places);
  const Straightness fitted = from_line(places, mean, principal_axis(places, mean));
  r.linearity_max_mm = fitted.max;
  r.linearity_rms_mm = fitted.rms;
}

bool is_asked(const TouchPlan& plan, int row, int col, PointMm pitch) {
  // In units of the pitch, so that it holds for oblong nodes.
  const PointMm node{col + 0.5, row + 0.5};
  const auto scaled = [&](PointMm p) { return PointMm{p.x / pitch.x, p.y / pitch.y}; };
  return std::any_of(plan.steps.begin(), plan.steps.end(), [&](const TouchStep& s) {
    return distance_from_segment(node, scaled(s.from), scaled(s.to)) <= kAskedWithin;
  });
}

// The greatest of a value over the steps of a kind; not measured if one of them was not.
double worst(const TouchPlan& plan, const TouchResult& r, TouchStep::Kind kind,
             double TouchStepResult::*value) {
  double most = kNotMeasured;
  for (std::size_t k = 0; k < r.steps.size(); ++k) {
    if (plan.steps[k].kind != kind || std::isnan(r.steps[k].*value)) continue;
    most = std::isnan(most) ? r.steps[k].*value : std::max(most, r.steps[k].*value);
  }
  return most;
}

bool has(const TouchPlan& plan, TouchStep::Kind kind) {
  return std::any_of(plan.steps.begin(), plan.steps.end(),
                     [&](const TouchStep& s) { return s.kind == kind; });
}

double covered_percent(const std::vector<Coverage>& coverage) {
  const auto count = [&](Coverage c) {
    return static_cast<double>(std::count(coverage.begin(), coverage.end(), c));
  };
  const double asked = count(Coverage::touched) + count(Coverage::untouched);
  return asked == 0.0 ? kNotMeasured : 100.0 * count(Coverage::touched) / asked;
}

}  // namespace

double distance(PointMm a, PointMm b) { return length(a.x - b.x, a.y - b.y); }

double distance_from_segment(PointMm at, PointMm from, PointMm to) {
  const double dx = to.x - from.x, dy = to.y - from.y;
  const double square = dx * dx + dy * dy;
  if (square == 0.0) return distance(at, from);
  const double share = std::clamp(((at.x - from.x) * dx + (at.y - from.y) * dy) / square, 0.0, 1.0);
  return distance(at, {from.x + share * dx, from.y + share * dy});
}

TouchStepResult measure_step(const TouchStep& step, const std::vector<PointMm>& places) {
  TouchStepResult r;
  r.samples = places.size();
  if (places.empty()) return r;
  if (step.kind == TouchStep::Kind::point)
    measure_point(r, step, places);
  else
    measure_line(r, step, places);
  return r;
}

std::vector<Coverage> coverage_of(const TouchPlan& plan, const std::vector<bool>& touched,
                                  Shape shape, PointMm pitch) {
  std::vector<Coverage> map;
  for (int row = 0; row < shape.rows; ++row)
    for (int col = 0; col < shape.cols; ++col) {
      const bool hit = touched[map.size()];
      if (is_asked(plan, row, col, pitch))
        map.push_back(hit ? Coverage::touched : Coverage::untouched);
      else
        map.push_back(hit ? Coverage::touched_beside : Coverage::not_asked);
    }
  return map;
}

std::vector<TouchCheck> check_limits(const TouchPlan& plan, const TouchResult& r,
                                     const std::vector<double>& errors, int extra) {
  std::vector<TouchCheck> checks;
  const auto add = [&](const char* name, const char* unit, double value, double limit,
                       bool at_least = false) {
    const bool passed = at_least ? value >= limit : value <= limit;  // false for NaN
    checks.push_back({name, unit, value, limit, at_least, passed});
  };
  const TouchLimits& l = plan.limits;
  int missing = 0, incomplete = 0, dropped = 0;
  for (const TouchStepResult& s : r.steps) {
    missing += s.state == TouchStepResult::State::missing;
    incomplete += s.state == TouchStepResult::State::incomplete;
    dropped += s.dropped;
  }
  add("steps not seen", "", missing, 0);
  add("steps not finished", "", incomplete, 0);
  if (has(plan, TouchStep::Kind::point)) {
    add("accuracy, median", "mm", median(errors), l.accuracy_median_mm);
    add("accuracy, 95th percentile", "mm", percentile(errors, 95), l.accuracy_p95_mm);
    add("jitter at rest, rms, worst point", "mm",
        worst(plan, r, TouchStep::Kind::point, &TouchStepResult::jitter_rms_mm), l.jitter_rms_mm);
  }
  if (has(plan, TouchStep::Kind::line)) {
    const bool intended = plan.against_intended;
    add("linearity, largest", "mm",
        worst(plan, r, TouchStep::Kind::line,
              intended ? &TouchStepResult::intended_max_mm : &TouchStepResult::linearity_max_mm),
        l.linearity_max_mm);
    add("linearity, rms, worst line", "mm",
        worst(plan, r, TouchStep::Kind::line,
              intended ? &TouchStepResult::intended_rms_mm : &TouchStepResult::linearity_rms_mm),
        l.linearity_rms_mm);
  }
  add("nodes touched", "%", covered_percent(r.coverage), l.coverage_percent, true);
  add("contacts that broke off", "", dropped, l.dropped);
  add("contacts of no step", "", extra, l.extra);
  return checks;
}

}  // namespace bareglass::host
