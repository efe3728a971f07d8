// From one thing to several: bodies taken apart, given a form, and added where much is left.

#include <algorithm>
#include <cmath>

#include "block_work.hpp"
#include "node_masks.hpp"

namespace bareglass::infer {

namespace {

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

}  // namespace

CoverMap spread(const CellModel& model, const std::function<float(int, int)>& level) {
  CoverMap out(model.cells_y(), model.cells_x());
  for (int x = 0; x < out.cols(); ++x)
    for (int y = 0; y < out.rows(); ++y)
      out(y, x) = level(y / CellModel::kCells, x / CellModel::kCells);
  return out;
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

namespace {

/// Weighs a scene by patches where it has forms.
void weigh_by_patches(const Work& work, Scene& scene) {
  work.patches.ask(work.model, scene);
  work.without_beyond(scene,
                      [&](const Evidence& e) { weigh(work.model, e, work.options.prices, scene); });
}

}  // namespace

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

void complete(const Work& work, Scene& scene) {
  // Noise leaves half a unit of misfit a node; where less than a third of that is left nothing more
  // can be told.
  const double enough = 0.15 * work.model.rows() * work.model.columns();
  split(work, scene);
  simplify(work, scene);
  while (scene.bodies.size() + scene.layers.size() < kMostThings && scene.misfit > enough &&
         add_where_left(work, scene)) {
    split(work, scene);
    simplify(work, scene);
  }
}

}  // namespace bareglass::infer
