#pragma once
// A thing on the glass as the panel's own model has it: outline, size, way to earth, and what it
// leaves unexplained.

#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "bareglass/core/types.hpp"

namespace bareglass::host {

/// mm from the upper left corner of the lines' area, half a pitch beyond the outermost lines.
struct GlassPoint {
  double x = 0, y = 0;
};
/// Closed; the last point joins the first. Holes run the other way round.
using GlassOutline = std::vector<GlassPoint>;

/// A number and the ends of its 95 % interval, low <= value <= high; `high` may be infinite.
struct Estimate {
  double value = 0, low = 0, high = 0;
};

/// One piece of a thing: all of a note, one of several drops.
struct PieceFound {
  std::vector<GlassOutline> outlines;
  std::vector<GlassOutline> inner;  ///< the same outlines at the 95 % bounds, point by point
  std::vector<GlassOutline> outer;
  double outline_mm = 0;  ///< half of the distance between them, rms along the outline
  Estimate x_mm, y_mm;    ///< centre of area
  Estimate area_mm2;
  /// Of conductors, pF to all that is at ground: 0 isolated, infinite earthed.
  std::optional<Estimate> earth_pf;
  /// Of dielectric layers: rise of a node that it covers wholly, percent of what an earthed cover
  /// takes. How thick that is, its permittivity decides, which a map of nodes does not tell.
  std::optional<Estimate> layer_percent;
};

/// A state of the panel as it was measured and as the scene of all things found in it predicts.
/// Row-major, positive as a finger.
struct SceneMaps {
  Shape shape;
  std::vector<float> measured, predicted;  ///< counts at full drive
  /// Measured less predicted, over the standard deviation of noise (frames, reference, uneven
  /// nodes; not the model's own error); 0 where `left_out`.
  std::vector<float> residual;
  std::vector<char> left_out;               ///< 1: a node that a fault of a line spoils
  std::uint64_t first_us = 0, last_us = 0;  ///< of the averaged frames
};

struct Reconstruction {
  std::vector<PieceFound> pieces;  ///< at least one
  Estimate area_mm2;               ///< of all of them
  double residual_rms = 0;         ///< over the nodes it lies on and next to, units of noise
  double residual_most = 0;        ///< greatest there, either sign, units of noise
  /// The rms over what noise and the model's error together allow: about 1 where the scene explains
  /// all that is there.
  double residual_of_expected = 0;
  std::shared_ptr<const SceneMaps> maps;  ///< shared by the things of one state
};

}  // namespace bareglass::host
