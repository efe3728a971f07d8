#pragma once
// A scenario's tables inside another TOML file, such as a lesson.

#include "bareglass/panel/scenario.hpp"
#include "bareglass/panel/toml_section.hpp"

namespace bareglass::panel {

/// Reads `table` over `defaults`. Story, unit, seed and duration may be missing: they keep what
/// `defaults` says. `file` names the text in errors and says where panel files are looked for.
/// Throws host::CaptureError.
Scenario read_scene(const Section& table, const Scenario& defaults, const std::string& file);

/// Reads one event table for the things and lines of `scenario`. `also`: keys that belong to the
/// caller. Throws host::CaptureError.
Event read_event(const Section& table, const Scenario& scenario,
                 const std::vector<std::string_view>& also = {});

}  // namespace bareglass::panel
