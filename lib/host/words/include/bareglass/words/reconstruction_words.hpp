#pragma once
// What is said of a thing's outline, size, way to earth, and of what its model leaves over.

#include <string>

#include "bareglass/answer/reconstruction.hpp"

namespace bareglass::host::text {

/// "7.3 cm² (6.8 to 7.9)"; below one square centimetre in mm².
std::string area(const Estimate& mm2);
/// "7.3 cm² (6.8 to 7.9); outline known to 0.7 mm"; of several pieces how many.
std::string size(const Reconstruction& found);
/// "isolated (at most 3.6 pF)", "earthed (at least 21 pF)", "94 pF (84 to 100)"; empty for layers
/// and where several pieces differ.
std::string way_to_earth(const Reconstruction& found);
/// "3.7 times the noise (greatest 7.6), 0.4 times what noise and the model's own error allow".
std::string left_over(const Reconstruction& found);

}  // namespace bareglass::host::text
