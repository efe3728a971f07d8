#pragma once
// What the files about findings share among themselves.

#include "bareglass/core/findings.hpp"

namespace bareglass {

/// Hugging one border: touches it, no deeper than two lines, and long.
bool is_border_band(const Region& region, Shape shape, const Settings& s);

/// A small raised place that could be a drop of a splash: no half of a two-signed conductor.
bool is_drop(const RegionTable& regions, const Region& region, const Settings& s);
/// In a splash a drop's rim belongs to it.
bool is_rim_in_splash(const RegionTable& regions, const Region& region, const Settings& s);

/// A finding of what one frame shows of the region; without a confidence. `limit`: counts.
Finding seen_region(const Region& region, FindingKind kind, std::uint64_t t_us, std::int32_t limit);

/// How long a finding of this kind is kept unseen; `gone_us`: those that have no time of their own.
std::uint64_t hold_us(FindingKind kind, std::uint64_t gone_us);

void journal_finding(Journal& journal, JournalCode code, const Finding& f, std::uint64_t t_us,
                     std::int32_t limit);

}  // namespace bareglass
