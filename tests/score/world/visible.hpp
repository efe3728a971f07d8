#pragma once
// What physics leaves to be seen of each item, from the noise-free panel alone.

#include "world_case.hpp"

namespace bareglass::world {

/// For each item the panel is read with everything and without that item, at kMoments times of the
/// last life; d is the difference, fF. An item is visible if
///   one node has |d| > kNodeSigmas sigma, or
///   a square of 3 x 3 nodes has |sum d| > kSumSigmas sigma sqrt(9),
/// where sigma^2 of a node is the noise of the frames while it lies there (at most a second of
/// them), the row swing averaged likewise, and what the reference leaves: its own noise and the
/// nodes' ageing. Without a reference the nodes' own spread takes its place for what is there
/// throughout, and what changes during the life is held against the noise alone. A gain that all
/// nodes share is the reference's own error up to kGainKnown, and unknown without one: so much is
/// taken off d first.
///
/// The matched signal over noise, sqrt(sum d^2 / sigma^2), says more than one node: what is below
/// kFaint is as probable by chance somewhere on a panel of a thousand nodes, and bare glass is a
/// right answer too.
void find_visible(WorldCase& c);

constexpr int kMoments = 10;
constexpr double kNodeSigmas = 4.0;
constexpr double kSumSigmas = 5.5;
constexpr double kGainKnown = 0.02;
constexpr double kFaint = 8.0;

}  // namespace bareglass::world
