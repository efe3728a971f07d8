#include "glass_things.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "reconstruct.hpp"
#include "scene_reader.hpp"
#include "thing_times.hpp"

namespace bareglass::host {

namespace {

using infer::Departure;
using infer::NodeMap;

constexpr std::size_t kMostStates = 8;   // that are explained, if there are no more runs
constexpr std::size_t kMostOfRuns = 24;  // two of each run
// Of a panel that nobody knows: what has less support is unevenness, and so is one node alone
// unless it is far out, in standard deviations of the spread. A large panel bends, most in its
// corners, in more ways than its smooth level follows: chosen above what healthy ones of 72 x 41
// nodes showed (68, bareglass_score --cause bare_glass --seed 710082).
constexpr double kLeastOfSmooth = 14.0;
constexpr double kLeastOfLargeSmooth = 80.0;
constexpr int kLargeLines = 20;  // either way
/// What stands out so of a smooth panel is something, even if nothing explains it.
constexpr double kPlainOfSmooth = 100.0;
constexpr double kFarOut = 8.0;

/// The states worth explaining: of every run, the last one first, the first and the last; then the
/// longest of the others.
std::vector<std::size_t> worth_explaining(const std::vector<GlassState>& states) {
  std::vector<std::size_t> order(states.size());
  for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
  std::size_t ends = 0;
  const auto is_end = [&](std::size_t k) {
    return k == 0 || k + 1 == states.size() || states[k - 1].run != states[k].run ||
           states[k + 1].run != states[k].run;
  };
  for (const std::size_t k : order) ends += is_end(k);
  const auto key = [&](std::size_t k) {
    return std::tuple(!is_end(k), is_end(k) ? -static_cast<double>(states[k].run) : 0.0,
                      -states[k].frames);
  };
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return key(a) < key(b); });
  const std::size_t most = std::clamp(ends, kMostStates, kMostOfRuns);
  if (order.size() > most) order.resize(most);
  return order;
}

struct Found {
  std::vector<GlassThing> things;
  NodeMap predicted;  ///< by all of them, fF
  double cost = 0;
};

/// Whether the things of another state explain this one as well: nothing stands out of what they
/// leave.
bool explains(const NodeMap& predicted, const Departure& map, const PanelScale& scale,
              const infer::SearchOptions& options) {
  const auto full = static_cast<float>(scale.full_counts * scale.ff_per_count);
  Departure left = map;
  left.value -= predicted;
  for (Eigen::Index k = 0; k < left.value.size(); ++k) {
    const float share = options.model_share * predicted(k);
    const float near = std::abs(predicted(k)) > 0.02f * full ? options.near_share * full : 0.f;
    left.noise(k) = std::sqrt(left.noise(k) * left.noise(k) + share * share + near * near);
  }
  return infer::find_blocks(left, full, options).empty();
}

bool is_told(const GlassThing& t, BareBy by, Shape panel) {
  if (by != BareBy::smoothness) return true;
  const bool bends = panel.rows >= kLargeLines && panel.cols >= kLargeLines;
  if (t.kinds.front().cause == Cause::unknown_object) return t.support >= kPlainOfSmooth;
  if (t.kinds.front().cause == Cause::lone_node) return t.support >= kFarOut;
  return t.support >= (bends ? kLeastOfLargeSmooth : kLeastOfSmooth);
}

/// The things of one state held against `bare`; `before`: what other states held against it showed.
Found explain_state(const GlassState& state, std::size_t index, const Bare& bare,
                    const Reading& reading, const PanelScale& scale,
                    const infer::SearchOptions& options, const std::vector<Found>& before) {
  Found out;
  const Departure map = departure_of(state, bare, reading, scale);
  for (const Found& other : before)
    if (explains(other.predicted, map, scale, options)) {
      out = other;
      for (GlassThing& t : out.things) t.state = index;
      return out;
    }
  out.predicted = NodeMap::Zero(map.value.rows(), map.value.cols());
  NodeMap by_scenes = out.predicted;
  for (const infer::BlockScenes& block :
       infer::search(*scale.kernels, scale.pitch_x, scale.pitch_y, map, options)) {
    out.cost += block.is_unknown ? block.nothing : block.scenes.front().cost();
    for (GlassThing& t : things_of(block, map, scale, options)) {
      out.predicted += t.predicted;
      if (!t.pieces.empty()) by_scenes += t.predicted;
      if (is_told(t, bare.by, reading.shape())) out.things.push_back(std::move(t));
    }
  }
  const auto maps = scene_maps(map, by_scenes, scale, reading, state);
  gather(out.things);
  for (GlassThing& t : out.things) {
    t.company = out.things.size();
    t.state = index;
    t.bare = bare.by;
    t.maps = maps;
    follow(t, reading, scale, bare);
  }
  return out;
}

