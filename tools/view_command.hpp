#pragma once
// bareglass view: a dump in a window.

namespace bareglass::tools {

int run_view(int argc, const char* const* argv);

}  // namespace bareglass::tools
