// The limits of section [accept], one by one.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "bareglass/answer/cause_group.hpp"
#include "bareglass/compare/comparison.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/statistics/statistics.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

namespace {

// NaN: the dump does not hold what it takes.
constexpr double kUnknown = std::numeric_limits<double>::quiet_NaN();

double percent_of_finger(double counts, const StateOfUnit& s) {
  return 100.0 * counts / s.account.settings.finger_counts;
}

double typical_noise(const StateOfUnit& s) {
  return s.frames < 2 ? kUnknown : percent_of_finger(median(s.noise), s);
}

double greatest_noise(const StateOfUnit& s) {
  return s.frames < 2 ? kUnknown
                      : percent_of_finger(*std::max_element(s.noise.begin(), s.noise.end()), s);
}

double departure(const StateOfUnit& s) {
  if (s.frames == 0 || s.reference.empty() || s.account.kind == DumpKind::differences_only)
    return kUnknown;
  std::vector<double> off;
  for (std::size_t i = 0; i < s.mean.size(); ++i) off.push_back(s.mean[i] - s.reference[i]);
  const double shift = median(off);
  double most = 0.0;
  for (const double d : off) most = std::max(most, std::abs(d - shift));
  return percent_of_finger(most, s);
}

constexpr const char* kWholePanel = "whole panel off (% of the reading)";

/// What the typical node reads off, percent of the reading, with its sign: against the factory
/// reference, without one against `before`.
double whole_shift(const StateOfUnit& s, const StateOfUnit* before) {
  if (s.frames == 0 || s.account.kind == DumpKind::differences_only) return kUnknown;
  std::vector<double> share;
  const auto add = [&](double bare, double now) {
    if (bare > 0.0) share.push_back(now / bare - 1.0);
  };
  if (!s.reference.empty()) {
    for (std::size_t i = 0; i < s.mean.size(); ++i) add(s.reference[i], s.mean[i]);
  } else if (before != nullptr && before->frames > 0 &&
             before->account.kind != DumpKind::differences_only) {
    for (std::size_t i = 0; i < s.mean.size(); ++i) add(before->mean[i], s.mean[i]);
  }
  return share.empty() ? kUnknown : 100.0 * median(share);
}

double non_uniformity(const StateOfUnit& s) {
  if (s.frames == 0 || s.account.kind == DumpKind::differences_only) return kUnknown;
  std::vector<double> share;
  for (std::size_t i = 0; i < s.mean.size(); ++i)
    if (s.reference.empty() || s.reference[i] > 0)
      share.push_back(s.mean[i] / (s.reference.empty() ? 1.0 : s.reference[i]));
  if (share.empty()) return kUnknown;
  const auto [low, high] = std::minmax_element(share.begin(), share.end());
  const double middle = median(share);
  return middle > 0.0 ? 100.0 * (*high - *low) / middle : kUnknown;
}

// The worst over all dumps; unknown as soon as one of them is.
double worst(const std::vector<StateOfUnit>& after, double (*measure)(const StateOfUnit&)) {
  double most = 0.0;
  for (const StateOfUnit& s : after) {
    const double value = measure(s);
    if (std::isnan(value)) return kUnknown;
    most = std::max(most, value);
  }
  return most;
}

AcceptCheck whole_panel(const std::vector<StateOfUnit>& after, const StateOfUnit* before,
                        double limit) {
  double most = 0.0;
  bool by_before = false;
  for (const StateOfUnit& s : after) {
    const double shift = whole_shift(s, before);
    by_before |= s.reference.empty();
    if (std::isnan(shift) || std::abs(shift) > std::abs(most)) most = shift;
    if (std::isnan(shift)) break;
  }
  AcceptCheck c;
  c.name = kWholePanel;
  c.limit = fmt::format("at most {:.1f} %", limit);
  if (std::isnan(most)) {
    c.value = "not measured";
    c.by = "nothing to measure it on";
    c.todo = "Record raw frames from the power-up on.";
    return c;
  }
  c.value = std::abs(most) < 0.05 ? "0.0 %" : fmt::format("{:+.1f} %", most);
  c.passed = std::abs(most) <= limit;
  if (c.passed) return c;
  if (std::abs(most) - limit < 0.05) c.value = fmt::format("{:+.3f} %", most);
  c.by = fmt::format(
      "every node reads {} than {}. A cover over all of the glass does so; so do a cold or hot "
      "unit "
      "and a supply that is off",
      most < 0 ? "lower" : "higher",
      by_before
          ? "before the repair, and without a factory reference either dump may be the covered "
            "one"
          : "its factory reference");
  c.todo =
      "Make sure that nothing covers the glass, not even a clear film, let the unit stand at room "
      "temperature on its usual supply, and record again.";
  return c;
}

AcceptCheck at_most(const char* name, const char* unit, double value, double limit,
                    const char* todo, const char* todo_unknown) {
  AcceptCheck c;
  c.name = name;
  c.limit = fmt::format("at most {:.1f} {}", limit, unit);
  if (std::isnan(value)) {
    c.value = "not measured";
    c.by = "nothing to measure it on";
    c.todo = todo_unknown;
    return c;
  }
  c.value = fmt::format("{:.1f} {}", value, unit);
  c.passed = value <= limit;
  if (c.passed) return c;
  // A value that rounds to its limit is told with more digits.
  if (value - limit < 0.05) c.value = fmt::format("{:.3f} {}", value, unit);
  c.by = fmt::format("{:.2g} times the limit", value / limit);
  c.todo = todo;
  return c;
}

int found(const std::vector<StateOfUnit>& after, const std::function<bool(CauseGroup)>& counts,
          std::string& first) {
  int n = 0;
  for (const StateOfUnit& s : after)
    for (const CauseFound& c : s.diagnosis.causes) {
      if (!counts(group_of(c.cause))) continue;
      if (n++ == 0) first = fmt::format("{} in {}", text::title(c), plain::harmless(s.file));
    }
  return n;
}

AcceptCheck nothing_found(const char* name, const std::vector<StateOfUnit>& after,
                          const std::function<bool(CauseGroup)>& counts, const char* todo) {
  AcceptCheck c;
  c.name = name;
  c.limit = "none";
  std::string first;
  const int n = found(after, counts, first);
  c.value = n == 0 ? "none" : fmt::format("{}", n);
  c.passed = n == 0;
  if (c.passed) return c;
  c.by = n == 1 ? first : fmt::format("{} and {} more", first, n - 1);
  c.todo = todo;
  return c;
}

AcceptCheck start_ups(const std::vector<StateOfUnit>& after, int wanted) {
  int all = 0, on = 0;
  for (const StateOfUnit& s : after) {
    all += s.start_ups;
    on += s.start_ups_on;
  }
  AcceptCheck c;
  c.name = "start-ups that switch input on";
  c.value = fmt::format("{} of {}", on, all);
  c.limit = fmt::format("all, at least {}", wanted);
  c.passed = on == all && all >= wanted;
  if (c.passed) return c;
  if (on < all) {
    c.by = fmt::format("{} did not", all - on);
    c.todo = "Run `bareglass explain` on the dump whose start-up failed, and repair that first.";
  } else {
    c.by = fmt::format("{} missing", wanted - all);
    c.todo = fmt::format(
        "Record {} more from the power-up on, switched off for at least ten seconds before each, "
        "and name all the dumps.",
        wanted - all == 1 ? "one start-up" : fmt::format("{} start-ups", wanted - all));
  }
  return c;
}

}  // namespace

