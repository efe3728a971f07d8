#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/panel/player.hpp"
#include "bareglass/replay/replay.hpp"
#include "score.hpp"
#include "support/record_list.hpp"

namespace bareglass::score {

namespace {

template <typename T>
bool holds(const std::vector<T>& all, const T& one) {
  return std::find(all.begin(), all.end(), one) != all.end();
}

double place_error_mm(const host::CauseFound& found, const Case& c) {
  const double px = c.scenario.panel.columns.pitch_mm;
  const double py = c.scenario.panel.rows.pitch_mm;
  const double x = (found.box.col0 + found.box.col1) * px / 2;
  const double y = (found.box.row0 + found.box.row1) * py / 2;
  // What lies beyond the outermost nodes can't be seen.
  const PlaceMm& p = *c.place;
  const double right = (c.scenario.setup.columns - 1) * px;
  const double bottom = (c.scenario.setup.rows - 1) * py;
  const auto middle = [](double low, double high, double end) {
    return (std::clamp(low, 0.0, end) + std::clamp(high, 0.0, end)) / 2;
  };
  return std::hypot(x - middle(p.x_low, p.x_high, right), y - middle(p.y_low, p.y_high, bottom));
}

int line_error(const host::LinesFound& found, const host::LinesFound& truth) {
  if (found.of_rows != truth.of_rows) return 1000;
  int error = std::max(std::abs(found.first - truth.first), std::abs(found.last - truth.last));
  if (truth.at >= 0 && found.at >= 0) error = std::max(error, std::abs(found.at - truth.at));
  return error;
}

void weigh_finding(Judged& j, const host::CauseFound& found, const Case& c) {
  const auto fits = [&](host::Cause cause) {
    return holds(c.truths, cause) || holds(c.right, cause);
  };
  const bool right =
      fits(found.cause) || std::any_of(found.or_else.begin(), found.or_else.end(), fits);
  j.findings.push_back({found.cause, found.confidence, right});
  if (!right) return;
  if (c.place && found.has_place && !found.lines && j.place_error_mm < 0)
    j.place_error_mm = place_error_mm(found, c);
  if (c.lines && found.lines && j.line_error < 0) j.line_error = line_error(*found.lines, *c.lines);
}

}  // namespace

host::Diagnosis diagnose_scenario(const panel::Scenario& scenario) {
  std::vector<host::Record> records;
  panel::play(scenario, [&](const host::Record& r) { records.push_back(r); });
  support::RecordListReader reader(std::move(records));
  return host::diagnose(host::replay(reader, scenario.file, {}));
}

Judged judge(const Case& c, std::uint64_t seed) {
  return judge(c, seed, diagnose_scenario(c.scenario));
}

Judged judge(const Case& c, std::uint64_t seed, const host::Diagnosis& d) {
  Judged j;
  j.seed = seed;
  j.drawn = c.drawn;
  j.is_double = c.truths.size() > 1;
  j.visible = c.visible;
  j.said = d.causes.front().cause;
  j.confidence = d.causes.front().confidence;
  const std::vector<host::Cause>& or_else = d.causes.front().or_else;
  j.as_second_name =
      !holds(c.right, j.said) &&
      std::any_of(or_else.begin(), or_else.end(), [&](host::Cause o) { return holds(c.right, o); });
  j.right = holds(c.right, j.said) || j.as_second_name;
  j.truths = static_cast<int>(c.truths.size());
  for (const host::CauseFound& found : d.causes) {
    weigh_finding(j, found, c);
    j.told += (j.told.empty() ? "" : ", ") + std::string(host::name_of(found.cause)) + " " +
              std::to_string(found.confidence).substr(0, 4);
    for (const host::Cause o : found.or_else) j.told += std::string(" or ") + host::name_of(o);
    if (found.lines)
      j.told += std::string(found.lines->of_rows ? " rows " : " columns ") +
                std::to_string(found.lines->first) + ".." + std::to_string(found.lines->last);
  }
  for (const host::Cause truth : c.truths)
    j.truths_named += std::any_of(d.causes.begin(), d.causes.end(), [&](const auto& f) {
      return f.cause == truth || holds(f.or_else, truth);
    });
  return j;
}

}  // namespace bareglass::score
