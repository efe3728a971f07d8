#pragma once
// Several causes for one signal: which of them stay, and in which order they are told.

#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "reading.hpp"

namespace bareglass::host {

/// Appends `surface` to `causes` (lines and electrics) and takes out what another cause explains:
/// - a thing that moves makes noise along its way, which is no interference;
/// - the pattern that a thing at rest makes along its rows and columns is no interference, unless
///   the columns are noisy from frame to frame;
/// - what lies along broken lines and nowhere else is what they leave;
/// - along a column that is noisy, what passes for a thing is its noise;
/// - where a contact is weak because the device has no way to earth, it is that contact;
/// - under a sinking supply, what passes for a film over half of the panel or more is the sag.
void join(std::vector<CauseFound>& causes, std::vector<CauseFound> surface, const Reading& reading,
          Shape shape);

/// Sure before likely before possible. Of equally sure ones those that stood first stay first:
/// after join() lines and electrics, which make things on the glass look different, not the other
/// way round.
void put_surest_first(std::vector<CauseFound>& causes);

}  // namespace bareglass::host
