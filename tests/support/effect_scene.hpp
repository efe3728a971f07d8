#pragma once
// A scene for tests of the core alone: a bare panel with the unevenness of a real one, and on it
// effects of exactly known size. Sizes are the results of a field solution of bars and
// stripes at 5 mm pitch under 1.1 mm glass, in femtofarads of a node's mutual capacitance; they are
// named where they are used. No physics is computed here.

#include <cstdint>
#include <random>
#include <vector>

#include "bareglass/core/settings.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass::support {

/// What kind of panel; every field has a value that reads like a healthy bedside unit.
struct PanelSpec {
  Shape shape{16, 10};
  std::uint32_t frame_period_us = 20000;
  double counts_per_ff =
      20.0;                 ///< gain of the front end; 8 mm grounded contact 175 fF -> 3500 counts
  double node_ff = 1140.0;  ///< mutual capacitance of an inner node
  double spread_ff = 4.0;   ///< standard deviation from node to node (manufacture)
  double noise_ff = 1.5;    ///< standard deviation per node and frame
  double common_ff = 0.6;   ///< standard deviation per row and frame, all its nodes alike
  std::uint64_t seed = 1;
};

/// The core's settings that belong to such a panel.
Settings settings_for(const PanelSpec& spec);

/// Builds frames. Positions are in nodes (0 = centre of the first line, fractions allowed); effects
/// are changes of capacitance, negative for what a finger does. They add up until clear().
class EffectScene {
 public:
  explicit EffectScene(const PanelSpec& spec);

  const PanelSpec& spec() const { return spec_; }
  /// The bare panel without noise: what a factory would have stored.
  std::vector<std::uint16_t> reference() const;

  void clear();
  /// A fingertip. Default: 8 mm contact of a person, 100 pF to ground: -169 fF; the next line sees
  /// 35.5 % of that, as a Gaussian profile.
  void add_finger(double row, double col, double change_ff = -169.0);
  /// A film with straight edges: full value on the covered lines, 40 % on the first one outside.
  /// Isolated compact water: +17 to +20 fF; reaching ground or a hand: about -175 fF.
  void add_film(int row0, int row1, int col0, int col1, double change_ff);
  /// Fluid at the bezel above the first row, columns col0..col1: the first row by `change_ff`
  /// (earthed: -28 fF, 16 % of a finger), the second by a quarter.
  void add_wet_top_bezel(int col0, int col1, double change_ff);
  /// An isolated wet streak along a diagonal over n nodes from (row, col): -112 fF at its ends,
  /// -101 along it, +53 on every other crossing of its rows and columns; all times `strength`.
  void add_diagonal_streak(int row, int col, int n, double strength = 1.0);
  /// Adds to one node.
  void add_node(int row, int col, double change_ff);

  /// The next frame: bare panel, effects, noise. Saturates at 0 and 65535.
  std::vector<std::uint16_t> frame();

 private:
  double normal();
  std::size_t at(int row, int col) const {
    return static_cast<std::size_t>(row * spec_.shape.cols + col);
  }

  PanelSpec spec_;
  std::mt19937_64 random_;
  std::vector<double> bare_ff_;
  std::vector<double> change_ff_;
};

}  // namespace bareglass::support
