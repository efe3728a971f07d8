#pragma once
// What `record` and `view --record` are told of a live source.

#include <boost/program_options.hpp>

#include "bareglass/capture/recorder.hpp"

namespace bareglass::tools {

/// --baud.
boost::program_options::options_description live_options();
/// Throws CommandLineError for a rate that no port has.
host::LiveOptions live_options_of(const boost::program_options::variables_map& given);

/// --for and --most, as far as they are given. Throws CommandLineError.
host::RecordLimits record_limits(const boost::program_options::variables_map& given);

/// CAPTURE.md: how to capture a start-up.
const char* capture_page();

}  // namespace bareglass::tools
