#include "scene_reader.hpp"

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

// A thing whose removal costs less is there to mend the model's own errors.
constexpr double kLeastSupport = 6.0;
constexpr double kLeastWeight = 0.01;  // of a scene beside the best

/// A block that is read, with what all of its scenes share.
struct Reader {
  const BlockScenes& block;
  const PanelScale& scale;
  Shape panel;
  infer::CellModel model;
  infer::Evidence evidence;

  Reader(const BlockScenes& b, const Departure& map, const PanelScale& s,
         const infer::SearchOptions& options)
      : block(b),
        scale(s),
        panel{static_cast<std::uint8_t>(map.value.rows()),
              static_cast<std::uint8_t>(map.value.cols())},
        model(*s.kernels, b.block.rows(), b.block.columns(), s.pitch_x, s.pitch_y),
        evidence(infer::evidence_of(map, b.block, model.full_loss(), options)) {}
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

std::vector<GlassThing> read_scene(const Reader& reader, const Scene& scene) {
  const infer::CellModel& model = reader.model;
  const NodeMap all = infer::predict(model, scene);
  const double misfit = infer::misfit_of(reader.evidence, all);
  std::vector<GlassThing> out;
  const auto add = [&](const infer::CoverMap& cover, const NodeMap& own) {
    GlassThing t;
    t.support = infer::misfit_of(reader.evidence, all - own) - misfit;
    if (t.support < kLeastSupport) return static_cast<GlassThing*>(nullptr);
    t.shape = shape_of(cover, model, reader.block.block, reader.panel);
    t.predicted = on_panel(own, reader.block.block, reader.panel);
    t.left = scene.misfit / static_cast<double>(all.size());
    out.push_back(std::move(t));
    return &out.back();
  };
  const auto fit =
      std::make_shared<FittedBlock>(FittedBlock{reader.block.block, scene, reader.evidence});
  for (const infer::SceneBody& b : scene.bodies) {
    GlassThing* t = add(b.body.cover, infer::predict(model, only(b)));
    if (t == nullptr) continue;
    t->pieces = {{fit, false, static_cast<std::size_t>(&b - scene.bodies.data())}};
    t->to_earth_pf = static_cast<double>(b.body.to_earth) / 1000.0;
    t->kinds = kinds_of_body(t->shape, t->to_earth_pf,
                             static_cast<double>(model.couple(b.body.cover).self) / 1000.0);
  }
  for (const infer::Layer& l : scene.layers) {
    GlassThing* t = add(l.cover, -l.amount * model.full_loss() * model.covered(l.cover));
    if (t == nullptr) continue;
    t->pieces = {{fit, true, static_cast<std::size_t>(&l - scene.layers.data())}};
    t->is_layer = true;
    t->kinds = kinds_of_layer(t->shape, static_cast<double>(l.amount));
  }
  std::sort(out.begin(), out.end(),
            [](const GlassThing& a, const GlassThing& b) { return a.support > b.support; });
  return out;
}

/// The kinds of the strongest thing over all scenes. Scenes whose strongest thing is of one kind
/// are one hypothesis, told several times by the search: the best of them speaks for it.
std::vector<KindShare> mixed_kinds(const std::vector<std::vector<GlassThing>>& read,
                                   const std::vector<double>& weight) {
  std::map<Cause, std::size_t> best;
  for (std::size_t k = 0; k < read.size(); ++k) {
    if (read[k].empty()) continue;
    const auto [at, is_new] = best.try_emplace(read[k][0].kinds.front().cause, k);
    if (!is_new && weight[k] > weight[at->second]) at->second = k;
  }
  std::map<Cause, double> shares;
  for (const auto& [cause, k] : best)
    for (const KindShare& s : read[k][0].kinds) shares[s.cause] += weight[k] * s.share;
  std::vector<KindShare> out;
  for (const auto& [cause, share] : shares) out.push_back({cause, share});
  settle(out);
  return out;
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

Box joined(const Box& a, const Box& b) {
  return {std::min(a.row0, b.row0), std::max(a.row1, b.row1), std::min(a.col0, b.col0),
          std::max(a.col1, b.col1)};
}

/// Adds a thing to one of the same sort; `into` has no parts yet at first.
void take(GlassThing& into, const GlassThing& t) {
  if (into.parts == 0) {
    into = t;
    return;
  }
  into.predicted += t.predicted;
  into.pieces.insert(into.pieces.end(), t.pieces.begin(), t.pieces.end());
  into.support += t.support;
  into.shape.box = joined(into.shape.box, t.shape.box);
  const double whole = into.shape.area_mm2 + t.shape.area_mm2;
  into.shape.x_mm += (t.shape.x_mm - into.shape.x_mm) * t.shape.area_mm2 / whole;
  into.shape.y_mm += (t.shape.y_mm - into.shape.y_mm) * t.shape.area_mm2 / whole;
  into.shape.area_mm2 = whole;
  into.parts += t.parts;
}

/// Kinds of several that look like drops: each is a witness of its own, so their odds multiply.
std::vector<KindShare> kinds_of_drops(const std::vector<double>& shares, double open) {
  double drops = 1;
  double films = 1;
  for (const double s : shares) {
    drops *= s;
    films *= 1.0 - s;
  }
  std::vector<KindShare> out = {{Cause::drops, (1.0 - open) * drops / (drops + films)},
                                {Cause::isolated_film, (1.0 - open) * films / (drops + films)},
                                {Cause::isolated_streak, open}};
  settle(out);
  return out;
}

}  // namespace

std::vector<GlassThing> things_of(const BlockScenes& block, const Departure& map,
                                  const PanelScale& scale, const infer::SearchOptions& options) {
  if (block.is_unknown) return {unknown_thing(block, map)};
  if (block.is_lone) return {lone_node(block, map)};
  const Reader reader(block, map, scale, options);
  std::vector<std::vector<GlassThing>> read;
  std::vector<double> weight;
  for (const Scene& s : block.scenes) {
    const double w = std::exp(-(s.cost() - block.scenes.front().cost()) / kTemper);
    if (w < kLeastWeight) continue;
    read.push_back(read_scene(reader, s));
    weight.push_back(w);
  }
  if (read.front().empty()) return {};
  read[0][0].kinds = mixed_kinds(read, weight);
  return std::move(read[0]);
}

void gather(std::vector<GlassThing>& things) {
  GlassThing drops;
  drops.parts = 0;
  GlassThing layer;
  layer.parts = 0;
  std::vector<double> shares;
  double open = 0;
  std::vector<GlassThing> rest;
  for (GlassThing& t : things) {
    if (t.kinds.front().cause == Cause::drops) {
      const double closed = share_of(t, Cause::drops) + share_of(t, Cause::isolated_film);
      shares.push_back(share_of(t, Cause::drops) / closed);
      open = std::max(open, share_of(t, Cause::isolated_streak));
      take(drops, t);
    } else if (t.is_layer) {
      take(layer, t);
    } else {
      rest.push_back(std::move(t));
    }
  }
  if (drops.parts > 1) drops.kinds = kinds_of_drops(shares, open);
  if (drops.parts > 0) rest.push_back(std::move(drops));
  if (layer.parts > 0) rest.push_back(std::move(layer));
  things = std::move(rest);
}

}  // namespace bareglass::host
