#pragma once
// One random case: a story for the simulated panel, and what the right answer to it is.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/panel/scenario.hpp"

namespace bareglass::score {

/// Where a thing lies, mm in the coordinates of field::Point (0, 0 is the middle of node 0, 0).
struct PlaceMm {
  double x_low = 0, x_high = 0, y_low = 0, y_high = 0;
};

struct Case {
  host::Cause drawn = host::Cause::bare_glass;  ///< the cause that was asked for
  /// Every cause that holds, the drawn one first. Empty for a healthy panel.
  std::vector<host::Cause> truths;
  /// Top causes that are right. More than one only where physics leaves a choice; each generator
  /// says which and why.
  std::vector<host::Cause> right;
  std::optional<host::LinesFound> lines;
  std::optional<PlaceMm> place;
  bool visible = true;  ///< see visibility.hpp
  panel::Scenario scenario;
};

/// The case of `cause` with this seed: the same on every run. `panel_folder` holds the shipped
/// panel files and their kernels. Throws std::invalid_argument for a cause that no generator makes
/// (unknown_object, lone_node: no physics of this simulator gives them).
Case make_case(host::Cause cause, std::uint64_t seed, const std::string& panel_folder);
/// Two causes at once, both visible.
Case make_double_case(std::uint64_t seed, const std::string& panel_folder);

/// Causes that make_case knows.
const std::vector<host::Cause>& generated_causes();
/// The one of them with that name; else std::runtime_error, which begins with `place`.
host::Cause generated_cause(const std::string& name, const std::string& place);

}  // namespace bareglass::score
