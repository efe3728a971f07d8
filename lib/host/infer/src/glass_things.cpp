#include "glass_things.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "thing_kinds.hpp"

namespace bareglass::host {

namespace {

using infer::BlockScenes;
using infer::Departure;
using infer::NodeMap;
using infer::Scene;

// How many natural logarithms of likelihood ratio are worth one: the errors of the model at
// neighbouring nodes go together, so that a map holds fewer independent witnesses than nodes.
constexpr double kTemper = 2.5;
// A thing whose removal costs less is there to mend the model's own errors.
constexpr double kLeastSupport = 6.0;
constexpr double kLeastOfSmooth = 14.0;
constexpr double kMostOfSmooth = 0.12;  // of the panel's area
constexpr std::size_t kMostStates = 8;
constexpr double kFarOut = 8.0;  // standard deviations of the spread

/// A scene of a block as things.
struct Reader {
  const PanelScale& scale;
  Shape panel;
  const Departure& map;
  infer::SearchOptions options;

  infer::CellModel model(const infer::Block& b) const {
    return {*scale.kernels, b.rows(), b.columns(), scale.pitch_x, scale.pitch_y};
  }
};

NodeMap on_panel(const NodeMap& part, const infer::Block& b, Shape panel) {
  NodeMap out = NodeMap::Zero(panel.rows, panel.cols);
  out.block(b.row0, b.column0, b.rows(), b.columns()) = part;
  return out;
}

Scene only(const infer::SceneBody& body) {
  Scene s;
  s.bodies.push_back(body);
  return s;
}

bool is_small_isolated(const GlassThing& t) {
  return !t.is_layer && !t.kinds.empty() && t.kinds.front().cause == Cause::isolated_film &&
         t.shape.diameter_mm < 14.0;
}

Box joined(const Box& a, const Box& b) {
  return {std::min(a.row0, b.row0), std::max(a.row1, b.row1), std::min(a.col0, b.col0),
          std::max(a.col1, b.col1)};
}

/// Several small isolated things are drops; several layers side by side are one.
void gather(std::vector<GlassThing>& things) {
  GlassThing drops;
  drops.parts = 0;
  GlassThing layer;
  layer.parts = 0;
  std::vector<GlassThing> rest;
  const auto take = [](GlassThing& into, const GlassThing& t) {
    if (into.parts == 0) {
      const int parts = t.parts;
      into = t;
      into.parts = parts;
      return;
    }
    into.predicted += t.predicted;
    into.support += t.support;
    into.shape.box = joined(into.shape.box, t.shape.box);
    const double whole = into.shape.area_mm2 + t.shape.area_mm2;
    into.shape.x_mm += (t.shape.x_mm - into.shape.x_mm) * t.shape.area_mm2 / whole;
    into.shape.y_mm += (t.shape.y_mm - into.shape.y_mm) * t.shape.area_mm2 / whole;
    into.shape.area_mm2 = whole;
    into.parts += t.parts;
  };
  for (GlassThing& t : things) {
    if (is_small_isolated(t))
      take(drops, t);
    else if (t.is_layer)
      take(layer, t);
    else
      rest.push_back(std::move(t));
  }
  if (drops.parts > 0) {
    const double film = drops.parts == 1 ? 0.6 : drops.parts == 2 ? 0.15 : 0.02;
    const double streak = drops.kinds.size() > 1 ? drops.kinds[1].share * 0.5 : 0.0;
    drops.kinds = {{Cause::drops, (1.0 - film) * (1.0 - streak)},
                   {Cause::isolated_film, film * (1.0 - streak)},
                   {Cause::isolated_streak, streak}};
    settle(drops.kinds);
    rest.push_back(std::move(drops));
  }
  if (layer.parts > 0) rest.push_back(std::move(layer));
  things = std::move(rest);
}

std::vector<GlassThing> read_scene(const Reader& reader, const BlockScenes& block,
                                   const Scene& scene) {
  const infer::CellModel model = reader.model(block.block);
  const infer::Evidence evidence =
      infer::evidence_of(reader.map, block.block, model.full_loss(), reader.options);
  const NodeMap all = infer::predict(model, scene);
  const double misfit = infer::misfit_of(evidence, all);
  std::vector<GlassThing> out;
  const auto add = [&](const infer::CoverMap& cover, NodeMap own) {
    GlassThing t;
    t.support = infer::misfit_of(evidence, all - own) - misfit;
    if (t.support < kLeastSupport) return static_cast<GlassThing*>(nullptr);
    t.shape = shape_of(cover, model, block.block, reader.panel);
    t.predicted = on_panel(own, block.block, reader.panel);
    out.push_back(std::move(t));
    return &out.back();
  };
  for (const infer::SceneBody& b : scene.bodies) {
    GlassThing* t = add(b.body.cover, infer::predict(model, only(b)));
    if (t == nullptr) continue;
    t->to_earth_pf = static_cast<double>(b.body.to_earth) / 1000.0;
    t->kinds = kinds_of_body(t->shape, t->to_earth_pf,
                             static_cast<double>(model.couple(b.body.cover).self) / 1000.0);
  }
  for (const infer::Layer& l : scene.layers) {
    GlassThing* t = add(l.cover, -l.amount * model.full_loss() * model.covered(l.cover));
    if (t == nullptr) continue;
    t->is_layer = true;
    t->kinds = kinds_of_layer(t->shape, static_cast<double>(l.amount));
  }
  std::sort(out.begin(), out.end(),
            [](const GlassThing& a, const GlassThing& b) { return a.support > b.support; });
  return out;
}

/// Things of a block by its best scene, with what its other scenes would have them be.
std::vector<GlassThing> things_of_block(const Reader& reader, const BlockScenes& block) {
  std::vector<std::vector<GlassThing>> read;
  std::vector<double> weight;
  const double best = block.scenes.front().cost();
  for (const Scene& s : block.scenes) {
    const double w = std::exp(-(s.cost() - best) / kTemper);
    if (w < 0.01) continue;
    read.push_back(read_scene(reader, block, s));
    weight.push_back(w);
  }
  if (read.empty() || read[0].empty()) return {};
  // Scenes that came out alike are one hypothesis, not several: of each set of kinds the best.
  std::map<Cause, double> by_first;
  for (std::size_t k = 0; k < read.size(); ++k)
    if (!read[k].empty()) {
      double& w = by_first[read[k][0].kinds.front().cause];
      w = std::max(w, weight[k]);
    }
  double sum = 0;
  for (const auto& [cause, w] : by_first) sum += w;
  std::vector<KindShare> mixed;
  std::map<Cause, double> shares;
  std::map<Cause, bool> done;
  for (std::size_t k = 0; k < read.size(); ++k) {
    if (read[k].empty() || done[read[k][0].kinds.front().cause]) continue;
    done[read[k][0].kinds.front().cause] = true;
    const double w = by_first[read[k][0].kinds.front().cause] / sum;
    for (const KindShare& s : read[k][0].kinds) shares[s.cause] += w * s.share;
  }
  for (const auto& [cause, share] : shares) mixed.push_back({cause, share});
  settle(mixed);
  read[0][0].kinds = std::move(mixed);
  const double nodes = block.block.rows() * block.block.columns();
  for (GlassThing& t : read[0]) t.left = block.scenes.front().misfit / nodes;
  return std::move(read[0]);
}

/// A node that reads by itself.
GlassThing lone_node(const BlockScenes& block, const Departure& map) {
  GlassThing t;
  t.kinds = {{Cause::lone_node, 1.0}};
  const auto row = static_cast<std::uint8_t>(block.lone_row);
  const auto col = static_cast<std::uint8_t>(block.lone_column);
  t.shape.box = {row, row, col, col};
  t.predicted = NodeMap::Zero(map.value.rows(), map.value.cols());
  t.predicted(block.lone_row, block.lone_column) = map.value(block.lone_row, block.lone_column);
  t.support = block.significant;
  return t;
}

/// Something that no hypothesis explains: as it is seen.
GlassThing unknown_thing(const BlockScenes& block, const Departure& map) {
  GlassThing t;
  const infer::Block& b = block.block;
  t.kinds = {{Cause::unknown_object, 1.0}};
  const auto line = [](int n) { return static_cast<std::uint8_t>(n); };
  t.shape.box = {line(b.row0), line(b.row1), line(b.column0), line(b.column1)};
  t.predicted = NodeMap::Zero(map.value.rows(), map.value.cols());
  t.predicted.block(b.row0, b.column0, b.rows(), b.columns()) =
      map.value.block(b.row0, b.column0, b.rows(), b.columns());
  t.support = block.nothing;
  return t;
}

/// What a window shows of a thing: 1 as it was told, 0 nothing.
void follow(GlassThing& t, const Reading& reading, const PanelScale& scale,
            const GlassState* bare) {
  const float most = t.predicted.cwiseAbs().maxCoeff();
  double norm = 1e-12;
  std::vector<std::size_t> nodes;
  for (int r = 0; r < reading.shape().rows; ++r)
    for (int c = 0; c < reading.shape().cols; ++c) {
      const std::size_t i = reading.node_at(r, c);
      if (reading.masked(i) || std::abs(t.predicted(r, c)) < 0.15f * most) continue;
      nodes.push_back(i);
      norm += std::pow(static_cast<double>(t.predicted(r, c)), 2);
    }
  const int cols = reading.shape().cols;
  t.course.assign(reading.windows(), 0.f);
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    double along = 0;
    for (const std::size_t i : nodes) {
      const float from = bare != nullptr ? bare->mean[i] : reading.base()[i];
      const float d = reading.change_sign() * (from - reading.window(k).mean[i] / reading.gain(k));
      along +=
          static_cast<double>(d) * scale.ff_per_count *
          static_cast<double>(t.predicted(static_cast<int>(i) / cols, static_cast<int>(i) % cols));
    }
    t.course[k] = static_cast<float>(along / norm);
  }
  const double frames = reading.windows() > 0 ? std::max(1, reading.window(0).frames) : 1;
  t.course_sigma =
      static_cast<double>(reading.noise()) * scale.ff_per_count / std::sqrt(norm * frames);
}

/// The windows around its state in which more than half of it is seen. Without a reference that
/// shows in another state it was there all along.
void find_time(GlassThing& t, const GlassState& state, const Reading& reading,
               const Account& account, bool lasts) {
  const auto there = [&](std::size_t k) { return t.course[k] > 0.4f; };
  const auto in_run = [&](std::size_t k) {
    return run_of(account, reading.window(k).first_us) == state.run;
  };
  t.from = state.from;
  t.until = state.until;
  while (t.from > 0 && in_run(t.from - 1) && (there(t.from - 1) || lasts)) --t.from;
  while (t.until < reading.windows() && in_run(t.until) && (there(t.until) || lasts)) ++t.until;
}

bool is_isolated(const GlassThing& t) {
  return t.kinds.front().cause != Cause::touch_at_power_up &&
         t.kinds.front().cause != Cause::grounded_film && t.kinds.front().cause != Cause::wet_bezel;
}

/// Part of the smaller box that the other covers.
double overlap(const Box& a, const Box& b) {
  const int rows = std::min(a.row1, b.row1) - std::max(a.row0, b.row0) + 1;
  const int cols = std::min(a.col1, b.col1) - std::max(a.col0, b.col0) + 1;
  if (rows <= 0 || cols <= 0) return 0;
  return static_cast<double>(rows * cols) /
         std::min(a.height() * a.width(), b.height() * b.width());
}

/// The same map, or, of what dries and shrinks, the same place.
bool same_thing(const GlassThing& a, const GlassThing& b) {
  if (is_isolated(a) && is_isolated(b) && overlap(a.shape.box, b.shape.box) > 0.5) return true;
  const double both = static_cast<double>((a.predicted.array() * b.predicted.array()).sum());
  const double scale = std::sqrt(static_cast<double>(a.predicted.squaredNorm()) *
                                 static_cast<double>(b.predicted.squaredNorm()));
  return both > 0.6 * scale;
}

bool times_meet(const GlassThing& a, const GlassThing& b) {
  return a.from <= b.until && b.from <= a.until;
}

/// The states worth explaining: of every run the first, the last and the longest, then others.
std::vector<std::size_t> worth_explaining(const std::vector<GlassState>& states) {
  std::vector<std::size_t> order(states.size());
  for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
  const auto is_end = [&](std::size_t k) {
    return k == 0 || k + 1 == states.size() || states[k - 1].run != states[k].run ||
           states[k + 1].run != states[k].run;
  };
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    if (states[a].run != states[b].run && (is_end(a) || is_end(b)))
      return states[a].run > states[b].run;
    if (is_end(a) != is_end(b)) return is_end(a);
    return states[a].frames > states[b].frames;
  });
  if (order.size() > kMostStates) order.resize(kMostStates);
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

