// Stands in for the commands with a window where the window is not built (BAREGLASS_WINDOW=OFF).
#include "cli.hpp"
#include "commands.hpp"

namespace bareglass::tools {

namespace {

[[noreturn]] void no_window(const char* command) {
  throw CommandLineError(std::string(command) +
                         " needs a window, and this program was built without one "
                         "(BAREGLASS_WINDOW=OFF); build it with SDL2 and Dear ImGui");
}

}  // namespace

int run_view(int, const char* const*) { no_window("view"); }
int run_bench(int, const char* const*) { no_window("bench"); }

}  // namespace bareglass::tools
