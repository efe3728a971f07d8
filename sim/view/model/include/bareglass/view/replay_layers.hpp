#pragma once
// One value for every node, of one moment.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bareglass/view/dump_index.hpp"

namespace bareglass::view {

enum class ReplayLayer { raw, baseline, difference, noise, findings };
constexpr int kReplayLayers = 5;
/// "Difference"; as the window writes it.
const char* name_of(ReplayLayer layer);
/// The inverse, in lower case: "difference"; nothing for any other word.
std::optional<ReplayLayer> replay_layer_of(std::string_view name);

struct NodeLayer {
  std::vector<float> share;  ///< -1..1 of the full colour, row-major; empty: nothing to show
  std::vector<float> shown;  ///< number for a cell
  int digits = 0;            ///< behind its point
  bool diverging = false;    ///< two signs
  std::string legend_low, legend_middle, legend_high;
  std::string says;     ///< what the colours mean, one line
  std::string missing;  ///< why there is nothing to show
};

/// `index` has been sought to the moment.
NodeLayer layer_values(const DumpIndex& index, ReplayLayer layer);

/// Under this moment's difference: "against the baseline"; empty if there is no difference.
std::string compared_with(const DumpIndex& index);

}  // namespace bareglass::view
