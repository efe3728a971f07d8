#pragma once
// When each thing was there, and which things of different states are one.

#include "glass_things.hpp"

namespace bareglass::host {

/// What every window shows of a thing: 1 as it was told, 0 nothing. Fills its course.
void follow(GlassThing& thing, const Reading& reading, const PanelScale& scale, const Bare& bare);
/// The windows around its state, of the same run, in which a good part of it is seen.
void find_time(GlassThing& thing, const GlassState& state, const Reading& reading,
               const Account& account);
/// Adds things of one state: what is known already from a state beside it is the same thing, told
/// by the state that shows it best.
void merge_in(std::vector<GlassThing>& all, std::vector<GlassThing> more);

}  // namespace bareglass::host
