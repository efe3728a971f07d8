#pragma once
// The commands. argv[0] is the command's own name. Each returns an exit code of cli.hpp, or throws
// CommandLineError, CaptureError or CaptureWriteError.

namespace bareglass::tools {

int run_explain(int argc, const char* const* argv);
int run_info(int argc, const char* const* argv);
int run_record(int argc, const char* const* argv);
int run_convert(int argc, const char* const* argv);
int run_field(int argc, const char* const* argv);
int run_compare(int argc, const char* const* argv);
int run_touchtest(int argc, const char* const* argv);
int run_fleet(int argc, const char* const* argv);
int run_simulate(int argc, const char* const* argv);
int run_view(int argc, const char* const* argv);
int run_bench(int argc, const char* const* argv);

}  // namespace bareglass::tools
