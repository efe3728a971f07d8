#pragma once
// Whether physics leaves anything to see: decided from the simulation itself, never from what the
// diagnosis says.

#include "case.hpp"

namespace bareglass::score {

/// The scenario and its healthy twin (the same panel without the cause) are scanned without noise,
/// read-out noise being known, at kSampled times spread over the dump. d is the twin's reading
/// minus the scenario's, fF.
///
/// With a factory reference everything of d can be seen: visible if
///   sqrt(sum over nodes and frames of d^2) >= kSnr * noise_ff,
/// the ratio a detector reaches that knows the shape and the moment. Five would do for a bare
/// detection; a factor of four is left for not knowing where, when and what.
///
/// Without a reference only what changes within the dump is seen so well (d less d of the first
/// sample). What is there throughout hides in the spread of manufacture, which no averaging
/// removes: it is visible if sqrt(sum over nodes of (d - mean d)^2) >= kSpreadRatio * spread_ff.
///
/// Not visible: bare_glass and not_enough are right too.
bool is_visible(const panel::Scenario& scenario, const panel::Scenario& twin);

constexpr int kSampled = 30;
constexpr double kSnr = 20.0;
constexpr double kSpreadRatio = 12.0;

/// Greatest change that the scenario makes on any node against its twin, fF.
double greatest_change_ff(const panel::Scenario& scenario, const panel::Scenario& twin);

}  // namespace bareglass::score
