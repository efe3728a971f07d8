#pragma once
// bareglass field PANEL: what a panel's electrodes and glass make of themselves.

namespace bareglass::tools {

/// argv[0] is the command's own name. Returns an exit code of cli.hpp, or throws CommandLineError,
/// CaptureError (a panel file that can't be used) or CaptureWriteError.
int run_field(int argc, const char* const* argv);

}  // namespace bareglass::tools
