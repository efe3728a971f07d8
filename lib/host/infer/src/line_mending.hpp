#pragma once
// Takes line faults out of the maps, so that what lies on the glass can still be seen through them.

#include <vector>

#include "line_looks.hpp"

namespace bareglass::host {

/// States of every line, window by window.
struct LineFilm {
  std::vector<Looks> rows, columns;
};

/// Masks what is dead and divides slow lines, and lines that open rows beside them lift, by the
/// share they read, as far as they belong to one of `groups`. A slow line sees a touch as much
/// weaker as itself.
void mend_lines(Reading& reading, const LineFilm& film, const std::vector<LineGroup>& groups);

/// Divides every row by what its middle node reads over the bare panel, window by window: for a
/// panel whose rows swing.
void mend_rows(Reading& reading);

}  // namespace bareglass::host
