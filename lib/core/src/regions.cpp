#include "bareglass/core/regions.hpp"

#include "bareglass/core/arith.hpp"

namespace bareglass {

namespace {

// Union-find over provisional labels, always joining towards the smaller label, so that a region
// keeps the label of its first node in raster order.
std::uint8_t root_of(const RegionTable& table, std::uint8_t label) {
  while (table.parent[label] != label) label = table.parent[label];
  return label;
}

std::uint8_t join(RegionTable& table, std::uint8_t a, std::uint8_t b) {
  if (a == 0) return b;
  if (b == 0) return a;
  const std::uint8_t ra = root_of(table, a);
  const std::uint8_t rb = root_of(table, b);
  const std::uint8_t low = ra < rb ? ra : rb;
  table.parent[ra] = low;
  table.parent[rb] = low;
  return low;
}

struct Grid {
  View<std::uint8_t> label;
  View<const std::int16_t> difference;
  View<const std::uint8_t> row_busy;
  Shape shape;
  std::int32_t limit;
  FaultyNodes faulty;
  bool any_faulty;

  std::size_t at(int row, int col) const {
    return static_cast<std::size_t>(row * shape.cols + col);
  }
  int sign(std::size_t i) const {
    const std::int32_t d = difference[i];
    return d >= limit ? 1 : (d <= -limit ? -1 : 0);
  }
  int sign(int row, int col) const {
    return any_faulty && faulty.covers(row, col) ? 0 : sign(at(row, col));
  }
  /// Label of a node already scanned, if it has the wanted sign; 0 otherwise.
  std::uint8_t scanned(int row, int col, int wanted) const {
    if (row < 0 || col < 0 || col >= shape.cols || !row_busy[static_cast<std::size_t>(row)])
      return 0;
    const std::size_t i = at(row, col);
    return sign(i) == wanted ? label[i] : 0;
  }
};

// First pass: provisional labels. Returns the number used; nodes beyond the table get none.
int label_nodes(RegionTable& table, const Grid& grid) {
  int used = 0;
  for (int r = 0; r < grid.shape.rows; ++r) {
    if (!grid.row_busy[static_cast<std::size_t>(r)]) continue;
    for (int c = 0; c < grid.shape.cols; ++c) {
      const std::size_t i = grid.at(r, c);
      const int sign = grid.sign(r, c);
      grid.label[i] = 0;
      if (sign == 0) continue;
      std::uint8_t mine = grid.scanned(r, c - 1, sign);
      for (int dc = -1; dc <= 1; ++dc) mine = join(table, mine, grid.scanned(r - 1, c + dc, sign));
      if (mine == 0 && used < RegionTable::kMaxLabels) {
        mine = static_cast<std::uint8_t>(++used);
        table.parent[mine] = mine;
      }
      if (mine == 0) ++table.dropped;
      grid.label[i] = mine;
    }
  }
  return used;
}

// Roots become region numbers + 1 in the order of their first node; the rest follow their root.
void number_regions(RegionTable& table, int used) {
  for (int l = 1; l <= used; ++l) {
    const auto label = static_cast<std::uint8_t>(l);
    const std::uint8_t parent = table.parent[label];
    if (parent != label) {
      // Smaller labels are already numbered, so a parent's entry is its region's number.
      table.parent[label] = table.parent[parent];
    } else if (table.count < RegionTable::kMaxRegions) {
      table.region[table.count] = Region{};
      table.parent[label] = ++table.count;
    } else {
      table.parent[label] = 0;
      ++table.dropped;
    }
  }
}

void grow(Region& region, int row, int col, std::int16_t d, Shape shape) {
  const auto r = static_cast<std::uint8_t>(row);
  const auto c = static_cast<std::uint8_t>(col);
  if (region.nodes == 0) region.box = {r, r, c, c};
  region.box.row1 = r;  // rows come in order
  if (c < region.box.col0) region.box.col0 = c;
  if (c > region.box.col1) region.box.col1 = c;
  ++region.nodes;
  if (row == 0 || col == 0 || row == shape.rows - 1 || col == shape.cols - 1) ++region.border_nodes;
  region.sum += d;
  if (abs_i32(d) > abs_i32(region.peak)) {
    region.peak = d;
    region.peak_row = r;
    region.peak_col = c;
  }
}

// What the direct neighbours of a region's peak show, counts along the peak's own sign.
struct Around {
  std::int32_t second = 0;  ///< second greatest; 0 if there are not two of the peak's sign
  std::int32_t sum = 0;
  bool deeper = false;  ///< one departs the other way by more than a rim does
};

Around around(const Region& region, View<const std::int16_t> difference, Shape shape) {
  constexpr int kStep[4][2] = {{-1, 0}, {1, 0}, {0, -1}, {0, 1}};
  Around seen;
  std::int32_t greatest = 0;
  for (const auto& step : kStep) {
    const int r = region.peak_row + step[0];
    const int c = region.peak_col + step[1];
    if (r < 0 || r >= shape.rows || c < 0 || c >= shape.cols) continue;
    const std::int32_t d = difference[static_cast<std::size_t>(r * shape.cols + c)];
    const std::int32_t along = region.peak < 0 ? -d : d;
    seen.sum += along;
    seen.deeper = seen.deeper || -5 * along > 2 * abs_i32(region.peak);
    const std::int32_t less = along < greatest ? along : greatest;
    greatest = along > greatest ? along : greatest;
    seen.second = less > seen.second ? less : seen.second;
  }
  return seen;
}

}  // namespace

void find_regions(RegionTable& table, View<std::uint8_t> label, View<const std::int16_t> difference,
                  View<const std::uint8_t> row_busy, Shape shape, std::int32_t limit,
                  const FaultyNodes& faulty) {
  const Grid grid{label, difference, row_busy, shape, limit, faulty, faulty.any()};
  table.count = 0;
  table.dropped = 0;
  table.parent[0] = 0;
  number_regions(table, label_nodes(table, grid));
  for (int r = 0; r < shape.rows; ++r) {
    if (!row_busy[static_cast<std::size_t>(r)]) continue;
    for (int c = 0; c < shape.cols; ++c) {
      const std::size_t i = grid.at(r, c);
      if (label[i] == 0) continue;
      label[i] = table.parent[label[i]];
      if (label[i] != 0) grow(table.region[label[i] - 1], r, c, difference[i], shape);
    }
  }
}

bool is_two_sign_pair(const Region& a, const Region& b) {
  if ((a.peak > 0) == (b.peak > 0) || !overlaps(a.box, b.box, 1)) return false;
  const std::int32_t pa = abs_i32(a.peak);
  const std::int32_t pb = abs_i32(b.peak);
  return 5 * (pa < pb ? pa : pb) >= (pa > pb ? pa : pb);
}

void mark_lone(RegionTable& table, View<const std::int16_t> difference, Shape shape,
               std::int32_t limit) {
  for (int k = 0; k < table.count; ++k) {
    Region& region = table.region[k];
    if (region.nodes != 1) continue;
    const std::int32_t peak = abs_i32(region.peak);
    const std::int32_t share = permille_of(peak, kSkirtPermille);
    const std::int32_t least = share > limit / 4 ? share : limit / 4;
    const Around seen = around(region, difference, shape);
    // A drop lowers all of its neighbours a little, none by more than 0.4 of what it raises; one
    // that is lowered by more is a touch beside it, or another fault, and no rim.
    const bool drop = region.peak < 0 && !seen.deeper && -seen.sum * 250 >= kRimPermille * peak;
    region.lone = !drop && seen.second < least;
  }
}

// An L has two arms, which touch its corner but not each other: whatever else touches a half
// belongs to it.
void mark_two_signed(RegionTable& table) {
  for (bool grew = true; grew;) {
    grew = false;
    for (int a = 0; a < table.count; ++a)
      for (int b = 0; b < table.count; ++b) {
        const Region& half = table.region[a];
        Region& other = table.region[b];
        if (other.two_signed || other.explained || other.lone || half.explained || half.lone)
          continue;
        const bool is_part = half.two_signed && overlaps(half.box, other.box, 1) &&
                             5 * abs_i32(other.peak) >= abs_i32(half.peak);
        if (is_part || is_two_sign_pair(half, other)) other.two_signed = grew = true;
      }
  }
}

}  // namespace bareglass
