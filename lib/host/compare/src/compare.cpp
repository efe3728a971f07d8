#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "bareglass/answer/cause_group.hpp"
#include "bareglass/compare/comparison.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/statistics/statistics.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

namespace {

// A finding counts as changed beyond both; common practice, no source.
constexpr double kRatio = 1.25;
constexpr double kLeastPercent = 1.0;

struct Located {
  CauseFound cause;
  double percent = 0.0;
  std::size_t file = 0;
};

std::vector<Located> findings_of(const StateOfUnit& state, std::size_t file) {
  std::vector<Located> found;
  for (const CauseFound& c : state.diagnosis.causes)
    if (group_of(c.cause) != CauseGroup::none)
      found.push_back({c, 100.0 * c.measured / state.account.settings.finger_counts, file});
  return found;
}

Change judge(double before, double after) {
  const double b = std::abs(before), a = std::abs(after);
  if (std::abs(a - b) < kLeastPercent) return Change::still_there;
  if (a > kRatio * b) return Change::stronger;
  return kRatio * a < b ? Change::weaker : Change::still_there;
}

// Takes all that is the same thing as `of` out of `from` and gives the strongest; nothing if none.
std::optional<Located> take_strongest(std::vector<Located>& from, const CauseFound& of) {
  std::optional<Located> best;
  const auto same = std::stable_partition(
      from.begin(), from.end(), [&](const Located& l) { return !same_thing(l.cause, of); });
  for (auto it = same; it != from.end(); ++it)
    if (!best || std::abs(it->percent) > std::abs(best->percent)) best = *it;
  from.erase(same, from.end());
  return best;
}

std::vector<FindingChange> changes_of(const StateOfUnit& before,
                                      const std::vector<StateOfUnit>& after) {
  std::vector<Located> left;
  for (std::size_t k = 0; k < after.size(); ++k)
    for (Located& l : findings_of(after[k], k)) left.push_back(std::move(l));
  std::vector<FindingChange> changes;
  std::vector<Located> old = findings_of(before, 0);
  while (!old.empty()) {
    const Located was = *take_strongest(old, CauseFound(old.front().cause));
    FindingChange c;
    c.before = was.cause;
    c.before_percent = was.percent;
    if (const auto now = take_strongest(left, was.cause)) {
      c.after = now->cause;
      c.after_percent = now->percent;
      c.after_file = now->file;
      c.change = judge(c.before_percent, c.after_percent);
    } else {
      c.change = Change::gone;
    }
    changes.push_back(std::move(c));
  }
  while (!left.empty()) {
    const Located now = *take_strongest(left, CauseFound(left.front().cause));
    FindingChange c;
    c.change = Change::fresh;
    c.after = now.cause;
    c.after_percent = now.percent;
    c.after_file = now.file;
    changes.push_back(std::move(c));
  }
  std::stable_sort(changes.begin(), changes.end(),
                   [](const FindingChange& x, const FindingChange& y) {
                     return (x.change != Change::gone) > (y.change != Change::gone);
                   });
  return changes;
}

bool differences_only(const StateOfUnit& s) { return s.account.kind == DumpKind::differences_only; }

void draw_map(Comparison& c, const StateOfUnit& before, const StateOfUnit& after) {
  if (differences_only(before) != differences_only(after)) {
    c.remarks.emplace_back(
        "No map: one dump holds raw frames, the other the device's own differences.");
    return;
  }
  if (before.frames == 0 || after.frames == 0) {
    c.remarks.emplace_back("No map: a dump ends before its front end had settled.");
    return;
  }
  const Settings& s = before.account.settings;
  const double sign = differences_only(before) || s.counts_rise ? 1.0 : -1.0;
  std::vector<double> change;
  for (std::size_t i = 0; i < before.mean.size(); ++i)
    change.push_back(sign * (after.mean[i] - before.mean[i]));
  const double shift = median(change);
  c.shift_percent = 100.0 * shift / s.finger_counts;
  HeatMap& map = c.map;
  map.shape = s.shape;
  for (const double d : change)
    map.counts.push_back(
        static_cast<std::int16_t>(std::lround(std::clamp(d - shift, -32767.0, 32767.0))));
  map.finger_counts = s.finger_counts;
  map.limit = s.finger_counts * s.surface_permille / 1000;
  map.pitch_row_mm = s.pitch_row_um / 1000.0;
  map.pitch_col_mm = s.pitch_col_um / 1000.0;
  map.title = "After less before, at the start of each dump, percent of a finger";
  map.caption = "Above zero the node reads more like touched than before, below zero less.";
}

std::string unit_of(const StateOfUnit& s) { return plain::harmless(s.account.panel.unit_id); }

bool states_finger(const StateOfUnit& s) {
  using Source = FingerScale::Source;
  return s.account.finger.source == Source::dump || s.account.finger.source == Source::option;
}

void note_finger(Comparison& c, const StateOfUnit& s) {
  if (!states_finger(s))
    c.remarks.push_back(plain::harmless(s.file) + ": " + text::finger(s.account.finger));
}

void note_differences(Comparison& c, const StateOfUnit& before, const StateOfUnit& after) {
  if (const std::string unit = mismatch(before, after).unit; !unit.empty())
    c.remarks.push_back("Careful: " + unit);
  const auto counts = [](const StateOfUnit& s) { return s.account.settings.finger_counts; };
  note_finger(c, after);
  if (counts(before) != counts(after) && states_finger(before) && states_finger(after))
    c.remarks.push_back(fmt::format(
        "The dumps give different finger signals ({} and {} counts); each is used for its own.",
        counts(before), counts(after)));
  if (after.account.kind != DumpKind::from_power_up)
    c.remarks.push_back(
        fmt::format("{}: the power-up is not in this dump, so it tells no start-up.",
                    plain::harmless(after.file)));
}

}  // namespace