// Of the gain of a panel against its reference, standard deviation: age and the temperature of a
// room (common practice, no source).
constexpr double kGainSpread = 0.02;
constexpr double kUsualGain = 0.025;  // beyond it what most nodes share may be a thing's doing
constexpr double kForAThing = 8.0;    // natural logarithms: what a further thing has to explain
constexpr Eigen::Index kMostNodes = 1500;  // each level is a search of its own, too slow beyond

/// One explanation of a whole state: its things, and the level of the panel it holds them against.
struct Explanation {
  Found found;
  Departure map;
  double level = 1;  ///< of the bare panel, over what most nodes have in common
};

/// What all of an explanation costs: what it leaves on every node, its things, and its gain. Errors
/// are those of `noise`, the same for all that are compared.
double whole_cost(const Explanation& e, const NodeMap& noise, const GlassState& state) {
  const double off = e.level * (1.0 + state.gain_shift) - 1.0;
  return infer::misfit_of({e.map.value, noise}, e.found.predicted) +
         kForAThing * static_cast<double>(e.found.things.size()) +
         0.5 * off * off / (kGainSpread * kGainSpread);
}

/// Whether `a` costs less than `b`.
bool is_cheaper(const Explanation& a, const Explanation& b, const GlassState& state, float share) {
  NodeMap noise = b.map.noise;
  for (Eigen::Index k = 0; k < noise.size(); ++k) {
    const float most = std::max(std::abs(a.found.predicted(k)), std::abs(b.found.predicted(k)));
    noise(k) = std::hypot(std::max(a.map.noise(k), noise(k)), share * most);
  }
  return whole_cost(a, noise, state) < whole_cost(b, noise, state);
}

/// Whether a tenth of the nodes or more shows next to nothing of what was found.
bool leaves_bare(const Found& found) {
  const float most = found.predicted.cwiseAbs().maxCoeff();
  const auto bare = (found.predicted.array().abs() < 0.1f * most).count();
  return 10 * bare >= found.predicted.size();
}

/// The same, and held against the reference as it is if what most nodes share is further off than
/// references are: it may be a thing's doing. Whichever explains all of the state at less cost.
Found explain_at_either_level(const GlassState& state, std::size_t index, const Bare& bare,
                              const Reading& reading, const PanelScale& scale,
                              const infer::SearchOptions& options,
                              const std::vector<Found>& before) {
  Explanation best{explain_state(state, index, bare, reading, scale, options, before),
                   departure_of(state, bare, reading, scale), 1.0};
  if (std::abs(state.gain_shift) < kUsualGain || best.map.value.size() > kMostNodes)
    return best.found;
  const double level = 1.0 / (1.0 + state.gain_shift);
  Bare at = bare;
  for (float& v : at.level) v *= static_cast<float>(level);
  at.is_level = true;
  at.drive = 1.0 + state.gain_shift;
  Explanation other{explain_state(state, index, at, reading, scale, options, {}),
                    departure_of(state, at, reading, scale), level};
  // What covers all of the glass is told by its time alone (whole_cover).
  if (!other.found.things.empty() && leaves_bare(other.found) &&
      is_cheaper(other, best, state, options.model_share))
    best = std::move(other);
  return best.found;
}

std::vector<GlassThing> against_reference(const std::vector<GlassState>& states,
                                          const Reading& reading, const Account& account,
                                          const PanelScale& scale,
                                          const infer::SearchOptions& options) {
  const Bare bare = bare_by_reference(reading);
  std::vector<GlassThing> all;
  std::vector<Found> known;
  for (const std::size_t k : worth_explaining(states)) {
    known.push_back(explain_at_either_level(states[k], k, bare, reading, scale, options, known));
    std::vector<GlassThing> things = known.back().things;
    for (GlassThing& t : things) find_time(t, states[k], reading, account);
    merge_in(all, std::move(things));
  }
  return all;
}

