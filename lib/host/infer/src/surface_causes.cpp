#include "surface_causes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "confidence.hpp"
#include "evidence.hpp"
#include "evidence_scene.hpp"
#include "scene.hpp"

namespace bareglass::host {

namespace {

// Where most glass is bare, what is told with less sends people to clean what is clean. The price
// is in CALIBRATION.md.
constexpr double kLeastTold = 0.35;

int weight_of(const FindingStory& story) {
  return (story.at_power_up ? 1000000 : 0) + std::abs(static_cast<int>(story.greatest));
}

// Many single nodes for a while each are one cause, not many: shown by the longest.
CauseFound group_lone(const std::vector<const FindingStory*>& lone, const Account& a) {
  const auto life = [](const FindingStory* s) { return s->last.last_us - s->last.first_us; };
  const FindingStory* longest = *std::max_element(
      lone.begin(), lone.end(),
      [&](const FindingStory* x, const FindingStory* y) { return life(x) < life(y); });
  CauseFound c = weigh(*longest, a);
  if (lone.size() == 1) return c;
  c.headline = fmt::format(
      "Single nodes read by themselves, without their neighbours, {} times in this dump: nothing "
      "on the glass does that.",
      lone.size());
  c.speaks_for.push_back(
      fmt::format("The place and time above are those of the one that stayed longest ({:.1f} s).",
                  static_cast<double>(life(longest)) / 1e6));
  return c;
}

double confidence_of(Sureness sureness) {
  switch (sureness) {
    case Sureness::sure:
      return 0.95;
    case Sureness::likely:
      return 0.75;
    case Sureness::possible:
      break;
  }
  return 0.4;
}

/// Whether lines and electrics account for what the core took for a thing: without them little of
/// it is left in its place and at its time.
bool is_explained(const FindingStory& story, const Reading& reading) {
  if (reading.empty()) return false;
  // Without a reference a panel's own spread of manufacture can reach the core's limit under thick
  // glass, where a finger is weak. Six and a half times the spread is no accident of a node.
  if (!reading.has_reference() &&
      std::abs(static_cast<float>(story.greatest)) < 6.5f * reading.spread())
    return true;
  std::size_t nearest = 0;
  for (std::size_t k = 0; k < reading.windows(); ++k)
    if (reading.window(k).first_us <= story.greatest_us) nearest = k;
  if (!reading.has_reference()) {
    int masked = 0;
    int nodes = 0;
    for (int r = story.widest.row0; r <= story.widest.row1; ++r)
      for (int c = story.widest.col0; c <= story.widest.col1; ++c) {
        ++nodes;
        masked += reading.spoiled(reading.node_at(r, c));
      }
    return 2 * masked > nodes;
  }
  const std::vector<float> map = reading.departure(nearest);
  float left = 0.f;
  for (int r = story.widest.row0; r <= story.widest.row1; ++r)
    for (int c = story.widest.col0; c <= story.widest.col1; ++c)
      left = std::max(left, std::abs(map[reading.node_at(r, c)]));
  return left < 0.4f * static_cast<float>(std::abs(static_cast<int>(story.greatest)));
}

/// A touch while the panel looks again and again passes for an object at power-up: what lies there
/// stays for longer. What was there from the first window on is in the scene.
bool is_brief(const FindingStory& story, const Reading& reading) {
  constexpr std::uint64_t kLasting_us = 1900000;
  return reading.windows() >= 2 && story.last.last_us - story.last.first_us < kLasting_us;
}

/// What the dump shows all along. Without a reference lines that are fitted one by one tell more
/// than base(), which large panels bend away from.
Map departure_all_along(const Reading& reading) {
  if (!reading.has_reference()) {
    const std::vector<char> none(static_cast<std::size_t>(reading.shape().nodes()), 0);
    Episode e = against_smoothness(reading, none);
    if (!e.map.empty()) return std::move(e.map);
  }
  return reading.departure(reading.windows() / 2);
}

/// Whether the averaged windows of its time show at its strongest node what the core saw, against
/// the windows of all other times. What was there all the time is in the scene.
bool is_borne_out(const FindingStory& story, const Reading& reading, const Map& all_along) {
  if (reading.windows() < 2) return true;
  const std::size_t node = reading.node_at(story.last.peak_row, story.last.peak_col);
  std::vector<float> inside;
  std::vector<float> outside;
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    const SurveyWindow& w = reading.window(k);
    const bool within = w.last_us >= story.last.first_us && w.first_us <= story.last.last_us;
    (within ? inside : outside).push_back(w.mean[node] / reading.gain(k));
  }
  if (inside.empty()) return true;  // too short a life for the windows that were kept
  if (outside.size() < 2) {
    const float departs = std::abs(all_along[node]);
    return departs > 0.4f * static_cast<float>(std::abs(static_cast<int>(story.greatest)));
  }
  const float shown = std::abs(quantile(outside, 0.5) - quantile(inside, 0.5));
  return shown > 0.4f * static_cast<float>(std::abs(static_cast<int>(story.greatest)));
}

/// The core's findings, most weighty first; lone nodes as one.
std::vector<CauseFound> core_causes(const Account& a, const Reading& reading) {
  std::vector<const FindingStory*> order;
  std::vector<const FindingStory*> lone;
  Map all_along;
  for (const FindingStory& story : a.findings) {
    if (!is_surface_kind(story.last.kind) || story.last.kind == FindingKind::faint_film) continue;
    if (is_explained(story, reading) || is_brief(story, reading)) continue;
    if (story.last.kind != FindingKind::lone_node) {
      if (all_along.empty() && reading.windows() >= 2) all_along = departure_all_along(reading);
      if (!is_borne_out(story, reading, all_along)) continue;
    }
    (story.last.kind == FindingKind::lone_node ? lone : order).push_back(&story);
  }
  std::stable_sort(order.begin(), order.end(), [](const FindingStory* x, const FindingStory* y) {
    return weight_of(*x) > weight_of(*y);
  });
  std::vector<CauseFound> causes;
  for (const FindingStory* story : order) causes.push_back(weigh(*story, a));
  if (!lone.empty()) causes.push_back(group_lone(lone, a));
  for (CauseFound& c : causes) c.confidence = confidence_of(c.sureness);
  return causes;
}

/// A finger does not fade: it was gone when the panel found its glass bare for good, though the
/// window around that moment, or a later touch close by, still holds some of it.
void end_with_the_bare_look(CauseFound& c, const Account& a) {
  if (c.cause != Cause::touch_at_power_up || !c.ended) return;
  std::uint64_t bare_us = 0;
  for (const JournalEntry& e : a.events) {
    if (e.t_us < c.first_us || e.t_us > c.ended_us) continue;
    if (e.code == JournalCode::glass_not_bare) bare_us = 0;
    if (e.code == JournalCode::glass_bare && bare_us == 0) bare_us = e.t_us;
  }
  if (bare_us != 0) c.ended_us = bare_us;
}

}  // namespace

