// Stands in for the commands with a window where the window is not built (BAREGLASS_WINDOW=OFF).
#include "cli.hpp"
#include "commands.hpp"

namespace bareglass::tools {

namespace {

[[noreturn]] void no_window(const char* command, const char* instead) {
  throw CommandLineError(std::string(command) +
                         " needs a window, and this program was built without one "
                         "(BAREGLASS_WINDOW=OFF); build it with SDL2 and Dear ImGui. Without a "
                         "window: " +
                         instead);
}

}  // namespace

int run_view(int, const char* const*) {
  no_window("view", "`bareglass explain DUMP --picture FILE.png`");
}
int run_bench(int, const char* const*) {
  no_window("bench", "`bareglass simulate SCENARIO -o DUMP`");
}

}  // namespace bareglass::tools
