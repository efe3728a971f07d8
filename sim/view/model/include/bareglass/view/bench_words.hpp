#pragma once
// The state of a device in words: one sentence, and why.

#include <string>

#include "bareglass/core/engine.hpp"

namespace bareglass::view {

/// The journal entry that the present state rests on; nullptr before any decision. Valid until the
/// engine's next step.
const JournalEntry* deciding_entry(const Engine& device);
/// "Input is off until the next power-up."
std::string state_sentence(const Engine& device, bool powered);
/// The deciding entry as a sentence; empty before any decision.
std::string reason_sentence(const Engine& device, bool powered);
/// Word of a kind that stays the same: "border_band".
const char* word_of(FindingKind kind);

}  // namespace bareglass::view