/// The things of one state held against `bare`.
Found explain_state(const std::vector<GlassState>& states, std::size_t k, const GlassState* bare,
                    BareBy by, const Reading& reading, const PanelScale& scale,
                    const infer::SearchOptions& options, const std::vector<Found>& before) {
  Found out;
  const Departure map = departure_of(states[k], bare, reading, scale);
  out.predicted = NodeMap::Zero(map.value.rows(), map.value.cols());
  for (const Found& other : before)
    if (explains(other.predicted, map, scale, options)) {
      out.cost = other.cost;
      out.predicted = other.predicted;
      for (const GlassThing& t : other.things) {
        out.things.push_back(t);
        out.things.back().state = k;
      }
      return out;
    }
  const Reader reader{scale, reading.shape(), map, options};
  for (const BlockScenes& block :
       infer::search(*scale.kernels, scale.pitch_x, scale.pitch_y, map, options)) {
    if (block.is_unknown) {
      out.cost += block.nothing;
      if (by != BareBy::smoothness) out.things.push_back(unknown_thing(block, map));
      continue;
    }
    out.cost += block.scenes.front().cost();
    if (block.is_lone) {
      // One node of a panel that nobody knows is only uneven, unless it is far out.
      if (by != BareBy::smoothness || block.significant > kFarOut)
        out.things.push_back(lone_node(block, map));
      continue;
    }
    for (GlassThing& t : things_of_block(reader, block)) out.things.push_back(std::move(t));
  }
  for (const GlassThing& t : out.things) out.predicted += t.predicted;
  // What a smooth panel would show is known less well than what a reference holds.
  // What covers much of it is its bend as well as a thing.
  const double panel_mm2 = scale.pitch_x * scale.pitch_y * reading.shape().nodes();
  if (by == BareBy::smoothness)
    out.things.erase(std::remove_if(out.things.begin(), out.things.end(),
                                    [&](const GlassThing& t) {
                                      return t.support < kLeastOfSmooth ||
                                             t.shape.area_mm2 > kMostOfSmooth * panel_mm2;
                                    }),
                     out.things.end());
  gather(out.things);
  for (GlassThing& t : out.things) {
    t.company = out.things.size();
    t.state = k;
    t.bare = by;
    follow(t, reading, scale, bare);
  }
  return out;
}

