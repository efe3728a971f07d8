#pragma once
// What a replay says of a dump: what it assumes, and why it can't go on. Whole sentences, so that a
// translation can order the words its own way.

#include <cstdint>
#include <string>

#include "bareglass/capture/records.hpp"
#include "bareglass/core/settings.hpp"
#include "bareglass/replay/finger_scale.hpp"

namespace bareglass::host::text {

/// Seconds since the power-up (or since the first frame if none is known), "0.360 s".
std::string seconds(std::uint64_t t_us, std::uint64_t zero_us);
std::string assumed_pitch(const Settings& settings);
/// What 100 % of a finger is and where that comes from.
std::string finger(const FingerScale& finger);
/// The same for a scale that was taken from the bare reading, with how far it can be off.
std::string assumed_finger(const FingerScale& finger);
/// What to say for a dump that no scale follows from.
std::string ask_for_finger(FrameKind kind);
std::string assumed_policy(const Settings& settings);
std::string assumed_restart();
/// A factory reference came after the first frame.
std::string later_reference();
std::string reference_shape(std::size_t values, Shape shape);
/// `power_up_us`, given by hand, is later than the first frame.
std::string late_power_up(std::uint64_t power_up_us, std::uint64_t first_us);
std::string no_frames();

}  // namespace bareglass::host::text
