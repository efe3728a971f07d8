#pragma once
// A dump that was made from a damaged one says so: where something was lost, it holds a note.

#include <optional>
#include <string>

#include "bareglass/capture/records.hpp"

namespace bareglass::host {

/// What came to `now` since `before` as a note at `t_us`: "damage in the source: 2 damaged packets,
/// 340 bytes lost". Nothing if nothing did.
std::optional<NoteRecord> damage_note(const CaptureStats& before, const CaptureStats& now,
                                      std::uint64_t t_us);

/// Adds what such a note tells to the counts of the source; other notes change nothing.
void take_damage_note(CaptureStats& stats, const NoteRecord& note);

}  // namespace bareglass::host
