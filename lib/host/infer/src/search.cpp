#include "bareglass/infer/search.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <functional>

#include "patch_check.hpp"

namespace bareglass::infer {

namespace {

using Mask = Eigen::Matrix<char, Eigen::Dynamic, Eigen::Dynamic>;

/// Connected parts (eight neighbours) of a mask; calls `part` with the places of each.
void for_each_part(Mask mask,
                   const std::function<void(const std::vector<Eigen::Vector2i>&)>& part) {
  std::vector<Eigen::Vector2i> open;
  std::vector<Eigen::Vector2i> all;
  for (int c = 0; c < mask.cols(); ++c)
    for (int r = 0; r < mask.rows(); ++r) {
      if (!mask(r, c)) continue;
      mask(r, c) = 0;
      open.assign(1, {r, c});
      all.clear();
      while (!open.empty()) {
        const Eigen::Vector2i at = open.back();
        open.pop_back();
        all.push_back(at);
        for (int dr = -1; dr <= 1; ++dr)
          for (int dc = -1; dc <= 1; ++dc) {
            const int y = at.x() + dr;
            const int x = at.y() + dc;
            if (y < 0 || x < 0 || y >= mask.rows() || x >= mask.cols() || !mask(y, x)) continue;
            mask(y, x) = 0;
            open.emplace_back(y, x);
          }
      }
      part(all);
    }
}

Mask grown(const Mask& mask, int by) {
  Mask out = Mask::Zero(mask.rows(), mask.cols());
  for (int c = 0; c < mask.cols(); ++c)
    for (int r = 0; r < mask.rows(); ++r) {
      if (!mask(r, c)) continue;
      const int r0 = std::max(0, r - by);
      const int c0 = std::max(0, c - by);
      const auto r1 = static_cast<int>(std::min<Eigen::Index>(mask.rows() - 1, r + by));
      const auto c1 = static_cast<int>(std::min<Eigen::Index>(mask.cols() - 1, c + by));
      out.block(r0, c0, r1 - r0 + 1, c1 - c0 + 1).setOnes();
    }
  return out;
}

/// Departure over noise of each node.
NodeMap over_noise(const Departure& map) {
  NodeMap out = NodeMap::Zero(map.value.rows(), map.value.cols());
  for (Eigen::Index k = 0; k < out.size(); ++k)
    if (std::isfinite(map.noise(k))) out(k) = map.value(k) / map.noise(k);
  return out;
}

/// Running sums: the sum over rows [r0, r1) and columns [c0, c1) in four steps.
class BoxSums {
 public:
  explicit BoxSums(const NodeMap& values)
      : sums_(Eigen::MatrixXd::Zero(values.rows() + 1, values.cols() + 1)) {
    for (Eigen::Index c = 0; c < values.cols(); ++c)
      for (Eigen::Index r = 0; r < values.rows(); ++r)
        sums_(r + 1, c + 1) =
            static_cast<double>(values(r, c)) + sums_(r, c + 1) + sums_(r + 1, c) - sums_(r, c);
  }
  double over(int r0, int r1, int c0, int c1) const {
    return sums_(r1, c1) - sums_(r0, c1) - sums_(r1, c0) + sums_(r0, c0);
  }

