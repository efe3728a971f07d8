#pragma once
// The built-in reference numbers, made from sim/panel/data/field_reference.toml.

namespace bareglass::panel {

extern const char* const kReferenceData;

}  // namespace bareglass::panel
