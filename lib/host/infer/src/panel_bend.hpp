#pragma once
// What a large panel's level has besides a product of row and column factors.

#include "smooth_panel.hpp"

namespace bareglass::host {

/// Signal is lost along rows and along columns; on large panels the two losses do not multiply.
/// What is left of them is smooth: products of polynomials of both places. Returns the factor of
/// each node, near 1. `product`: what the product of factors makes of `level`; `spread`: of a node,
/// share of the level. Nodes of `masked` take no part, and what lies on the glass has little
/// weight.
Map bend_of(const Map& level, const Map& product, const std::vector<char>& masked, float spread,
            Shape shape);

}  // namespace bareglass::host
