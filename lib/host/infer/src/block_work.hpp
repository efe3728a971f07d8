#pragma once
// What all fits of one block share.

#include <algorithm>
#include <functional>
#include <utility>
#include <vector>

#include "bareglass/infer/search.hpp"
#include "patch_check.hpp"

namespace bareglass::infer {

inline constexpr int kFullEffort = 400;  // nodes of a block up to which no step is spared

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

inline constexpr int kFormRounds = 14;         ///< of damped least squares, at most
inline constexpr std::size_t kMostThings = 8;  ///< of one scene
inline constexpr float kFaint = 0.02f;         ///< cover, so that no cell is without a slope

SceneBody body_of(CoverMap cover, WayToEarth way, float to_earth);
Layer layer_of(CoverMap cover);
/// Cells over the nodes for which `level` gives their cover.
CoverMap spread(const CellModel& model, const std::function<float(int, int)>& level);
/// Middle, extent and direction of a cover, as a first form.
Form form_of(const CoverMap& cover, const CellModel& model, Form::Kind kind);
/// Fits the forms anew with what patches say of them, some times over; the best of them stays.
void check_by_patches(const Work& work, Scene& scene, int rounds);

/// Starts of all hypotheses, each fitted.
std::vector<Scene> first_scenes(const Work& work);
/// Improves a scene by taking its bodies apart, giving them forms and adding things while much is
/// left.
void complete(const Work& work, Scene& scene);

}  // namespace bareglass::infer
