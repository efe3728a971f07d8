#include "bareglass/core/regions.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "support/guarded.hpp"

namespace bareglass {
namespace {

using support::Guarded;

/// What find_regions should say, by an unhurried flood fill in raster order.
struct Flooded {
  std::vector<Region> regions;
  std::vector<int> label;  ///< region number + 1 per node
};

int sign_of(int d, int limit) { return d >= limit ? 1 : (d <= -limit ? -1 : 0); }

class FloodFill {
 public:
  FloodFill(const std::vector<std::int16_t>& d, Shape shape, int limit)
      : d_(d), shape_(shape), limit_(limit) {}

  Flooded run() {
    out_.label.assign(d_.size(), 0);
    for (int r = 0; r < shape_.rows; ++r)
      for (int c = 0; c < shape_.cols; ++c)
        if (sign(r, c) != 0 && out_.label[at(r, c)] == 0) fill(r, c);
    return out_;
  }

 private:
  std::size_t at(int r, int c) const { return static_cast<std::size_t>(r * shape_.cols + c); }
  int sign(int r, int c) const { return sign_of(d_[at(r, c)], limit_); }

  void fill(int row, int col) {
    const int wanted = sign(row, col);
    const int number = static_cast<int>(out_.regions.size()) + 1;
    std::vector<std::pair<int, int>> todo{{row, col}};
    out_.label[at(row, col)] = number;
    Region region;
    region.box = {255, 0, 255, 0};
    while (!todo.empty()) {
      const auto [r, c] = todo.back();
      todo.pop_back();
      take(region, r, c);
      for (int nr = std::max(r - 1, 0); nr <= std::min(r + 1, shape_.rows - 1); ++nr)
        for (int nc = std::max(c - 1, 0); nc <= std::min(c + 1, shape_.cols - 1); ++nc)
          if (sign(nr, nc) == wanted && out_.label[at(nr, nc)] == 0) {
            out_.label[at(nr, nc)] = number;
            todo.push_back({nr, nc});
          }
    }
    out_.regions.push_back(region);
  }

  void take(Region& region, int r, int c) const {
    const auto row = static_cast<std::uint8_t>(r);
    const auto col = static_cast<std::uint8_t>(c);
    region.box.row0 = std::min(region.box.row0, row);
    region.box.row1 = std::max(region.box.row1, row);
    region.box.col0 = std::min(region.box.col0, col);
    region.box.col1 = std::max(region.box.col1, col);
    ++region.nodes;
    if (r == 0 || c == 0 || r == shape_.rows - 1 || c == shape_.cols - 1) ++region.border_nodes;
    region.sum += d_[at(r, c)];
    if (std::abs(d_[at(r, c)]) > std::abs(region.peak)) region.peak = d_[at(r, c)];
  }

  const std::vector<std::int16_t>& d_;
  Shape shape_;
  int limit_;
  Flooded out_;
};

struct Labelling {
  explicit Labelling(Shape s) : shape(s), label(static_cast<std::size_t>(s.nodes()), 0xEE) {}

  void run(const std::vector<std::int16_t>& d, int limit) {
    busy.assign(static_cast<std::size_t>(shape.rows), 0);
    for (std::size_t i = 0; i < d.size(); ++i)
      if (sign_of(d[i], limit) != 0) busy[i / static_cast<std::size_t>(shape.cols)] = 1;
    find_regions(table, label.view(), {d.data(), d.size()}, {busy.data(), busy.size()}, shape,
                 limit);
  }

