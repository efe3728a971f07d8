#include "commands.hpp"
namespace bareglass::tools {
int run_compare(int, const char* const*) { return 0; }
}  // namespace bareglass::tools
