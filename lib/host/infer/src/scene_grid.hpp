#pragma once
// A map as rows and columns, and what hangs together in it.

#include <cstdint>
#include <vector>

#include "bareglass/core/types.hpp"
#include "scene.hpp"

namespace bareglass::host {

struct Grid {
  const Map& map;
  Shape shape;
  float at(int r, int c) const { return map[static_cast<std::size_t>(r * shape.cols + c)]; }
  bool holds(int r, int c) const { return r >= 0 && c >= 0 && r < shape.rows && c < shape.cols; }
};

void include(Box& box, int r, int c);

/// Nodes that hang together.
struct Patch {
  Box box{255, 0, 255, 0};
  int nodes = 0;
  double sum = 0;
};
/// Nodes round (r, c) that hang together and go `sign` (1: fall) by at least `limit`. `reached`,
/// one per node, marks them.
Patch grown(const Grid& grid, int r, int c, float sign, float limit,
            std::vector<char>* reached = nullptr);

}  // namespace bareglass::host
