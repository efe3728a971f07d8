#pragma once
// Which scenes explain a map, best first.

#include <vector>

#include "bareglass/infer/scene.hpp"

namespace bareglass::infer {

/// A map and what is known of its errors, fF.
struct Departure {
  NodeMap value;  ///< positive as a finger
  NodeMap noise;  ///< standard deviation without the model's own error; infinite: masked
};

/// Standard deviations that the strongest of `looks` values of noise exceeds with the given odds
/// (Bonferroni's bound on both tails of the normal distribution).
float noise_limit(double looks, double odds);

/// Departure of each node over its noise; 0 of masked ones.
NodeMap over_noise(const Departure& map);

/// Part of the panel in which something stands out: nodes first..last of rows and columns.
struct Block {
  int row0 = 0, row1 = 0, column0 = 0, column1 = 0;
  int rows() const { return row1 - row0 + 1; }
  int columns() const { return column1 - column0 + 1; }
};

/// A block with all ways to explain it that were tried, least cost first.
struct BlockScenes {
  Block block;
  double nothing = 0.0;               ///< misfit if nothing lay there
  bool is_unknown = false;            ///< something is there, but no thing pays for itself
  bool is_lone = false;               ///< one node alone explains it better than any thing
  int lone_row = 0, lone_column = 0;  ///< of the panel
  double significant = 0.0;           ///< strongest departure over its noise
  std::vector<Scene> scenes;
};

struct SearchOptions {
  Prices prices;
  int steps = 160;
  /// Error of the model: share of what is seen at a node, and near bodies a share of the full loss.
  /// Chosen: about what raster and patches leave of each other's discs once their forms are fitted.
  float model_share = 0.07f;
  float near_share = 0.018f;
  /// Odds that a map of plain noise shows a block: the limits follow from the number of nodes.
  double false_blocks = 1e-4;
  /// What a further thing must gain beyond its price, natural logarithms as all prices.
  double worth_adding = 2.0;
  /// What an unknown thing must leave: e^-15 of noise.
  double unknown = 15.0;
  /// Price of one node that reads by itself.
  double lone_node = 4.0;
  /// Smallest departure worth a thing, share of the full loss: of one node, and of the mean of 3 x
  /// 3.
  float least = 0.02f;
  float least_wide = 0.005f;
  /// What neighbouring nodes may be off by together, fF: averaging over them does not lower it.
  /// Chosen, a twentieth of a per cent of a finger.
  float together = 0.1f;
};

/// The blocks of a map that stand out of its noise; `full_loss` in fF.
std::vector<Block> find_blocks(const Departure& map, float full_loss, const SearchOptions& options);

/// The evidence of a block, with the model's own error: a share of what is seen there, and some of
/// a finger wherever something lies next to it. The same for every hypothesis.
Evidence evidence_of(const Departure& map, const Block& block, float full_loss,
                     const SearchOptions& options);

/// Blocks of the map in which something stands out of its noise, and the scenes that explain each;
/// of a lone node none need do.
std::vector<BlockScenes> search(const field::SurfaceKernels& kernels, double pitch_x_mm,
                                double pitch_y_mm, const Departure& map,
                                const SearchOptions& options);

/// Scenes of one block of the map.
BlockScenes explain_block(const field::SurfaceKernels& kernels, double pitch_x_mm,
                          double pitch_y_mm, const Departure& map, const Block& block,
                          const SearchOptions& options);

}  // namespace bareglass::infer
