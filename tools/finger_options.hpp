#pragma once
// What commands that tell percentages are told of a finger's signal and of the unit's settings.

#include <boost/program_options.hpp>

#include "bareglass/replay/replay.hpp"
#include "bareglass/settings/acceptance.hpp"

namespace bareglass::tools {

/// --finger-counts and --panel, for dumps that do not state the signal of a finger.
boost::program_options::options_description finger_options();

/// What these two and --settings ask for. Throws CommandLineError for a value out of place,
/// host::CaptureError or field::PanelError for a file that can't be read. `limits`: those of the
/// settings file, if it is wanted and given.
host::ReplayOptions replay_options(const boost::program_options::variables_map& given,
                                   host::AcceptLimits* limits = nullptr);

}  // namespace bareglass::tools
