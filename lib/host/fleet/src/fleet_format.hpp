#pragma once
// Numbers of a fleet in words, the same in text and page.

#include <string>

#include "bareglass/fleet/fleet.hpp"

namespace bareglass::host {

/// "58 %, 95 % interval 32 to 81 %".
std::string share_words(const Share& share);
/// Three significant digits; "infinite" for infinity.
std::string number_words(double value);
/// "0.0012"; "below 0.0001".
std::string p_words(double p);

/// That units were counted as on over something on the glass; for fleets with such units.
std::string adopted_words(const Fleet& fleet);
/// That limits rest on a finger that dumps do not state; for fleets with such dumps.
std::string finger_words(const Fleet& fleet);

/// "something on the glass".
std::string off_words(OffBecause why);

}  // namespace bareglass::host