 private:
  Eigen::MatrixXd sums_;
};

constexpr float kFaintest = 3.f;  // standard deviations of a node that counts in full

/// Marks in `seeds` where the mean over boxes of `high` x `wide` nodes stands out.
void mark_wide(Mask& seeds, Mask& reach, const Departure& map, int high, int wide, float limit,
               float least, float together) {
  const auto rows = static_cast<int>(map.value.rows());
  const auto cols = static_cast<int>(map.value.cols());
  NodeMap value = map.value;
  NodeMap square = map.noise.array().square();
  NodeMap count = NodeMap::Ones(rows, cols);
  // What is strong is seen as it is; here it must not lend its strength to all around it.
  const float most = high * wide > 9 ? kFaintest : 1e9f;
  for (Eigen::Index k = 0; k < value.size(); ++k) {
    if (!std::isfinite(map.noise(k))) value(k) = square(k) = count(k) = 0.f;
    value(k) = std::clamp(value(k), -most * map.noise(k), most * map.noise(k));
    if (!std::isfinite(value(k))) value(k) = 0.f;
  }
  const BoxSums values(value);
  const BoxSums squares(square);
  const BoxSums counts(count);
  for (int c = 0; c < cols; ++c)
    for (int r = 0; r < rows; ++r) {
      const int r0 = std::max(0, r - high / 2), r1 = std::min(rows, r + high / 2 + 1);
      const int c0 = std::max(0, c - wide / 2), c1 = std::min(cols, c + wide / 2 + 1);
      const double nodes = counts.over(r0, r1, c0, c1);
      if (nodes < 1) continue;
      const auto mean = static_cast<float>(values.over(r0, r1, c0, c1) / nodes);
      const auto of_nodes = static_cast<float>(squares.over(r0, r1, c0, c1) / (nodes * nodes));
      if (std::abs(mean) < limit * std::sqrt(of_nodes + together * together) ||
          std::abs(mean) < least)
        continue;
      seeds(r, c) = 1;
      const int y = std::max(0, r - high / 4), x = std::max(0, c - wide / 4);
      reach.block(y, x, std::min(rows, r + high / 4 + 1) - y, std::min(cols, c + wide / 4 + 1) - x)
          .setOnes();
    }
}

Block box_of(const std::vector<Eigen::Vector2i>& places) {
  Block b{places[0].x(), places[0].x(), places[0].y(), places[0].y()};
  for (const Eigen::Vector2i& p : places) {
    b.row0 = std::min(b.row0, p.x());
    b.row1 = std::max(b.row1, p.x());
    b.column0 = std::min(b.column0, p.y());
    b.column1 = std::max(b.column1, p.y());
  }
  return b;
}

Block widened(Block b, int by, int rows, int columns) {
  return {std::max(0, b.row0 - by), std::min(rows - 1, b.row1 + by), std::max(0, b.column0 - by),
          std::min(columns - 1, b.column1 + by)};
}

bool meet(const Block& a, const Block& b) {
  return a.row0 <= b.row1 && b.row0 <= a.row1 && a.column0 <= b.column1 && b.column0 <= a.column1;
}

Block joined(const Block& a, const Block& b) {
  return {std::min(a.row0, b.row0), std::max(a.row1, b.row1), std::min(a.column0, b.column0),
          std::max(a.column1, b.column1)};
}

void join_meeting(std::vector<Block>& blocks) {
  for (bool again = true; again;) {
    again = false;
    for (std::size_t i = 0; i < blocks.size() && !again; ++i)
      for (std::size_t j = i + 1; j < blocks.size() && !again; ++j) {
        if (!meet(blocks[i], blocks[j])) continue;
        blocks[i] = joined(blocks[i], blocks[j]);
        blocks.erase(blocks.begin() + static_cast<std::ptrdiff_t>(j));
        again = true;
      }
  }
}

constexpr int kMargin = 2;  // a body's skirt reaches two nodes beyond its outline

constexpr double kOddsOfACompanion = 1e-3;
constexpr int kFullEffort = 400;  // nodes of a block up to which no step is spared

/// Everything the fits of one block share.
struct Work {
  const CellModel& model;
  Evidence evidence;
  const SearchOptions& options;
  const PatchCheck& patches;

