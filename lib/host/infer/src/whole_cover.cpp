#include "whole_cover.hpp"

#include <algorithm>
#include <cmath>

#include "bareglass/words/text.hpp"
#include "departure.hpp"
#include "electrical_survey.hpp"
#include "evidence_text.hpp"

namespace bareglass::host {

namespace {

// Temperature moves a panel's gain by less within a second, some hundred ppm a kelvin (common
// practice, no source).
constexpr double kLeastStep = 0.004;
// And a step is this many times what the gain usually changes by from window to window (chosen).
constexpr double kOverUsual = 6.0;
constexpr double kEven = 0.5;  // of the step: what nodes may differ by, five in a hundred left out
constexpr std::size_t kBesideStep = 3;  // windows averaged on either side
// Earthed through a spacer it takes less; below this part it would stand some millimetres
// off (chosen).
constexpr double kMuchOfFull = 0.15;
// What all of an earthed cover takes, with what is not known of the glass (chosen).
constexpr double kNearlyFull = 0.6;
constexpr double kBeyondFull = 1.35;
// Raw shares of right answers, chosen; the second where the supply may have done it.
constexpr double kBySignal = 0.85;
constexpr double kOrSupply = 0.75;

struct Step {
  std::size_t at = 0;  ///< first window after it
  double by = 0;       ///< share of the reading, of the later over the earlier level
  double before = 1, after = 1;
};

double level(const Reading& reading, std::size_t from, std::size_t until) {
  std::vector<float> gains;
  for (std::size_t k = from; k < until; ++k) gains.push_back(reading.gain(k));
  return static_cast<double>(quantile(std::move(gains), 0.5));
}

double usual_change(const Reading& reading, std::size_t from, std::size_t until) {
  std::vector<float> changes;
  for (std::size_t k = from + 1; k < until; ++k)
    changes.push_back(std::abs(reading.gain(k) - reading.gain(k - 1)));
  return static_cast<double>(quantile(std::move(changes), 0.5));
}

/// Whether nearly every node steps by as much: an arm over half of the glass moves what most nodes
/// have in common, too.
bool is_even(const Reading& reading, std::size_t at, double by) {
  std::vector<float> steps;
  const std::size_t last = std::min(at + 1, reading.windows() - 1);
  for (std::size_t i = 0; i < reading.base().size(); ++i) {
    const float before = reading.window(at - 2).mean[i];
    if (!reading.masked(i) && before > 1.f)
      steps.push_back(reading.window(last).mean[i] / before - 1.f);
  }
  const double low = static_cast<double>(quantile(steps, 0.05));
  const double high = static_cast<double>(quantile(std::move(steps), 0.95));
  return std::max(high - by, by - low) < kEven * std::abs(by);
}

/// The largest step within the windows from..until - 1.
std::optional<Step> largest_step(const Reading& reading, std::size_t from, std::size_t until) {
  Step best;
  for (std::size_t k = from + 2; k + 2 <= until; ++k) {
    const double before = level(reading, std::max(from, k < kBesideStep ? 0 : k - kBesideStep), k);
    const double after = level(reading, k, std::min(until, k + kBesideStep));
    const double by = after / before - 1.0;
    if (std::abs(by) > std::abs(best.by)) best = {k, by, before, after};
  }
  const double limit = std::max(kLeastStep, kOverUsual * usual_change(reading, from, until));
  if (std::abs(best.by) < limit || !is_even(reading, best.at, best.by)) return std::nullopt;
  return best;
}

/// Where a level that began at `from` ends: the first window nearer to the other one.
std::size_t end_of(const Reading& reading, std::size_t from, std::size_t until, double here,
                   double there) {
  for (std::size_t k = from; k < until; ++k) {
    const auto g = static_cast<double>(reading.gain(k));
    if (std::abs(g - here) > std::abs(g - there)) return k;
  }
  return until;
}

Box all_of(Shape shape) {
  return {0, static_cast<std::uint8_t>(shape.rows - 1), 0,
          static_cast<std::uint8_t>(shape.cols - 1)};
}

/// A start-up whose nodes all read less than the reference by what an earthed cover takes: more
/// than temperature or age do.
std::optional<CauseFound> covered_all_along(const Account& a, const Reading& reading,
                                            std::size_t from, std::size_t until) {
  if (!reading.has_reference()) return std::nullopt;
  const double lost = 1.0 - level(reading, from, until);
  const double level_counts = static_cast<double>(quantile(reading.base(), 0.5));
  const double share = lost * level_counts / panel_scale(reading, a).full_counts;
  if (share < kNearlyFull || share > kBeyondFull) return std::nullopt;
  CauseFound c;
  c.cause = Cause::grounded_film;
  c.or_else.push_back(a.lowest_millivolts ? Cause::temperature : Cause::supply_sag);
  c.headline = text::headline_of_all(c);
  c.confidence = kOrSupply;
  c.has_place = true;
  c.box = all_of(reading.shape());
  c.limit = a.decisive.limit;
  c.measured = static_cast<std::int32_t>(std::lround(lost * level_counts));
  c.first_us = a.runs[run_of(a, reading.window(from).first_us)].first_us;
  c.ended_us = reading.window(until - 1).last_us;
  c.speaks_for.push_back(text::all_nodes_lower(lost, c.measured, a.settings));
  c.speaks_for.push_back(text::as_much_as_a_cover(share));
  if (a.lowest_millivolts) c.speaks_for.push_back(text::sag_millivolts(*a.lowest_millivolts));
  c.speaks_against.push_back(text::gain_or_cover());
  return c;
}

}  // namespace

std::optional<CauseFound> whole_cover(const Account& a, const Reading& reading) {
  // Differences are not held against a reading that a gain could change.
  if (a.kind == DumpKind::differences_only) return std::nullopt;
  if (a.lowest_millivolts && *a.lowest_millivolts < kGoodMillivolts) return std::nullopt;
  for (std::size_t until = reading.windows(); until > 0;) {
    const std::size_t run = run_of(a, reading.window(until - 1).first_us);
    std::size_t from = until;
    while (from > 0 && run_of(a, reading.window(from - 1).first_us) == run) --from;
    const std::optional<Step> step = largest_step(reading, from, until);
    if (!step) {
      if (until == reading.windows())
        if (std::optional<CauseFound> cover = covered_all_along(a, reading, from, until))
          return cover;
      until = from;
      continue;
    }
    // Covered is the side further from the reference; without one, what came later.
    const bool came =
        !reading.has_reference() || std::abs(step->after - 1.0) >= std::abs(step->before - 1.0);
    const std::size_t begin = came ? step->at : from;
    const std::size_t end =
        came ? end_of(reading, step->at, until, step->after, step->before) : step->at;
    const double by = came ? step->by : step->before / step->after - 1.0;
    CauseFound c;
    // Over all of the glass an isolated film takes and gives nearly as much, so that either sign
    // may be left of it; an earthed one takes what it can.
    const PanelScale scale = panel_scale(reading, a);
    const double level_counts = static_cast<double>(quantile(reading.base(), 0.5));
    const double share = -by * level_counts / scale.full_counts;  // of what an earthed cover takes
    c.cause = share > 0.5 ? Cause::grounded_film : Cause::isolated_film;
    if (share > kMuchOfFull && share <= 0.5) c.or_else.push_back(Cause::grounded_film);
    // A drive that sinks and comes back moves all nodes down, one that overshoots up.
    if (!a.lowest_millivolts) c.or_else.push_back(Cause::supply_sag);
    c.headline = text::headline_of_all(c);
    c.confidence = a.lowest_millivolts ? kBySignal : kOrSupply;
    c.has_place = true;
    c.box = all_of(reading.shape());
    c.limit = a.decisive.limit;
    c.measured = static_cast<std::int32_t>(std::lround(-by * level_counts));
    c.first_us = begin == from ? a.runs[run].first_us : reading.window(begin).first_us;
    c.ended = end < reading.windows();
    c.ended_us = reading.window(end - 1).last_us;
    c.speaks_for.push_back(text::all_nodes_stepped(by, c.measured, a.settings));
    c.speaks_for.push_back(text::no_temperature_steps());
    if (a.lowest_millivolts) c.speaks_for.push_back(text::sag_millivolts(*a.lowest_millivolts));
    if (!reading.has_reference()) c.speaks_against.push_back(text::put_down_or_lifted());
    return c;
  }
  return std::nullopt;
}

}  // namespace bareglass::host