void merge_in(std::vector<GlassThing>& all, std::vector<GlassThing> more) {
  for (GlassThing& t : more) {
    const auto known = std::find_if(all.begin(), all.end(), [&](const GlassThing& o) {
      return same_thing(o, t) && times_meet(o, t);
    });
    if (known == all.end()) {
      all.push_back(std::move(t));
      continue;
    }
    const std::size_t from = std::min(known->from, t.from);
    const std::size_t until = std::max(known->until, t.until);
    if (t.support > known->support) *known = std::move(t);
    known->from = from;
    known->until = until;
  }
}

std::vector<GlassThing> against_reference(const std::vector<GlassState>& states,
                                          const Reading& reading, const Account& account,
                                          const PanelScale& scale,
                                          const infer::SearchOptions& options) {
  std::vector<GlassThing> all;
  std::vector<Found> known;
  for (const std::size_t k : worth_explaining(states)) {
    Found found =
        explain_state(states, k, nullptr, BareBy::reference, reading, scale, options, known);
    known.push_back(found);
    for (GlassThing& t : found.things) find_time(t, states[k], reading, account, false);
    merge_in(all, std::move(found.things));
  }
  return all;
}

/// How far a state departs from a smooth panel: sum over the nodes.
double unevenness(const GlassState& s, const Reading& reading, const PanelScale& scale) {
  const Departure map = departure_of(s, nullptr, reading, scale);
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
    std::vector<GlassThing> things;
    std::vector<Found> known;
    cost = unevenness(states[bare], reading, scale);
    for (const std::size_t k : order) {
      if (k == bare) continue;
      Found found =
          explain_state(states, k, &states[bare], BareBy::state, reading, scale, options, known);
      known.push_back(found);
      cost += found.cost;
      for (GlassThing& t : found.things) find_time(t, states[k], reading, account, false);
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
  // What never changes.
  const std::size_t whole = longest;
  Found steady =
      explain_state(states, whole, nullptr, BareBy::smoothness, reading, scale, options, {});
  for (GlassThing& t : steady.things) find_time(t, states[whole], reading, account, false);
  merge_in(all, std::move(steady.things));
  return all;
}

}  // namespace

std::vector<GlassThing> glass_things(const Reading& reading, const Account& account) {
  if (reading.empty()) return {};
  const std::vector<GlassState> states = glass_states(reading, account);
  if (states.empty()) return {};
  const PanelScale scale = panel_scale(reading, account);
  infer::SearchOptions options;
  std::vector<GlassThing> all = reading.has_reference()
                                    ? against_reference(states, reading, account, scale, options)
                                    : without_reference(states, reading, account, scale, options);
  std::stable_sort(all.begin(), all.end(), [&](const GlassThing& a, const GlassThing& b) {
    return states[a.state].run > states[b.state].run;
  });
  return all;
}

}  // namespace bareglass::host
