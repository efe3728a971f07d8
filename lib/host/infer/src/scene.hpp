#pragma once
// What lay on the glass for a while: where in time it lay, and the averaged map it made. Told from
// the survey alone, so weaker things are seen than by any single look.

#include <cstdint>
#include <vector>

#include "bareglass/replay/account.hpp"
#include "reading.hpp"

namespace bareglass::host {

/// A map of the panel, counts, positive as a finger, row-major.
using Map = std::vector<float>;

/// What a map is held against.
enum class Witness {
  reference,   ///< the factory reference
  change,      ///< the same dump at a time when the thing was not there
  smoothness,  ///< a smooth panel: only what exceeds the spread of manufacture can be told
};

/// The time within a dump in which one thing lay on the glass, and what it made.
struct Episode {
  Witness witness = Witness::reference;
  std::size_t from = 0, until = 0;  ///< windows from..until - 1
  Map map;
  double sigma = 0;      ///< standard deviation of one node of the map, counts
  double freedom = 1e9;  ///< degrees of freedom that sigma was estimated with
  double strength = 0;   ///< root of the map's energy over its noise's
  /// Without a reference a thing that was there to one end of the dump, and a thing that was there
  /// to the other, make the same change with opposite signs. True if the dump itself, held against
  /// a smooth panel, does not tell which it was.
  bool either_sign = false;
  double away_unsteady = 0;  ///< share of the windows without the thing in which others move
  /// Share of the map that each window of the dump shows (projection): 1 while the thing lies there
  /// undiminished.
  std::vector<float> course;
  /// Root of the energy that each window shows where the map stands out, over that of the map: what
  /// shrinks or moves is still seen.
  std::vector<float> presence;
  double course_sigma = 0;   ///< standard deviation of both, of noise
  std::size_t standing = 0;  ///< nodes of the map that stand out of its noise: what presence sums
};

/// The level of a smooth panel, fitted to `level`: row by column, by the nodes that nothing lies
/// on. `sigma`: their spread about it, counts, with `freedom` degrees of freedom. Nodes of `masked`
/// take no part.
Map smooth_panel(double& sigma, double& freedom, const Map& level, const std::vector<char>& masked,
                 Shape shape);

/// The strongest thing that lies there long enough not to be a touch in use, or that lies there
/// when the panel sets itself up: against the reference, or, without one, by what changes within
/// the dump. Nodes of `masked` are left out, and windows from `before` on. `map` is empty with
/// fewer than two windows.
Episode find_episode(const Reading& reading, const std::vector<char>& masked,
                     std::size_t before = SIZE_MAX);
/// Whether the thing lies there long enough not to be a touch in use, or from the first window on.
bool is_lasting(const Episode& episode, const Reading& reading);
/// Without a reference: what the whole dump shows against a smooth panel.
Episode against_smoothness(const Reading& reading, const std::vector<char>& masked);

/// Sum over 3 x 3 nodes over three: white noise keeps its standard deviation, a plateau reads three
/// times its height.
Map gathered(const Map& map, Shape shape);

/// The limit that the strongest of `looks` values of plain noise exceeds once in 10,000 dumps,
/// in standard deviations (Bonferroni's bound on the normal distribution's tail). `freedom`: that
/// of the estimate of the standard deviation (Student's t).
double noise_limit(double looks, double freedom = 1e9);

}  // namespace bareglass::host
