#pragma once
// A scene: what lies on the glass, as the panel's forward model knows it; and its fit to one map.

#include <optional>
#include <vector>

#include "bareglass/infer/cell_model.hpp"

namespace bareglass::infer {

/// An outline of few parameters; a cover of any shape is `any`.
struct Form {
  enum class Kind { any, disc, rectangle };
  Kind kind = Kind::any;
  double x = 0, y = 0;  ///< middle, mm; node (0, 0) of the block is the origin
  double width = 0;     ///< mm; a disc's diameter
  double height = 0;    ///< mm; rectangle
  double angle = 0;     ///< rectangle: of its width against the rows, radians
};

/// The cover of a form, its rim included.
CoverMap draw(const Form& form, const CellModel& model);

/// A thin layer without free charge (tape, paper, alcohol): it raises nodes as far as it covers
/// what they see of the surface.
struct Layer {
  CoverMap cover;
  Form form;
  float amount = 0.f;  ///< rise of a node that it covers wholly, share of the full loss, >= 0
};

/// What is to be explained: departure from bare, and how well it is known.
struct Evidence {
  NodeMap departure;  ///< fF, positive as a finger
  NodeMap sigma;      ///< standard deviation of noise and of the model, fF; infinite: says nothing
};

/// How a body's way to earth is known to the fit.
enum class WayToEarth { earthed, isolated, free };

struct SceneBody {
  Body body;
  WayToEarth way = WayToEarth::earthed;
  /// What the charge that comes in over the body is off by, share: loss and gain of an isolated
  /// body nearly cancel, so that a few per cent of either are much of what is left. Found by the
  /// fit.
  float slack = 0.f;
  Form form;
  /// What patches say of it beyond the raster, fF; empty: not asked.
  NodeMap beyond;
};

/// Things that together predict every node of a map.
struct Scene {
  std::vector<SceneBody> bodies;
  std::vector<Layer> layers;
  double misfit = 0.0;   ///< half of chi squared, with tails as of Student's t
  double penalty = 0.0;  ///< of outlines, greyness and the number of things
  double cost() const { return misfit + penalty; }
};

/// What outlines cost, in natural logarithms of probability. Of the prior, not of a kind: every
/// hypothesis pays alike.
struct Prices {
  double outline_per_mm = 0.2;
  double grey_per_mm2 = 0.6;
  /// Of a form instead of outline and greyness: one and a half a parameter.
  double disc = 4.5;
  double rectangle = 7.5;
  double thing = 4.0;  ///< each body or layer
  /// A layer as strong as CellModel::most_layer, growing with the square of its amount: most are
  /// weaker.
  double thick_layer = 8.0;
  /// Of a thing of no size, falling to nothing at `small_mm` across.
  double small = 14.0;
  double small_mm = 4.0;
  double slack = 0.04;  ///< standard deviation of SceneBody::slack
  /// What would join the parts of one body is not seen: a thread.
  double thread = 10.0;
  double free_way = 2.5;  ///< a C_b that is not one of the two ends
};

/// Departure that the scene predicts.
NodeMap predict(const CellModel& model, const Scene& scene);

/// Improves covers, ways to earth and amounts together from where they stand (projected gradient
/// with Barzilai-Borwein steps). Fills misfit and penalty.
void fit(const CellModel& model, const Evidence& evidence, const Prices& prices, Scene& scene,
         int steps);

/// Improves the forms of the scene, with ways to earth, all together (Levenberg's damped least
/// squares). Covers without a form stay as they are. Fills misfit and penalty.
void fit_forms(const CellModel& model, const Evidence& evidence, const Prices& prices, Scene& scene,
               int rounds);

/// Fills misfit and penalty, slacks and amounts of the scene as it stands.
void weigh(const CellModel& model, const Evidence& evidence, const Prices& prices, Scene& scene);

/// Misfit of no scene at all.
double misfit_of(const Evidence& evidence, const NodeMap& predicted);

}  // namespace bareglass::infer
