#pragma once
// Sets of nodes or cells.

#include <Eigen/Dense>
#include <functional>
#include <vector>

namespace bareglass::infer {

using Mask = Eigen::Matrix<char, Eigen::Dynamic, Eigen::Dynamic>;

/// Connected parts (eight neighbours) of a mask; calls `part` with the places (row, column) of
/// each.
void for_each_part(Mask mask, const std::function<void(const std::vector<Eigen::Vector2i>&)>& part);
/// The mask and all that lies within `by` of it, diagonals included.
Mask grown(const Mask& mask, int by);

}  // namespace bareglass::infer
