#pragma once
// Numbers and fields of a panel of diamonds.

#include "binned_fields.hpp"

namespace bareglass::field {

/// Solves a panel of diamonds; fills `fields` as well if not null.
PanelNumbers solve_diamonds(const PanelSpec& panel, const Mesh& mesh, BinnedFields* fields);

}  // namespace bareglass::field
