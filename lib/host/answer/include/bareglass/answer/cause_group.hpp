#pragma once
// Which part of a unit a cause belongs to.

#include "bareglass/answer/diagnosis.hpp"

namespace bareglass::host {

enum class CauseGroup {
  none,         ///< bare_glass, not_enough: no finding
  glass,        ///< something lies or lay on the glass
  lines,        ///< rows, columns, their tail, single nodes
  electronics,  ///< noise, supply, the way to earth
};
CauseGroup group_of(Cause cause);
const char* name_of(CauseGroup group);

/// Both speak of one thing: the same lines, or places of one group that touch, or, where a place is
/// missing, the same cause.
bool same_thing(const CauseFound& x, const CauseFound& y);

}  // namespace bareglass::host
