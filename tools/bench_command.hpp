#pragma once
// bareglass bench: the live panel of the trainer.

namespace bareglass::tools {

int run_bench(int argc, const char* const* argv);

}  // namespace bareglass::tools