  Shape shape;
  Guarded<std::uint8_t> label;
  std::vector<std::uint8_t> busy;
  RegionTable table;
};

void expect_same(const Labelling& got, const std::vector<std::int16_t>& d, int limit) {
  const Flooded expected = FloodFill(d, got.shape, limit).run();
  const std::size_t kept = std::min<std::size_t>(expected.regions.size(), RegionTable::kMaxRegions);
  ASSERT_TRUE(got.label.intact());
  ASSERT_EQ(got.table.count, kept);
  ASSERT_EQ(got.table.dropped, expected.regions.size() - kept);
  for (std::size_t i = 0; i < d.size(); ++i) {
    const bool busy = got.busy[i / static_cast<std::size_t>(got.shape.cols)] != 0;
    const int wanted = expected.label[i] <= static_cast<int>(kept) ? expected.label[i] : 0;
    ASSERT_EQ(got.label[i], busy ? wanted : 0xEE) << "node " << i;
  }
  for (std::size_t k = 0; k < kept; ++k) {
    const Region& a = got.table.region[k];
    const Region& b = expected.regions[k];
    ASSERT_EQ(a.box.row0, b.box.row0);
    ASSERT_EQ(a.box.row1, b.box.row1);
    ASSERT_EQ(a.box.col0, b.box.col0);
    ASSERT_EQ(a.box.col1, b.box.col1);
    ASSERT_EQ(a.nodes, b.nodes);
    ASSERT_EQ(a.border_nodes, b.border_nodes);
    ASSERT_EQ(a.sum, b.sum);
    ASSERT_EQ(std::abs(a.peak), std::abs(b.peak));
    ASSERT_EQ(d[static_cast<std::size_t>(a.peak_row * got.shape.cols + a.peak_col)], a.peak);
    ASSERT_FALSE(a.explained || a.two_signed);
  }
}

TEST(FindRegions, AgreesWithAFloodFillOnThousandsOfRandomGrids) {
  const std::uint32_t seed = 34001;
  std::mt19937 random(seed);
  int overflowing = 0;
  for (int k = 0; k < 6000; ++k) {
    SCOPED_TRACE(::testing::Message() << "seed " << seed << ", grid " << k);
    const Shape shape{2 + static_cast<int>(random() % 19), 2 + static_cast<int>(random() % 19)};
    const auto share = 1 + random() % 99;  // percent of nodes beyond the limit
    std::vector<std::int16_t> d(static_cast<std::size_t>(shape.nodes()));
    for (auto& x : d) {
      const auto size =
          static_cast<int>(random() % 100 < share ? 100 + random() % 900 : random() % 100);
      x = static_cast<std::int16_t>(random() % 2 ? size : -size);
    }
    Labelling labelling(shape);
    labelling.run(d, 100);
    expect_same(labelling, d, 100);
    if (::testing::Test::HasFatalFailure()) return;
    overflowing += labelling.table.dropped != 0;
  }
  EXPECT_GT(overflowing, 300);
}

TEST(FindRegions, FollowsSnakesAndCombsThatJoinLate) {
  // Shapes whose provisional labels meet only in the last row.
  const std::vector<std::vector<std::string>> pictures = {
      {"#.#.#.#.#", "#.#.#.#.#", "#.#.#.#.#", "#########"},
      {"#.......#", ".#.....#.", "..#...#..", "...#.#...", "....#...."},
      {"#########", "........#", "#######.#", "#.....#.#", "#.###.#.#", "#.....#.#", "#########"},
      {"....#....", "...#.#...", "..#...#..", ".#..#..#.", "#..#.#..#", ".#..#..#.", "..#...#.."},
  };
  for (const auto& picture : pictures) {
    const Shape shape{static_cast<int>(picture.size()), static_cast<int>(picture[0].size())};
    std::vector<std::int16_t> d;
    for (const std::string& line : picture)
      for (const char c : line) d.push_back(c == '#' ? 500 : 0);
    Labelling labelling(shape);
    labelling.run(d, 300);
    expect_same(labelling, d, 300);
  }
}

TEST(FindRegions, IncludesTheLimitItselfOnBothSides) {
  const std::vector<std::int16_t> d = {99, 0, 100, 0, 0, 0, -99, 0, -100};
  Labelling labelling({3, 3});
  labelling.run(d, 100);
  ASSERT_EQ(labelling.table.count, 2);
  EXPECT_EQ(labelling.table.region[0].nodes, 1);
  EXPECT_EQ(labelling.table.region[0].peak, 100);
  EXPECT_EQ(labelling.table.region[1].peak, -100);
  EXPECT_EQ(labelling.table.region[1].mean(), -100);
}

TEST(FindRegions, TakesACheckerboardOfSignsAsTwoRegions) {
  // With 8 neighbours, diagonals join: one region of each sign.
  const Shape shape{12, 12};
  std::vector<std::int16_t> d;
  for (int i = 0; i < shape.nodes(); ++i)
    d.push_back((i / 12 + i % 12) % 2 == 0 ? std::int16_t{700} : std::int16_t{-700});
  Labelling labelling(shape);
  labelling.run(d, 100);
  expect_same(labelling, d, 100);
  EXPECT_EQ(labelling.table.count, 2);
}

TEST(FindRegions, CountsWhatFindsNoPlaceWhenProvisionalLabelsRunOut) {
  // Isolated nodes on every other line both ways: 64 x 64 regions, more than all labels.
  const Shape shape{128, 128};
  std::vector<std::int16_t> d(static_cast<std::size_t>(shape.nodes()), 0);
  for (int r = 0; r < 128; r += 2)
    for (int c = 0; c < 128; c += 2) d[static_cast<std::size_t>(r * 128 + c)] = 500;
  Labelling labelling(shape);
  labelling.run(d, 100);
  EXPECT_TRUE(labelling.label.intact());
  EXPECT_EQ(labelling.table.count, RegionTable::kMaxRegions);
  EXPECT_EQ(labelling.table.dropped, 64 * 64 - RegionTable::kMaxRegions);
  int labelled = 0;
  for (std::size_t i = 0; i < d.size(); i += 2) {
    if ((i / 128) % 2 != 0) continue;
    ASSERT_LE(labelling.label[i], RegionTable::kMaxRegions);
    labelled += labelling.label[i] != 0;
  }
  EXPECT_EQ(labelled, RegionTable::kMaxRegions);
}

TEST(FindRegions, ReadsNothingOfIdleRows) {
  const std::vector<std::int16_t> d(12, 900);
  RegionTable table;
  Guarded<std::uint8_t> label(12, 7);
  const std::vector<std::uint8_t> busy = {1, 0, 1};
  find_regions(table, label.view(), {d.data(), 12}, {busy.data(), 3}, {3, 4}, 100);
  ASSERT_EQ(table.count, 2);  // the idle row parts them
  EXPECT_EQ(table.region[0].nodes, 4);
  EXPECT_EQ(table.region[1].nodes, 4);
  for (std::size_t c = 4; c < 8; ++c) EXPECT_EQ(label[c], 7) << "not written either";
}

Region region_at(int row, int col, std::int16_t peak) {
  Region r;
  r.box = {static_cast<std::uint8_t>(row), static_cast<std::uint8_t>(row + 1),
           static_cast<std::uint8_t>(col), static_cast<std::uint8_t>(col + 1)};
  r.peak = peak;
  return r;
}

TEST(TwoSignPair, NeedsOppositeSignsTouchingBoxesAndAFifthOfTheStronger) {
  EXPECT_TRUE(is_two_sign_pair(region_at(3, 3, 1000), region_at(5, 5, -200)));
  EXPECT_TRUE(is_two_sign_pair(region_at(3, 3, -200), region_at(5, 5, 1000)));
  EXPECT_TRUE(is_two_sign_pair(region_at(3, 3, -1000), region_at(3, 5, 200)));
  EXPECT_FALSE(is_two_sign_pair(region_at(3, 3, 1000), region_at(5, 5, -199)));
  EXPECT_FALSE(is_two_sign_pair(region_at(3, 3, 1000), region_at(5, 5, 1000)));
  EXPECT_FALSE(is_two_sign_pair(region_at(3, 3, 1000), region_at(6, 3, -900)));  // a line between
  EXPECT_FALSE(is_two_sign_pair(region_at(3, 3, 1000), region_at(3, 6, -900)));
}

TEST(SingleNode, IsLoneOnlyWithoutASkirtOfItsOwnSign) {
  // 15 % of its peak is the border: field solution, 8 mm disc on 1.1 mm glass, next line 36 %
  // grounded and 19 % isolated.
  const auto lone = [](std::int16_t peak, std::int16_t beside, std::int16_t below) {
    std::vector<std::int16_t> d(25, 0);
    d[12] = peak;
    d[13] = beside;
    d[17] = below;
    Labelling labelling({5, 5});
    labelling.run(d, 280);
    mark_lone(labelling.table, {d.data(), 25}, {5, 5}, 280);
    return labelling.table.region[0].lone;
  };
  EXPECT_TRUE(lone(1600, 279, 239));
  EXPECT_TRUE(lone(1600, 239, 279));
  EXPECT_FALSE(lone(1600, 240, 240));
  EXPECT_TRUE(lone(-1600, -239, -239));
  EXPECT_FALSE(lone(-1600, -240, -240));
  EXPECT_TRUE(lone(1600, -279, -279)) << "a skirt has the sign of its peak";
  EXPECT_TRUE(lone(300, 69, 69)) << "below a quarter of the limit is noise";
  EXPECT_FALSE(lone(300, 70, 70));
}

TEST(SingleNode, BesideATouchDoesNotBorrowItsSkirt) {
  // A finger of 3500 on (2, 1) gives its next line 36 %, the line after 2 %: (2, 3) has nothing of
  // its own around it.
  std::vector<std::int16_t> d(35, 0);
  const auto at = [&](int r, int c) -> std::int16_t& {
    return d[static_cast<std::size_t>(r * 7 + c)];
  };
  for (int r = 1; r <= 3; ++r)
    for (int c = 0; c <= 2; ++c)
      at(r, c) = r == 2 && c == 1 ? 3500 : (r == 2 || c == 1 ? 1250 : 279);
  at(2, 2) = 279;  // below the limit, so that they are two regions
  at(2, 3) = 1500;
  Labelling labelling({5, 7});
  labelling.run(d, 280);
  ASSERT_EQ(labelling.table.count, 2);
  mark_lone(labelling.table, {d.data(), 35}, {5, 7}, 280);
  EXPECT_FALSE(labelling.table.region[0].lone);
  EXPECT_TRUE(labelling.table.region[1].lone);
}

TEST(SingleNode, AtACornerHasOnlyTwoNeighboursAndARegionOfTwoIsNeverLone) {
  std::vector<std::int16_t> d(25, 0);
  d[0] = 1600;
  d[23] = d[24] = 1600;
  Labelling labelling({5, 5});
  labelling.run(d, 280);
  mark_lone(labelling.table, {d.data(), 25}, {5, 5}, 280);
  ASSERT_EQ(labelling.table.count, 2);
  EXPECT_TRUE(labelling.table.region[0].lone);
  EXPECT_FALSE(labelling.table.region[1].lone);
  d[1] = d[5] = 250;
  labelling.run(d, 280);
  mark_lone(labelling.table, {d.data(), 25}, {5, 5}, 280);
  EXPECT_FALSE(labelling.table.region[0].lone);
}

// A rim takes at most 0.4 of what its drop gives; a deeper neighbour is something else.
TEST(SingleNode, IsADropOnlyWithARimNoDeeperThanADropsIs) {
  const auto lone = [](std::int16_t beside) {
    std::vector<std::int16_t> d(25, 0);
    d[12] = -1600;
    d[13] = beside;
    Labelling labelling({5, 5});
    labelling.run(d, 700);
    mark_lone(labelling.table, {d.data(), 25}, {5, 5}, 700);
    return labelling.table.region[0].lone;
  };
  EXPECT_FALSE(lone(640));
  EXPECT_TRUE(lone(641));
}

TEST(TwoSignPair, IsNotMadeOfALoneNode) {
  RegionTable table;
  table.count = 2;
  table.region[0] = region_at(0, 0, 900);
  table.region[1] = region_at(2, 2, -500);
  table.region[1].lone = true;
  mark_two_signed(table);
  EXPECT_FALSE(table.region[0].two_signed);
}

// The second arm of an L touches neither the first nor the corner's opposite alone.
TEST(TwoSignPair, TakesInWhateverElseTouchesIt) {
  RegionTable table;
  table.count = 5;
  table.region[0] = region_at(6, 6, 1100);   // touches the second arm only
  table.region[1] = region_at(4, 4, 1100);   // an arm
  table.region[2] = region_at(2, 2, -4900);  // the corner
  table.region[3] = region_at(8, 8, 200);    // touches the last arm, too weak to be one
  table.region[4] = region_at(12, 2, 3000);  // a finger elsewhere
  mark_two_signed(table);
  EXPECT_TRUE(table.region[0].two_signed);
  EXPECT_TRUE(table.region[1].two_signed);
  EXPECT_TRUE(table.region[2].two_signed);
  EXPECT_FALSE(table.region[3].two_signed);
  EXPECT_FALSE(table.region[4].two_signed);
}

TEST(TwoSignPair, IsMarkedOnBothHalvesButNotOnAnExplainedOne) {
  RegionTable table;
  table.count = 4;
  table.region[0] = region_at(0, 0, 900);
  table.region[1] = region_at(8, 8, 900);
  table.region[2] = region_at(2, 2, -500);
  table.region[3] = region_at(10, 10, -500);
  table.region[3].explained = true;
  mark_two_signed(table);
  EXPECT_TRUE(table.region[0].two_signed);
  EXPECT_TRUE(table.region[2].two_signed);
  EXPECT_FALSE(table.region[1].two_signed);
  EXPECT_FALSE(table.region[3].two_signed);
}

}  // namespace
}  // namespace bareglass
