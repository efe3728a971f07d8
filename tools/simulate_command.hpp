#pragma once
// bareglass simulate SCENARIO -o DUMP

namespace bareglass::tools {

/// argv[0] is the command's own name. Returns an exit code of cli.hpp, or throws CommandLineError,
/// CaptureError or CaptureWriteError.
int run_simulate(int argc, const char* const* argv);

}  // namespace bareglass::tools
