// Where the search begins: what falls, what rises, both; discs at every peak, rectangles, any
// cover.

#include <cmath>

#include "block_work.hpp"

namespace bareglass::infer {

namespace {

// Parts of the strongest node that a start takes for a thing's core: a skirt shows less than a
// third of it, a core more. Starts only have to lie near what the fit then finds.
constexpr int kFirstChecks = 4;  // rounds of patches for a start

void add(std::vector<Scene>& scenes, const Work& work, Scene scene) {
  work.fit(scene);
  scenes.push_back(std::move(scene));
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

}  // namespace

std::vector<Scene> first_scenes(const Work& work) {
  std::vector<Scene> out;
  try_forms(out, work);
  try_one_thing(out, work);
  return out;
}

}  // namespace bareglass::infer
