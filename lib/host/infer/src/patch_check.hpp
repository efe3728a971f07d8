#pragma once
// What the raster model is off by, told by the finer one: conductors cut into patches.

#include <memory>

#include "bareglass/field/surface_model.hpp"
#include "bareglass/infer/scene.hpp"

namespace bareglass::infer {

/// The patch model of one panel, for bodies with a form.
class PatchCheck {
 public:
  PatchCheck(const field::SurfaceKernels& kernels, double pitch_x_mm, double pitch_y_mm);
  ~PatchCheck();

  /// Asks patches of every body that has a form and is small enough: fills SceneBody::beyond with
  /// their departure less that by `model`, of the others with nothing.
  void ask(const CellModel& model, Scene& scene) const;

 private:
  field::SurfaceModel surface_;
  double to_x_, to_y_;  ///< panel's mm to the kernels'
  float grown_;         ///< of capacitance, kernels' to the panel's
};

}  // namespace bareglass::infer
