#pragma once
// A fitted scene kept with the things that were read from it.

#include <memory>
#include <vector>

#include "bareglass/infer/search.hpp"

namespace bareglass::host {

/// The scene of one block, and what it was fitted to.
struct FittedBlock {
  infer::Block block;
  infer::Scene scene;
  infer::Evidence evidence;
};

/// One body or layer of it.
struct FittedPiece {
  std::shared_ptr<const FittedBlock> fit;
  bool is_layer = false;
  std::size_t index = 0;  ///< among the bodies or layers of the scene
};

}  // namespace bareglass::host