const char* name_of(Change change) {
  static constexpr const char* kNames[] = {"gone", "weaker", "still there", "stronger", "new"};
  return kNames[static_cast<int>(change)];
}

PanelMismatch mismatch(const StateOfUnit& before, const StateOfUnit& after) {
  PanelMismatch m;
  const Settings &b = before.account.settings, &a = after.account.settings;
  if (b.shape != a.shape)
    m.panel = fmt::format("{} has {} rows x {} columns, {} has {} x {}: not the same panel",
                          plain::harmless(before.file), b.shape.rows, b.shape.cols,
                          plain::harmless(after.file), a.shape.rows, a.shape.cols);
  else if (b.pitch_row_um != a.pitch_row_um || b.pitch_col_um != a.pitch_col_um)
    m.panel = fmt::format("{} has pitches of {} x {} um, {} of {} x {} um: not the same panel",
                          plain::harmless(before.file), b.pitch_row_um, b.pitch_col_um,
                          plain::harmless(after.file), a.pitch_row_um, a.pitch_col_um);
  const std::string was = unit_of(before), is = unit_of(after);
  if (!was.empty() && !is.empty() && was != is)
    m.unit = fmt::format("{} is of unit {}, {} of unit {}", plain::harmless(before.file), was,
                         plain::harmless(after.file), is);
  return m;
}

Comparison compare(const StateOfUnit& before, const std::vector<StateOfUnit>& after,
                   const AcceptLimits& limits) {
  Comparison c;
  c.before_file = before.file;
  c.unit = unit_of(before).empty() ? unit_of(after.back()) : unit_of(before);
  note_finger(c, before);
  for (const StateOfUnit& a : after) {
    c.after_files.push_back(a.file);
    note_differences(c, before, a);
  }
  c.changes = changes_of(before, after);
  draw_map(c, before, after.back());
  c.checks = check_acceptance(after, limits, &before);
  c.whole_panel_off = is_whole_panel_off(c.checks);
  c.accepted = std::all_of(c.checks.begin(), c.checks.end(),
                           [](const AcceptCheck& check) { return check.passed; });
  return c;
}

}  // namespace bareglass::host
