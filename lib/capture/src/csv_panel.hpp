#pragma once
// The panel description in the comment lines of a CSV capture.

#include <string>
#include <string_view>

#include "bareglass/capture/records.hpp"

namespace bareglass::host {

/// Takes one `# key: value` line into `panel`; an empty value means "not known". False if the key
/// is none of a description. Throws LineProblem for a wrong value.
bool take_panel_key(PanelDescription& panel, std::string_view key, std::string_view value);

/// True for the keys take_panel_key takes.
bool is_panel_key(std::string_view key);

/// The lines that turn what a reader knows as `before` into `panel`, each ended by a newline. At
/// least `# rows:` and `# cols:`, so that a repeated description stays one.
std::string panel_lines(const PanelDescription& panel, const PanelDescription& before);

}  // namespace bareglass::host
