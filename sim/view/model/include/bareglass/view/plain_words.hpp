#pragma once
// What the core found and decided, in words for someone who repairs devices: what it means first,
// its numbers behind it. The report of `bareglass explain` keeps the terms of the journal.

#include <string>

#include "bareglass/core/engine.hpp"

namespace bareglass::view {

/// What a finding is, in a few words for a label: "fluid at the bezel".
const char* words_of(FindingKind kind);
/// The same with its place or its strength: "damp note or wet patch: -13 %",
/// "row 5 is cut", "rows 8 to 11 are weak: tail".
std::string label_of(const Finding& finding, const Settings& settings);
/// One entry of the journal as one to three short sentences, without its time.
std::string plain_event(const JournalEntry& entry, const Settings& settings);
/// What a state of input means, without a stop: "input off while the cause lasts". What went off in
/// use comes back by itself under some policies only.
const char* plain_state(InputState state, StartPolicy policy);

}  // namespace bareglass::view