/// How far a state departs from a smooth panel: sum over the nodes, of noise and spread.
double unevenness(const GlassState& s, const Reading& reading, const PanelScale& scale) {
  const std::optional<Bare> smooth = bare_by_smoothness(s, reading);
  if (!smooth) return 0;
  const Departure map = departure_of(s, *smooth, reading, scale);
  return infer::misfit_of({map.value, map.noise},
                          NodeMap::Zero(map.value.rows(), map.value.cols()));
}

/// Without a reference: the longest state is bare, or the one furthest from it, whichever explains
/// the others at less cost; and what is there all along shows against a smooth panel.
std::vector<GlassThing> without_reference(const std::vector<GlassState>& states,
                                          const Reading& reading, const Account& account,
                                          const PanelScale& scale,
                                          const infer::SearchOptions& options) {
  std::vector<GlassThing> all;
  const std::vector<std::size_t> order = worth_explaining(states);
  std::size_t longest = order.front();
  for (const std::size_t k : order)
    if (states[k].frames > states[longest].frames) longest = k;
  std::size_t furthest = longest;
  double most = 0;
  for (const std::size_t k : order) {
    double sum = 0;
    for (std::size_t i = 0; i < states[k].mean.size(); ++i)
      if (!reading.masked(i))
        sum += std::pow(static_cast<double>(states[k].mean[i] - states[longest].mean[i]), 2);
    if (sum <= most) continue;
    most = sum;
    furthest = k;
  }
  const auto explain_by = [&](std::size_t bare, double& cost) {
    const Bare by = bare_by_state(states[bare]);
    std::vector<GlassThing> things;
    std::vector<Found> known;
    cost = unevenness(states[bare], reading, scale);
    for (const std::size_t k : order) {
      if (k == bare) continue;
      Found found = explain_state(states[k], k, by, reading, scale, options, known);
      known.push_back(found);
      cost += found.cost;
      for (GlassThing& t : found.things) find_time(t, states[k], reading, account);
      merge_in(things, std::move(found.things));
    }
    return things;
  };
  if (furthest != longest) {
    double cost_longest = 0;
    double cost_furthest = 0;
    std::vector<GlassThing> a = explain_by(longest, cost_longest);
    std::vector<GlassThing> b = explain_by(furthest, cost_furthest);
    const bool first = cost_longest <= cost_furthest;
    all = first ? std::move(a) : std::move(b);
    const bool close = std::abs(cost_longest - cost_furthest) < 4.0 * kTemper;
    for (GlassThing& t : all) t.either_way = close;
  }
  // What never changes within a start-up: the longest state of each, the last one first.
  std::vector<std::size_t> steady = order;
  std::stable_sort(steady.begin(), steady.end(), [&](std::size_t a, std::size_t b) {
    return std::tuple(states[b].run, states[b].frames) <
           std::tuple(states[a].run, states[a].frames);
  });
  std::vector<Found> known;
  for (std::size_t n = 0; n < steady.size(); ++n) {
    const GlassState& state = states[steady[n]];
    if (n > 0 && states[steady[n - 1]].run == state.run) continue;
    const std::optional<Bare> smooth = bare_by_smoothness(state, reading);
    if (!smooth) continue;
    Found found = explain_state(state, steady[n], *smooth, reading, scale, options, known);
    known.push_back(found);
    for (GlassThing& t : found.things) find_time(t, state, reading, account);
    merge_in(all, std::move(found.things));
  }
  return all;
}

}  // namespace

std::vector<GlassThing> glass_things(const Reading& reading, const Account& account) {
  if (reading.empty()) return {};
  const std::vector<GlassState> states = glass_states(reading, account);
  if (states.empty()) return {};
  const PanelScale scale = panel_scale(reading, account);
  const infer::SearchOptions options;
  std::vector<GlassThing> all = reading.has_reference()
                                    ? against_reference(states, reading, account, scale, options)
                                    : without_reference(states, reading, account, scale, options);
  std::stable_sort(all.begin(), all.end(), [&](const GlassThing& a, const GlassThing& b) {
    return states[a.state].run > states[b.state].run;
  });
  return all;
}

}  // namespace bareglass::host
