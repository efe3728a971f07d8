#include "bareglass/core/storage.hpp"

#include <gtest/gtest.h>

#include <cstdint>

namespace bareglass {
namespace {

template <int Rows, int Cols>
void expect_documented_size() {
  // storage.hpp: 11 bytes per node, 9 per row, 4 per column and 2 per line of the longer side.
  constexpr int kLong = Rows > Cols ? Rows : Cols;
  constexpr std::size_t kDocumented = 11u * Rows * Cols + 9u * Rows + 4u * Cols + 2u * kLong;
  EXPECT_GE(sizeof(Storage<Rows, Cols>), kDocumented);
  EXPECT_LE(sizeof(Storage<Rows, Cols>), kDocumented + 16) << "padding between twelve arrays";
}

TEST(StorageOfAPanel, HasTheDocumentedSize) {
  expect_documented_size<2, 2>();
  expect_documented_size<40, 24>();
  expect_documented_size<27, 15>();
  expect_documented_size<128, 128>();
}

TEST(StorageOfAPanel, StaysWithinTwelveBytesPerNodeOnACommonPanel) {
  EXPECT_LE(sizeof(Storage<40, 24>), 12u * 40 * 24);
}

TEST(MemoryOfAStorage, ShowsEveryArrayOnceWithItsLength) {
  static Storage<6, 9> storage;
  const Memory m = storage.memory();
  EXPECT_EQ(m.baseline_q8.size, 54u);
  EXPECT_EQ(m.difference.size, 54u);
  EXPECT_EQ(m.previous.size, 54u);
  EXPECT_EQ(m.roughness_q4.size, 54u);
  EXPECT_EQ(m.label.size, 54u);
  EXPECT_EQ(m.common_mode.size, 6u);
  EXPECT_EQ(m.row_busy.size, 6u);
  EXPECT_EQ(m.row_level.size, 6u);
  EXPECT_EQ(m.col_level.size, 9u);
  EXPECT_EQ(m.sort.size, 9u);

  // Fill each array with its own byte; nobody's end may be another's beginning.
  const auto fill = [](auto view, int v) {
    for (auto& x : view) x = static_cast<std::remove_reference_t<decltype(x)>>(v);
  };
  const auto all_are = [](auto view, int v) {
    for (auto x : view)
      if (x != static_cast<decltype(x)>(v)) return false;
    return true;
  };
  fill(m.baseline_q8, 1);
  fill(m.difference, 2);
  fill(m.previous, 3);
  fill(m.roughness_q4, 4);
  fill(m.label, 5);
  for (CommonMode& c : m.common_mode) c.slow_q8 = 6;
  fill(m.row_busy, 7);
  fill(m.row_level, 8);
  fill(m.col_level, 9);
  fill(m.sort, 10);
  EXPECT_TRUE(all_are(m.baseline_q8, 1));
  EXPECT_TRUE(all_are(m.difference, 2));
  EXPECT_TRUE(all_are(m.previous, 3));
  EXPECT_TRUE(all_are(m.roughness_q4, 4));
  EXPECT_TRUE(all_are(m.label, 5));
  for (const CommonMode& c : m.common_mode) EXPECT_EQ(c.slow_q8, 6);
  EXPECT_TRUE(all_are(m.row_busy, 7));
  EXPECT_TRUE(all_are(m.row_level, 8));
  EXPECT_TRUE(all_are(m.col_level, 9));
  EXPECT_TRUE(all_are(m.sort, 10));
}

}  // namespace
}  // namespace bareglass
