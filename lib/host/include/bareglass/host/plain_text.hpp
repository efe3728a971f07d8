#pragma once
// Text on its way to a terminal.

#include <string>

namespace bareglass::host {

/// The words of `text`, broken at 80 characters; the first line is led by `lead`, the others by as
/// many blanks. A unit stays with its number. Ends in a newline.
std::string wrapped(const std::string& lead, const std::string& text);

/// Text from a dump or a file name: control characters, which could drive a terminal, become \xHH
/// or, from U+0080 on, \u00HH.
std::string harmless(const std::string& text);

}  // namespace bareglass::host
