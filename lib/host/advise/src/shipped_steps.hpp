#pragma once
// Text of lib/host/advise/data/next_steps.toml, built into the program.

namespace bareglass::host {

extern const char* const kShippedSteps;

}  // namespace bareglass::host
