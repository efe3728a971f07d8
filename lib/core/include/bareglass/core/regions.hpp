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

/// A raised node with a lowered rim of this share is a small drop. (An isolated 8 mm disc raises
/// its node by 49.2 fF and lowers the next column by 9.5, 193 permille; field solution, 1.1 mm
/// glass.)
constexpr std::int32_t kRimPermille = 80;

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

/// Part of a line, `end` excluded; all zero (as static memory begins) is empty.
struct LineSpan {
  std::uint8_t from = 0, end = 0;

  constexpr bool holds(int k) const { return k >= from && k < end; }
  constexpr bool empty() const { return end <= from; }
};

/// Nodes that tell nothing of the glass because their line is at fault: one span per row (columns
/// of that row) and one per column (rows of that column). Both empty: no node is.
struct FaultyNodes {
  View<LineSpan> row;
  View<LineSpan> col;

  bool any() const { return !row.empty(); }
  bool covers(int r, int c) const {
    return row[static_cast<std::size_t>(r)].holds(c) || col[static_cast<std::size_t>(c)].holds(r);
  }
};

/// Limit that regions are held against while input is on, counts: `surface` (Limits::surface), but
/// at least six standard deviations of a node, `sigma_q4` (counts Q4), so that a noisy panel does
/// not see things. At 6 sigma a 72 x 41 panel at 125 frames/s meets chance about once in 20 minutes
/// (2952 nodes, two-sided normal tail 2e-9), and a finding must last far longer.
constexpr std::int32_t region_limit_for(std::int32_t surface, std::int32_t sigma_q4) {
  const std::int32_t by_noise = (6 * sigma_q4 + 15) >> 4;
  return surface > by_noise ? surface : by_noise;
}

/// Labels `difference` (rows * cols counts) and fills `table`, in raster order of each region's
/// first node. `label` receives region number + 1 per node, 0 elsewhere, but only on rows whose
/// `row_busy` is non-zero; other rows hold no node beyond the limit and are neither read nor
/// written. limit: 1..32767 counts. Nodes of faulty lines belong to no region.
void find_regions(RegionTable& table, View<std::uint8_t> label, View<const std::int16_t> difference,
                  View<const std::uint8_t> row_busy, Shape shape, std::int32_t limit,
                  const FaultyNodes& faulty = {});

/// Marks every region of one node that has no skirt: fewer than two of its four direct neighbours
/// show kSkirtPermille of it and a quarter of `limit` with its sign (below that a skirt can't be
/// told from noise; one alone may be a touch's beside it).
/// `limit`: as in find_regions.
void mark_lone(RegionTable& table, View<const std::int16_t> difference, Shape shape,
               std::int32_t limit);

/// Marks every region that is one half of a two-signed pair. Lone and explained ones are none.
void mark_two_signed(RegionTable& table);

}  // namespace bareglass
