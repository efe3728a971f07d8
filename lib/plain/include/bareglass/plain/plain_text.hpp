#pragma once
// Text on its way to a terminal.

#include <string>

namespace bareglass::plain {

/// The words of `text`, broken at 80 characters; the first line is led by `lead`, the others by as
/// many blanks. A unit stays with its number. Ends in a newline.
std::string wrapped(const std::string& lead, const std::string& text);

}  // namespace bareglass::plain