  /// Calls `change` with the scene and the evidence less what patches say of it beyond the raster,
  /// which holds as long as its forms move little.
  template <typename Change>
  double without_beyond(Scene& scene, const Change& change) const {
    Evidence e = evidence;
    std::vector<NodeMap> kept;
    for (SceneBody& b : scene.bodies) {
      if (b.beyond.size() > 0) e.departure -= b.beyond;
      kept.push_back(std::move(b.beyond));
      b.beyond = NodeMap();
    }
    change(e);
    for (std::size_t k = 0; k < kept.size(); ++k) scene.bodies[k].beyond = std::move(kept[k]);
    return scene.cost();
  }
  double fit(Scene& scene) const {
    return without_beyond(
        scene, [&](const Evidence& e) { infer::fit(model, e, options.prices, scene, steps()); });
  }
  /// Fewer where each takes long.
  int steps() const {
    const int nodes = model.rows() * model.columns();
    return std::clamp(options.steps * kFullEffort / nodes, options.steps / 4, options.steps);
  }
  bool is_large() const { return model.rows() * model.columns() > 2 * kFullEffort; }
  double fit_forms(Scene& scene, int rounds) const {
    return without_beyond(scene, [&](const Evidence& e) {
      infer::fit_forms(model, e, options.prices, scene, rounds);
    });
  }
};

/// Cells over the nodes for which `level` gives their cover.
CoverMap spread(const CellModel& model, const std::function<float(int, int)>& level) {
  CoverMap out(model.cells_y(), model.cells_x());
  for (int x = 0; x < out.cols(); ++x)
    for (int y = 0; y < out.rows(); ++y)
      out(y, x) = level(y / CellModel::kCells, x / CellModel::kCells);
  return out;
}

constexpr float kFaint = 0.02f;  // so that no cell is without a slope

void add(std::vector<Scene>& scenes, const Work& work, Scene scene) {
  work.fit(scene);
  scenes.push_back(std::move(scene));
}

SceneBody body_of(CoverMap cover, WayToEarth way, float to_earth) {
  SceneBody b;
  b.body = {std::move(cover), to_earth};
  b.way = way;
  return b;
}

Layer layer_of(CoverMap cover) {
  Layer l;
  l.cover = std::move(cover);
  return l;
}

Scene one_body(CoverMap cover, WayToEarth way, float to_earth) {
  Scene s;
  s.bodies.push_back(body_of(std::move(cover), way, to_earth));
  return s;
}

/// A cover without the gaps between its own cells of one line, in x and in y.
CoverMap filled(const CoverMap& cover) {
  CoverMap out = cover;
  const auto fill = [&](auto at, Eigen::Index count) {
    Eigen::Index first = count;
    Eigen::Index last = -1;
    for (Eigen::Index k = 0; k < count; ++k)
      if (at(k) > 0.5f) {
        first = std::min(first, k);
        last = k;
      }
    for (Eigen::Index k = first; k <= last; ++k) at(k) = 0.9f;
  };
  for (int pass = 0; pass < 2; ++pass) {
    for (Eigen::Index j = 0; j < out.rows(); ++j)
      fill([&](Eigen::Index i) -> float& { return out(j, i); }, out.cols());
    for (Eigen::Index i = 0; i < out.cols(); ++i)
      fill([&](Eigen::Index j) -> float& { return out(j, i); }, out.rows());
  }
  return out;
}

/// A body of a given core whose way to earth fits best among a few.
Scene best_way(const Work& work, const CoverMap& core) {
  Scene best;
  double least = 0.0;
  for (const float way : {2e3f, 6e3f, 2e4f, 6e4f, 2e5f}) {
    Scene s = one_body(core, WayToEarth::free, way);
    const double misfit = misfit_of(work.evidence, predict(work.model, s));
    if (!best.bodies.empty() && misfit >= least) continue;
    least = misfit;
    best = std::move(s);
  }
  return best;
}

/// Whether what rises is more than half of all there is: of a faint layer no single node tells.
bool mostly_rises(const NodeMap& d) { return -d.sum() > 0.5f * d.cwiseAbs().sum(); }

/// What falls, rises, or both, as starts of one thing.
void try_one_thing(std::vector<Scene>& scenes, const Work& work) {
  const NodeMap& d = work.evidence.departure;
  const float full = work.model.full_loss();
  float most = 0.f;
  float least = 0.f;
  for (Eigen::Index k = 0; k < d.size(); ++k) {
    if (!std::isfinite(work.evidence.sigma(k))) continue;
    most = std::max(most, d(k));
    least = std::min(least, d(k));
  }
  const float t_fall = std::max(0.3f * most, 0.f);
  const float t_rise = std::min(0.3f * least, 0.f);
  const bool falls = most > 0.2f * -least;
  const bool rises = -least > 0.1f * most;
  const auto fallen = [&](int r, int c) { return d(r, c) > t_fall ? 1.f : kFaint; };
  if (falls) {
    add(scenes, work,
        one_body(spread(work.model,
                        [&](int r, int c) { return std::clamp(d(r, c) / full, kFaint, 1.f); }),
                 WayToEarth::earthed, kEarthed));
    // A hand or a badly earthed finger: its whole core, however little it falls.
    const CoverMap core = spread(work.model, fallen);
    add(scenes, work, best_way(work, core));
    if (most < 0.8f * full || rises) {
      const CoverMap half =
          spread(work.model, [&](int r, int c) { return d(r, c) > 0.5f * most ? 1.f : kFaint; });
      add(scenes, work, best_way(work, half));
    }
  }
  if (!rises) return;
  {
    // What a closed patch covers, whichever sign its nodes have.
    const CoverMap whole = spread(work.model, [&](int r, int c) {
      return std::abs(d(r, c)) > 0.3f * std::max(most, -least) ? 1.f : kFaint;
    });
    add(scenes, work, one_body(filled(whole), WayToEarth::isolated, 0.f));
  }
  add(scenes, work,
      one_body(spread(work.model, [&](int r, int c) { return d(r, c) < t_rise ? 0.8f : kFaint; }),
               WayToEarth::isolated, 0.f));
  if (falls && most > 0.15f * -least) {
    add(scenes, work,
        one_body(spread(work.model, [&](int r, int c) { return 0.7f * fallen(r, c); }),
                 WayToEarth::isolated, 0.f));
    add(scenes, work,
        one_body(spread(work.model,
                        [&](int r, int c) {
                          return d(r, c) > t_fall || d(r, c) < 0.7f * least ? 0.7f : kFaint;
                        }),
                 WayToEarth::isolated, 0.f));
    add(scenes, work,
        one_body(spread(work.model,
                        [&](int r, int c) {
                          return d(r, c) > t_fall || d(r, c) < t_rise ? 0.7f : kFaint;
                        }),
                 WayToEarth::isolated, 0.f));
  }
  if (!falls || most < 0.5f * -least || mostly_rises(d)) {
    Scene s;
    s.layers.push_back(layer_of(
        spread(work.model, [&](int r, int c) { return d(r, c) < t_rise ? 0.8f : kFaint; })));
    add(scenes, work, std::move(s));
  }
}

/// A body whose cover falls apart is as many bodies, each with its own way, unless a thread that is
/// not seen joins them.
bool split(const Work& work, Scene& scene) {
  for (std::size_t b = 0; b < scene.bodies.size(); ++b) {
    if (scene.bodies[b].form.kind != Form::Kind::any) continue;
    const CoverMap& cover = scene.bodies[b].body.cover;
    const Mask covered = (cover.array() > 0.3f * cover.maxCoeff()).cast<char>();
    std::vector<CoverMap> parts;
    for_each_part(covered, [&](const std::vector<Eigen::Vector2i>& places) {
      CoverMap part = CoverMap::Zero(cover.rows(), cover.cols());
      float sum = 0.f;
      for (const Eigen::Vector2i& p : places) sum += part(p.x(), p.y()) = cover(p.x(), p.y());
      if (sum > 0.5f) parts.push_back(std::move(part));
    });
    if (parts.size() < 2 || parts.size() > 8) continue;
    Scene trial = scene;
    trial.bodies[b].body.cover = parts[0];
    for (std::size_t k = 1; k < parts.size(); ++k) {
      SceneBody more = scene.bodies[b];
      more.body.cover = parts[k];
      trial.bodies.push_back(std::move(more));
    }
    if (work.fit(trial) >= scene.cost() + work.options.prices.thread) continue;
    scene = std::move(trial);
    return true;
  }
  return false;
}

/// Adds a thing where the scene leaves most; false if that does not pay.
bool add_where_left(const Work& work, Scene& scene) {
  const NodeMap left = work.evidence.departure - predict(work.model, scene);
  const NodeMap z = left.cwiseQuotient(work.evidence.sigma);
  Eigen::Index row = 0;
  Eigen::Index column = 0;
  if (z.cwiseAbs().maxCoeff(&row, &column) < 2.5f) return false;
  const float peak = left(row, column);
  const float full = work.model.full_loss();
  // The part of what is left that hangs together with its strongest node.
  const Mask mask =
      (left.array() * (peak > 0.f ? 1.f : -1.f) > 0.3f * std::abs(peak) && z.array().abs() > 1.f)
          .cast<char>();
  Mask part = Mask::Zero(mask.rows(), mask.cols());
  for_each_part(mask, [&](const std::vector<Eigen::Vector2i>& places) {
    if (std::none_of(places.begin(), places.end(),
                     [&](const Eigen::Vector2i& p) { return p.x() == row && p.y() == column; }))
      return;
    for (const Eigen::Vector2i& p : places) part(p.x(), p.y()) = 1;
  });
  const auto there = [&](float level) {
    return spread(work.model, [&, level](int r, int c) { return part(r, c) ? level : 0.f; });
  };
  std::vector<Scene> trials;
  const auto with_body = [&](CoverMap cover, WayToEarth way, float to_earth) {
    Scene s = scene;
    s.bodies.push_back(body_of(std::move(cover), way, to_earth));
    trials.push_back(std::move(s));
  };
  if (peak > 0.f) {
    with_body(spread(work.model,
                     [&](int r, int c) {
                       return part(r, c) ? std::clamp(left(r, c) / full, kFaint, 1.f) : 0.f;
                     }),
              WayToEarth::earthed, kEarthed);
    if (peak < 0.8f * full) with_body(there(1.f), WayToEarth::free, 6e3f);
  } else {
    with_body(there(0.8f), WayToEarth::isolated, 0.f);
    Scene s = scene;
    s.layers.push_back(layer_of(there(0.8f)));
    trials.push_back(std::move(s));
  }
  Scene best = scene;
  for (Scene& s : trials) {
    work.fit(s);
    if (s.cost() < best.cost()) best = std::move(s);
  }
  if (best.cost() >= scene.cost() - work.options.worth_adding) return false;
  scene = std::move(best);
  return true;
}

/// Cost of the strongest node as one that reads by itself.
double lone_cost(const Work& work, int& lone_row, int& lone_column) {
  Eigen::Index row = 0;
  Eigen::Index column = 0;
  work.evidence.departure.cwiseQuotient(work.evidence.sigma).cwiseAbs().maxCoeff(&row, &column);
  lone_row = static_cast<int>(row);
  lone_column = static_cast<int>(column);
  NodeMap predicted = NodeMap::Zero(work.model.rows(), work.model.columns());
  predicted(row, column) = work.evidence.departure(row, column);
  return misfit_of(work.evidence, predicted) + work.options.lone_node;
}

/// Middle, extent and direction of a cover, as a first form.
Form form_of(const CoverMap& cover, const CellModel& model, Form::Kind kind) {
  double sum = 0, mx = 0, my = 0;
  for (Eigen::Index i = 0; i < cover.cols(); ++i)
    for (Eigen::Index j = 0; j < cover.rows(); ++j) {
      const auto m = static_cast<double>(cover(j, i));
      sum += m;
      mx += m * static_cast<double>(i);
      my += m * static_cast<double>(j);
    }
  sum = std::max(sum, 1e-6);
  mx /= sum;
  my /= sum;
  const double cx = model.cell_x_mm(), cy = model.cell_y_mm();
  double xx = cx * cx / 12, yy = cy * cy / 12, xy = 0;
  for (Eigen::Index i = 0; i < cover.cols(); ++i)
    for (Eigen::Index j = 0; j < cover.rows(); ++j) {
      const auto m = static_cast<double>(cover(j, i)) / sum;
      const double dx = (static_cast<double>(i) - mx) * cx;
      const double dy = (static_cast<double>(j) - my) * cy;
      xx += m * dx * dx;
      yy += m * dy * dy;
      xy += m * dx * dy;
    }
  Form f;
  f.kind = kind;
  f.x = (mx + 0.5) * cx - CellModel::kCells * cx / 2;
  f.y = (my + 0.5) * cy - CellModel::kCells * cy / 2;
  const double rim = 2 * model.rim_mm();
  if (kind == Form::Kind::disc) {
    f.width = std::max(3.0, 2 * std::sqrt(sum * cx * cy / 3.14159265358979) - rim);
    return f;
  }
  // A uniform rectangle's variances are a twelfth of its squared sides.
  const double mean = (xx + yy) / 2;
  const double apart = std::hypot((xx - yy) / 2, xy);
  f.angle = apart > 0.08 * mean ? 0.5 * std::atan2(2 * xy, xx - yy) : 0.0;
  const double first = f.angle == 0.0 ? xx : mean + apart;
  const double second = f.angle == 0.0 ? yy : std::max(0.1, mean - apart);
  f.width = std::max(3.0, std::sqrt(12 * first) - rim);
  f.height = std::max(3.0, std::sqrt(12 * second) - rim);
  return f;
}

constexpr int kFormRounds = 14;

/// Gives bodies and layers a form where that costs less than their outline and greyness.
void simplify(const Work& work, Scene& scene) {
  const std::size_t bodies = scene.bodies.size();
  for (std::size_t k = 0; k < bodies + scene.layers.size(); ++k) {
    Scene best = scene;
    for (const Form::Kind kind : {Form::Kind::disc, Form::Kind::rectangle}) {
      Scene trial = scene;
      Form& form = k < bodies ? trial.bodies[k].form : trial.layers[k - bodies].form;
      if (form.kind == kind) continue;
      if (k < bodies) trial.bodies[k].beyond = NodeMap();
      form = form_of(k < bodies ? trial.bodies[k].body.cover : trial.layers[k - bodies].cover,
                     work.model, kind);
      work.fit_forms(trial, kFormRounds);
      if (trial.cost() < best.cost()) best = std::move(trial);
    }
    scene = std::move(best);
  }
}

/// Whether no other node of the block stands out of its noise by itself.
bool stands_alone(const Work& work, const Departure& map, const BlockScenes& found) {
  const Block& b = found.block;
  const float limit = noise_limit(static_cast<double>(b.rows() * b.columns()), kOddsOfACompanion);
  for (int c = 0; c < b.columns(); ++c)
    for (int r = 0; r < b.rows(); ++r) {
      if (r == found.lone_row && c == found.lone_column) continue;
      const float noise = map.noise(b.row0 + r, b.column0 + c);
      if (std::isfinite(noise) && std::abs(work.evidence.departure(r, c)) > limit * noise)
        return false;
    }
  return true;
}

constexpr int kFirstChecks = 4;
constexpr int kChecks = 2;  // rounds of checking forms by patches and fitting them anew

/// Weighs a scene by patches where it has forms.
void weigh_by_patches(const Work& work, Scene& scene) {
  work.patches.ask(work.model, scene);
  work.without_beyond(scene,
                      [&](const Evidence& e) { weigh(work.model, e, work.options.prices, scene); });
}

/// Fits the forms anew with what patches say of them, some times over; the best of them stays.
void check_by_patches(const Work& work, Scene& scene, int rounds) {
  if (std::none_of(scene.bodies.begin(), scene.bodies.end(),
                   [](const SceneBody& b) { return b.form.kind != Form::Kind::any; }))
    return;
  weigh_by_patches(work, scene);
  Scene best = scene;
  for (int round = 0; round < rounds; ++round) {
    const double before = scene.cost();
    work.fit_forms(scene, kFormRounds / 2);
    weigh_by_patches(work, scene);
    if (scene.cost() < best.cost()) best = scene;
    if (std::abs(scene.cost() - before) < 0.3) break;
  }
  scene = std::move(best);
}

/// Nodes that stand out of their eight neighbours and beyond `least` times the strongest, of one
/// sign.
std::vector<Eigen::Vector2i> peaks_of(const NodeMap& d, float sign, float least) {
  std::vector<Eigen::Vector2i> out;
  const float most = (sign * d).maxCoeff();
  const auto rows = static_cast<int>(d.rows());
  const auto cols = static_cast<int>(d.cols());
  for (int c = 0; c < cols; ++c)
    for (int r = 0; r < rows; ++r) {
      const float v = sign * d(r, c);
      if (v < least * most || v <= 0.f) continue;
      bool is_peak = true;
      for (int y = std::max(0, r - 1); y <= std::min(rows - 1, r + 1); ++y)
        for (int x = std::max(0, c - 1); x <= std::min(cols - 1, c + 1); ++x)
          is_peak = is_peak && (sign * d(y, x) <= v);
      if (is_peak) out.emplace_back(r, c);
    }
  return out;
}

Form disc_at(const Eigen::Vector2i& node, const CellModel& model, double diameter) {
  Form f;
  f.kind = Form::Kind::disc;
  f.x = node.y() * CellModel::kCells * model.cell_x_mm();
  f.y = node.x() * CellModel::kCells * model.cell_y_mm();
  f.width = diameter;
  return f;
}

Scene discs(const std::vector<Eigen::Vector2i>& nodes, const CellModel& model, WayToEarth way,
            double diameter) {
  Scene s;
  for (const Eigen::Vector2i& n : nodes) {
    SceneBody b = body_of({}, way, way == WayToEarth::isolated ? 0.f : kEarthed);
    b.form = disc_at(n, model, diameter);
    s.bodies.push_back(std::move(b));
  }
  return s;
}

constexpr std::size_t kMostThings = 8;

/// Starts with forms: a disc at every peak, one rectangle over what stands out.
void try_forms(std::vector<Scene>& scenes, const Work& work) {
  const NodeMap d =
      work.evidence.departure.array() * work.evidence.sigma.array().isFinite().cast<float>();
  const float most = std::max(0.f, d.maxCoeff());
  const float least = std::max(0.f, -d.minCoeff());
  const auto take = [&](Scene s) {
    for (SceneBody& b : s.bodies) b.body.cover = draw(b.form, work.model);
    for (Layer& l : s.layers) l.cover = draw(l.form, work.model);
    weigh(work.model, work.evidence, work.options.prices, s);
    if (s.layers.empty())
      check_by_patches(work, s, kFirstChecks);
    else
      work.fit_forms(s, kFormRounds);
    scenes.push_back(std::move(s));
  };
  const bool falls = most > 0.2f * least;
  const bool rises = least > 0.1f * most;
  const std::vector<Eigen::Vector2i> up = peaks_of(d, 1.f, 0.3f);
  const std::vector<Eigen::Vector2i> down = peaks_of(d, -1.f, 0.25f);
  if (falls && up.size() <= 6) take(discs(up, work.model, WayToEarth::earthed, 9.0));
  if (rises && down.size() <= kMostThings) take(discs(down, work.model, WayToEarth::isolated, 8.0));
  const auto outline = [&](float sign, float share) {
    const float level = share * (sign > 0 ? most : sign < 0 ? least : std::max(most, least));
    return spread(work.model, [&, level](int r, int c) {
      const float v = sign == 0 ? std::abs(d(r, c)) : sign * d(r, c);
      return v > level ? 1.f : 0.f;
    });
  };
  const auto rectangle = [&](const CoverMap& cover, WayToEarth way, float to_earth) {
    Scene s;
    SceneBody b = body_of({}, way, to_earth);
    b.form = form_of(cover, work.model, Form::Kind::rectangle);
    s.bodies.push_back(std::move(b));
    take(std::move(s));
  };
  if (falls) {
    rectangle(outline(1, 0.4f), WayToEarth::earthed, kEarthed);
    rectangle(outline(1, 0.3f), WayToEarth::free, 1e5f);
    if (most < 0.8f * work.model.full_loss()) rectangle(outline(1, 0.4f), WayToEarth::free, 5e3f);
  }
  if (!rises) return;
  rectangle(outline(0, 0.3f), WayToEarth::isolated, 0.f);
  rectangle(outline(-1, 0.4f), WayToEarth::isolated, 0.f);
  if (falls) rectangle(outline(1, 0.4f), WayToEarth::isolated, 0.f);
  if (most < 0.5f * least || mostly_rises(d)) {
    Scene s;
    Layer l = layer_of({});
    l.form = form_of(outline(-1, 0.4f), work.model, Form::Kind::rectangle);
    s.layers.push_back(std::move(l));
    take(std::move(s));
  }
}

constexpr std::size_t kChecked = 8;     // scenes that patches are asked about
constexpr double kWorthGoingOn = 40.0;  // further from the best than e^-40: never the answer

}  // namespace

float noise_limit(double looks, double odds) {
  const double tail = std::max(1e-15, odds / (2.0 * std::max(1.0, looks)));
  return static_cast<float>(boost::math::quantile(complement(boost::math::normal(), tail)));
}

std::vector<Block> find_blocks(const Departure& map, float full, const SearchOptions& o) {
  const NodeMap single = over_noise(map);
  const auto looks = static_cast<double>(map.value.size());
  const float limit = noise_limit(looks, o.false_blocks);
  const auto rows = static_cast<int>(map.value.rows());
  const auto cols = static_cast<int>(map.value.cols());
  Mask seeds = Mask::Zero(rows, cols);
  Mask reach = Mask::Zero(rows, cols);
  for (int c = 0; c < cols; ++c)
    for (int r = 0; r < rows; ++r) {
      const float size = std::abs(map.value(r, c));
      seeds(r, c) = std::abs(single(r, c)) > limit && size > o.least * full;
      reach(r, c) = seeds(r, c) || (std::abs(single(r, c)) > 3.f && size > o.least_wide * full);
    }
  // Of drops, notes, and strips along either kind of line.
  for (const auto& [high, wide] : {std::pair{3, 3}, {5, 5}, {9, 9}, {3, 11}, {11, 3}})
    if (high < rows && wide < cols)
      mark_wide(seeds, reach, map, high, wide, limit,
                wide == high && wide == 3 ? o.least_wide * full : 0.f, o.together);
  std::vector<Block> blocks;
  for_each_part(grown(reach, 1), [&](const std::vector<Eigen::Vector2i>& places) {
    const bool seeded = std::any_of(places.begin(), places.end(), [&](const Eigen::Vector2i& p) {
      return seeds(p.x(), p.y()) != 0;
    });
    if (seeded) blocks.push_back(widened(box_of(places), kMargin - 1, rows, cols));
  });
  join_meeting(blocks);
  return blocks;
}

Evidence evidence_of(const Departure& map, const Block& b, float full, const SearchOptions& o) {
  Evidence e;
  e.departure = map.value.block(b.row0, b.column0, b.rows(), b.columns());
  e.sigma = map.noise.block(b.row0, b.column0, b.rows(), b.columns());
  const NodeMap size = e.departure.cwiseAbs();
  for (int c = 0; c < b.columns(); ++c)
    for (int r = 0; r < b.rows(); ++r) {
      float around = 0.f;
      for (int y = std::max(0, r - 1); y <= std::min(b.rows() - 1, r + 1); ++y)
        for (int x = std::max(0, c - 1); x <= std::min(b.columns() - 1, c + 1); ++x)
          if (std::isfinite(e.sigma(y, x))) around = std::max(around, size(y, x));
      // Nothing lies where nothing is seen: the error grows with what is seen, up to its full size.
      const float near = o.near_share * full * std::min(1.f, around / (0.1f * full));
      const float share = o.model_share * size(r, c);
      const float noise = e.sigma(r, c);
      e.sigma(r, c) = std::sqrt(noise * noise + near * near + share * share);
    }
  return e;
}

BlockScenes explain_block(const field::SurfaceKernels& kernels, double pitch_x_mm,
                          double pitch_y_mm, const Departure& map, const Block& block,
                          const SearchOptions& options) {
  const CellModel model(kernels, block.rows(), block.columns(), pitch_x_mm, pitch_y_mm);
  const PatchCheck patches(kernels, pitch_x_mm, pitch_y_mm);
  const Work work{model, evidence_of(map, block, model.full_loss(), options), options, patches};
  BlockScenes out;
  out.block = block;
  out.nothing = misfit_of(work.evidence, NodeMap::Zero(block.rows(), block.columns()));
  try_forms(out.scenes, work);
  try_one_thing(out.scenes, work);
  const auto cheaper = [](const Scene& a, const Scene& b) { return a.cost() < b.cost(); };
  std::sort(out.scenes.begin(), out.scenes.end(), cheaper);
  const double nodes = block.rows() * block.columns();
  double least = out.scenes.empty() ? 0.0 : out.scenes.front().cost();
  std::size_t gone_on = 0;
  for (Scene& s : out.scenes) {
    if (work.is_large() && gone_on >= 3) break;
    // One that leaves much may do better with company than the best so far.
    if (s.cost() > least + kWorthGoingOn && s.misfit > 0.5 * out.nothing) continue;
    ++gone_on;
    split(work, s);
    simplify(work, s);
    while (s.bodies.size() + s.layers.size() < kMostThings && s.misfit > 0.15 * nodes &&
           add_where_left(work, s)) {
      split(work, s);
      simplify(work, s);
    }
    least = std::min(least, s.cost());
  }
  std::sort(out.scenes.begin(), out.scenes.end(), cheaper);
  for (std::size_t k = 0; k < std::min(out.scenes.size(), kChecked); ++k)
    check_by_patches(work, out.scenes[k], kChecks);
  if (out.scenes.size() > kChecked) out.scenes.resize(kChecked);
  std::sort(out.scenes.begin(), out.scenes.end(), cheaper);
  const double lone = lone_cost(work, out.lone_row, out.lone_column);
  out.is_lone = !out.scenes.empty() && lone < out.scenes.front().cost() &&
                lone < out.nothing - options.prices.thing && stands_alone(work, map, out);
  out.lone_row += block.row0;
  out.lone_column += block.column0;
  return out;
}

std::vector<BlockScenes> search(const field::SurfaceKernels& kernels, double pitch_x_mm,
                                double pitch_y_mm, const Departure& map,
                                const SearchOptions& options) {
  const double scale =
      std::sqrt(pitch_x_mm * pitch_y_mm / (kernels.column_pitch_mm * kernels.row_pitch_mm));
  const auto full = static_cast<float>(kernels.numbers.full_loss * scale);
  const NodeMap single = over_noise(map);
  std::vector<BlockScenes> out;
  for (const Block& b : find_blocks(map, full, options)) {
    BlockScenes found = explain_block(kernels, pitch_x_mm, pitch_y_mm, map, b, options);
    found.significant = static_cast<double>(
        single.block(b.row0, b.column0, b.rows(), b.columns()).cwiseAbs().maxCoeff());
    found.is_unknown =
        !found.is_lone && (found.scenes.empty() || found.scenes.front().cost() >= found.nothing);
    if (!found.is_unknown || found.nothing > options.unknown) out.push_back(std::move(found));
  }
  return out;
}

}  // namespace bareglass::infer
