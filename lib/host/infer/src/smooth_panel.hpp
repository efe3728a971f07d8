#pragma once
// The bare level of a panel without a reference, fitted to the nodes that nothing lies on.

#include <vector>

#include "reading.hpp"

namespace bareglass::host {

/// A value of each node, row-major.
using Map = std::vector<float>;

/// The level of a smooth panel, fitted to `level`: row by column, by the nodes that nothing lies
/// on. `sigma`: their spread about it, counts, with `freedom` degrees of freedom. Nodes of `masked`
/// take no part.
Map smooth_panel(double& sigma, double& freedom, const Map& level, const std::vector<char>& masked,
                 Shape shape);

}  // namespace bareglass::host
