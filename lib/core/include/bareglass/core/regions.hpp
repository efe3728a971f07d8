#pragma once
// Connected regions of nodes that depart from the baseline, of either sign.

#include <cstdint>

#include "bareglass/core/types.hpp"

namespace bareglass {

/// One connected area (8 neighbours) in which every node departs by at least the limit, all with
/// the same sign. Counts are differences: positive is what a finger does.
struct Region {
  Box box;
  std::uint16_t nodes = 0;
  std::uint16_t border_nodes = 0;  ///< of these, nodes on the outermost lines
  std::int16_t peak = 0;           ///< largest departure, signed
  std::uint8_t peak_row = 0, peak_col = 0;
  std::int32_t sum = 0;  ///< signed
  /// The baseline is at fault here, not the glass: neither contact nor finding (set by the engine).
  bool explained = false;
  /// Half of a two-signed pair: never a contact, from the first frame on (set by mark_two_signed).
  bool two_signed = false;
  bool lone = false;  ///< a single node without a skirt: never a contact (set by mark_lone)

  std::int32_t mean() const { return nodes == 0 ? 0 : sum / nodes; }
};

/// True if the two are the halves of one isolated conductor: opposite signs, boxes that touch, and
/// the weaker peak at least a fifth of the stronger. (Field solution of isolated streaks and discs:
/// the weaker sign reaches 0.24 to 0.5 of the stronger.)
bool is_two_sign_pair(const Region& a, const Region& b);

/// A single node whose neighbours of its own sign stay below this share of it has no skirt.
/// Whatever lies on the glass has one: under a centred 8 mm finger the next line shows 36 % of the
/// peak, under an isolated 8 mm disc still 19 % (field solution, 1.1 mm glass). So a lone node is a
/// fault of the panel, the front end or the transmission.
constexpr std::int32_t kSkirtPermille = 150;

/// Scratch and result of the labelling; the caller owns it (storage.hpp).
struct RegionTable {
  static constexpr int kMaxRegions = 16;
  static constexpr int kMaxLabels =
      200;  ///< provisional labels; a checkerboard needs more and is cut

  Region region[kMaxRegions];
  std::uint8_t count = 0;
  std::uint16_t dropped = 0;  ///< regions or labels that found no place: the glass is a mess
  std::uint8_t parent[kMaxLabels + 1];
};

/// Labels `difference` (rows * cols counts) and fills `table`, in raster order of each region's
/// first node. `label` receives region number + 1 per node, 0 elsewhere, but only on rows whose
/// `row_busy` is non-zero; other rows hold no node beyond the limit and are neither read nor
/// written. limit: 1..32767 counts.
void find_regions(RegionTable& table, View<std::uint8_t> label, View<const std::int16_t> difference,
                  View<const std::uint8_t> row_busy, Shape shape, std::int32_t limit);

/// Marks every region of one node that has no skirt: no neighbour of its sign reaches
/// kSkirtPermille of it, nor a quarter of `limit` (below that a skirt can't be told from noise).
/// `limit`: as in find_regions.
void mark_lone(RegionTable& table, View<const std::int16_t> difference, Shape shape,
               std::int32_t limit);

/// Marks every region that is one half of a two-signed pair. Lone and explained ones are none.
void mark_two_signed(RegionTable& table);

}  // namespace bareglass
