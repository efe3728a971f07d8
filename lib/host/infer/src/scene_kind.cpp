// What a map looks like -> the kind of thing that makes it.

#include "scene_kind.hpp"

#include <algorithm>

#include "scene_limits.hpp"

namespace bareglass::host {

namespace {

using namespace scene_limits;

/// Several small bodies, as told by the crossings of their lines; where no crossing tells, by their
/// having nothing but their own rims beside them.
bool are_drops(const SceneLook& look) {
  if (look.spots < 2 || look.wide_spots > 0 || look.spots_rise < look.drops_rise) return false;
  if (look.separate_pairs > look.joined_pairs) return look.beside_spots < kBesideSeparate;
  return look.separate_pairs == look.joined_pairs && look.beside_spots < kBesideDrops &&
         look.lowered < kDropRim * look.raised && look.spots_rise > look.clear_drops_rise &&
         look.raised > kClearly * look.limit;
}

Cause grounded_kind(const SceneLook& look) {
  if (look.depth > 0 && look.depth < kBandDepth && look.length_mm > kBandLength_mm)
    return Cause::wet_bezel;
  return look.area < kFingerArea ? Cause::touch_at_power_up : Cause::grounded_film;
}

}  // namespace

std::optional<Cause> kind_of(const SceneLook& look) {
  const bool falls = std::min(look.lowered_pair, look.lowered) > look.limit;
  const bool wide = look.raised_nodes >= 3 && look.plateau > look.least_plateau;
  const bool rises = wide || std::min(look.raised_pair, look.raised) > look.limit;
  if (!falls && !rises) return std::nullopt;
  if (look.raised > look.conductor + kStreakOverPatch ||
      (look.lowered > kStreakLowered && look.raised > kBothSigns * look.lowered + look.limit))
    return Cause::isolated_streak;
  // Without a reference the rise beside a long streak can drown in the spread; its shape does not.
  if (falls && look.lowered > kStreakLowered && look.lowered_nodes >= kThinNodes &&
      look.lowered_filled < kThin)
    return Cause::isolated_streak;
  if (falls && look.raised < kBothSigns * look.lowered + look.limit) {
    const bool edge = look.lowered < kLeastGrounded && look.conductor < look.limit;
    if (!edge) return grounded_kind(look);
    // Noise and the fringe of a touch stand out in one node; an edge runs along several.
    if (look.lowered_nodes + look.raised_nodes < 2) return std::nullopt;
    return Cause::isolated_film;
  }
  if (are_drops(look)) return Cause::drops;
  const bool has_rim = look.rim > look.limit && look.rim > 0.04 * look.raised;
  const bool is_flat = look.raised < 1.35 * look.plateau + look.limit;
  if (has_rim || !is_flat || look.plateau > kMostDielectric * look.conductor)
    return Cause::isolated_film;
  return Cause::residue;
}

std::optional<Cause> other_layer(Cause& cause, const SceneLook& look) {
  if (look.plateau > kMostDryOrMore * look.conductor) return std::nullopt;
  // Tape, paper and labels have straight edges; they are cut along the panel more often than not.
  const bool straight = look.filled > kStraight;
  cause = straight && look.plateau < kMostDry * look.conductor ? Cause::dry_film : Cause::residue;
  return cause == Cause::dry_film ? Cause::residue : Cause::dry_film;
}

}  // namespace bareglass::host
