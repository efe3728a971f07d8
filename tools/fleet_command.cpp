#include "commands.hpp"
namespace bareglass::tools {
int run_fleet(int, const char* const*) { return 0; }
}  // namespace bareglass::tools