std::vector<AcceptCheck> check_acceptance(const std::vector<StateOfUnit>& after,
                                          const AcceptLimits& l, const StateOfUnit* before) {
  constexpr const char* kNoise =
      "Unplug the charger and repeat. If it stays: tail, shield, front end.";
  constexpr const char* kRaw = "Record raw frames from the power-up on.";
  std::vector<AcceptCheck> checks;
  checks.push_back(at_most("noise, typical node (% of a finger)", "%", worst(after, typical_noise),
                           l.max_noise_percent, kNoise, "Record at least two frames at rest."));
  checks.push_back(at_most("noise, worst node (% of a finger)", "%", worst(after, greatest_noise),
                           l.max_node_noise_percent,
                           "Keep hands off the glass while it starts, and repeat. If it stays: the "
                           "lines of that node.",
                           "Record at least two frames at rest."));
  // Without a factory reference in any dump there is nothing to depart from; uniformity remains.
  const bool referenced = std::any_of(after.begin(), after.end(),
                                      [](const StateOfUnit& s) { return !s.reference.empty(); });
  if (referenced)
    checks.push_back(at_most("off the reference (% of a finger)", "%", worst(after, departure),
                             l.max_departure_percent,
                             "Clean and dry the glass and the bezel's edge, then repeat. If it "
                             "stays: look at the map for whole lines.",
                             kRaw));
  if (before != nullptr || referenced)
    checks.push_back(whole_panel(after, before, l.max_whole_shift_percent));
  checks.push_back(at_most("non-uniformity (% of the middle)", "%", worst(after, non_uniformity),
                           l.max_non_uniformity_percent,
                           "Look at the map for lines or places that read apart from the others.",
                           kRaw));
  if (l.bare_glass)
    checks.push_back(nothing_found(
        "findings on the glass", after, [](CauseGroup g) { return g == CauseGroup::glass; },
        "Remove what lies on the glass; `bareglass explain` shows where."));
  if (l.sound_lines)
    checks.push_back(nothing_found(
        "faults of lines and electronics", after,
        [](CauseGroup g) { return g == CauseGroup::lines || g == CauseGroup::electronics; },
        "Run `bareglass explain` on that dump and follow its steps; do not clean further."));
  checks.push_back(start_ups(after, l.start_ups));
  return checks;
}

bool is_whole_panel_off(const std::vector<AcceptCheck>& checks) {
  return std::any_of(checks.begin(), checks.end(),
                     [](const AcceptCheck& c) { return c.name == kWholePanel && !c.passed; });
}

}  // namespace bareglass::host
