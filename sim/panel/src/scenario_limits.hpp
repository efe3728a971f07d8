#pragma once
// What the parts of the scenario reader share.

#include <vector>

#include "bareglass/panel/scenario_tables.hpp"

namespace bareglass::panel {

constexpr double kLongest = 3600.0;  ///< of a story and of every time in it, s

/// from_s and until_s of a thing are short for put and lift.
void read_presence(std::vector<Event>& events, const Section& s, std::size_t thing);

}  // namespace bareglass::panel
