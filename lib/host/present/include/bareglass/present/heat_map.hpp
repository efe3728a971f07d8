#pragma once
// A picture of one moment: every node's departure in percent of a finger, to scale, with signs
// shown by colour, pattern and number alike.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/answer/reconstruction.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass::host {

/// An outline drawn as a line over the nodes, its 95 % bounds thinner.
struct OutlineDrawn {
  GlassOutline at, inner, outer;
  std::string label;  ///< beside it, e.g. its area; may be empty
};

/// What is drawn. `counts` has shape.nodes() values, positive as a finger.
struct HeatMap {
  Shape shape;
  std::vector<std::int16_t> counts;
  int finger_counts = 1;   ///< 100 %
  std::int32_t limit = 0;  ///< counts; departures from here on are outlined
  double pitch_row_mm = 5.0;
  double pitch_col_mm = 5.0;
  std::optional<Box> mark;  ///< the place the answer speaks of
  std::vector<OutlineDrawn> outlines;
  enum class Unit { percent_of_finger, noise };
  Unit unit = Unit::percent_of_finger;  ///< noise: a percent is one standard deviation of it
  double full_percent = 0.0;            ///< gets the full colour; 0: full_scale_percent()
  std::string title;                    ///< one line
  std::string caption;                  ///< one sentence below
};

struct Rgb {
  std::uint8_t r, g, b;
};

/// Diverging colour of a share in -1..1 (clamped): blue below zero, near-white at zero, orange
/// above. Both arms run straight through CIE L*a*b* (D65) with equal lightness at equal distance
/// from zero, so equal steps look equal, and blue against orange survives red-green colour
/// blindness.
Rgb diverging_colour(double share);

/// Percent that gets the full colour: `full_percent`, else the greatest departure, at least twice
/// the limit.
double full_scale_percent(const HeatMap& map);

/// Numbers in percent of a finger, one line a row, for a terminal; with 24-bit background colours
/// if `colour`. Panels too wide for 100 characters get one sign a node instead.
std::string heat_map_terminal(const HeatMap& map, bool colour);

/// A self-contained SVG document.
std::string heat_map_svg(const HeatMap& map);

/// Several beside each other, in their order.
std::string heat_maps_svg(const std::vector<HeatMap>& maps);

/// A PNG file's bytes. Numbers in the cells, no letters: use SVG for title and caption.
/// Throws std::runtime_error if libpng reports a failure.
std::string heat_map_png(const HeatMap& map);
std::string heat_maps_png(const std::vector<HeatMap>& maps);

}  // namespace bareglass::host