std::vector<CauseFound> surface_causes(const Account& a, const Reading& reading) {
  // One look of the core, some frames long, or a short life in a long dump: what averaged maps
  // can't see stands as the core saw it.
  std::vector<CauseFound> of_core = core_causes(a, reading);
  if (reading.windows() < 2) return of_core;
  std::vector<CauseFound> causes;
  if (moves_at_power_up(reading, a)) {
    // Whatever it left behind, touches and films alike, is the moving thing.
    causes.push_back(weigh_moving(a));
    return causes;
  }
  for (const SceneFound& found : find_scene(reading, a)) {
    CauseFound c = weigh_scene(found, reading, a);
    end_with_the_bare_look(c, a);
    if (calibrated(c.cause, c.confidence) >= kLeastTold) causes.push_back(std::move(c));
  }
  if (causes.empty()) return of_core;
  // The averaged map is the better witness where both saw something: it shows whole patterns, and
  // a conductor without ground makes signals anywhere along its rows and columns.
  const Box seen = causes.front().box;
  for (CauseFound& c : of_core) {
    const bool along_rows = c.box.row0 <= seen.row1 + 2 && seen.row0 <= c.box.row1 + 2;
    const bool along_columns = c.box.col0 <= seen.col1 + 2 && seen.col0 <= c.box.col1 + 2;
    if (!along_rows && !along_columns) causes.push_back(std::move(c));
  }
  return causes;
}

}  // namespace bareglass::host
