#pragma once
// Whether physics leaves anything to see: decided from the simulation itself, never from what the
// diagnosis says.

#include "case.hpp"

namespace bareglass::score {

/// The scenario and its healthy twin (the same panel without the cause) are scanned without noise,
/// read-out noise being known, at kSampled times spread over the dump. d is the twin's reading
/// minus the scenario's, fF, less what all nodes share as long as that is below kDrift of the
/// reading: a front end's gain follows temperature by some hundred ppm a kelvin (common practice,
/// no source), so that so little of a common level says nothing.
///
/// With a factory reference everything else of d can be seen: visible if
///   sqrt(sum over nodes and frames of d^2) >= kSnr * noise_ff,
/// the ratio a detector reaches that knows the shape and the moment. Five would do for a bare
/// detection; a factor of four is left for not knowing where, when and what.
///
/// Without a reference the bare level is unknown and only what changes within the dump is seen so
/// well: d less its mean over the dump. What is there throughout hides in the spread of
/// manufacture, which no averaging removes: it is visible if
///   sqrt(sum over nodes of (d - mean d)^2) >= kSpreadRatio * spread_ff.
/// There d is taken less the mean of each border line, since border lines read differently by
/// construction and nobody can tell a whole wet one from one that was made so.
///
/// Not visible: bare_glass and not_enough are right too.
bool is_visible(const panel::Scenario& scenario, const panel::Scenario& twin);

constexpr int kSampled = 30;
constexpr double kSnr = 20.0;
constexpr double kSpreadRatio = 12.0;
constexpr double kDrift = 0.003;

}  // namespace bareglass::score
