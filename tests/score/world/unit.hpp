#pragma once
// Plays a case as the unit would have sent it: its own front end with every disturbance, the
// portable core as its firmware.

#include <vector>

#include "bareglass/capture/records.hpp"
#include "world_case.hpp"

namespace bareglass::world {

/// Panel description, reference, frames, journal, supply states and the truth as notes. The same
/// case gives the same records. Throws std::runtime_error for numbers the core can't hold.
std::vector<host::Record> play(const WorldCase& c);

}  // namespace bareglass::world
