#pragma once
// Text that comes from a dump, on its way to a terminal.

#include <string>

namespace bareglass::tools {

/// Control characters, which could drive a terminal, become \xHH or, from U+0080 on, \u00HH.
std::string harmless(const std::string& text);

}  // namespace bareglass::tools
