// What is bare when something lies over most of a line: departures without a reference, on levels
// of known size. What films do to a simulated panel is in tests/core_scenarios/wide_film_test.cpp.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include "bareglass/core/lines.hpp"
#include "bareglass/core/look.hpp"
#include "support/guarded.hpp"

namespace bareglass {
namespace {

using support::Guarded;

constexpr Shape kShape{16, 10};
constexpr std::int32_t kLimit = 700;
constexpr double kDepth = 3000;

/// A smooth panel of weaker border lines under a film with a skirt of 40 %, synthetic.
struct Panel {
  explicit Panel(bool counts_rise = false) : rise(counts_rise) {
    for (int r = 0; r < kShape.rows; ++r)
      for (int c = 0; c < kShape.cols; ++c)
        mean.push_back(23000 - (r == 0 || r == 15 ? 1200 : 0) - (c == 0 || c == 9 ? 1500 : 0));
  }
  double& at(int r, int c) { return mean[static_cast<std::size_t>(r * kShape.cols + c)]; }
  void film(const Box& box, double depth = kDepth) {
    for (int r = 0; r < kShape.rows; ++r)
      for (int c = 0; c < kShape.cols; ++c) {
        const int out_r = r < box.row0 ? box.row0 - r : r > box.row1 ? r - box.row1 : 0;
        const int out_c = c < box.col0 ? box.col0 - c : c > box.col1 ? c - box.col1 : 0;
        if (out_r > 1 || out_c > 1) continue;
        at(r, c) += (rise ? 1 : -1) * depth * (out_r ? 0.4 : 1) * (out_c ? 0.4 : 1);
      }
  }
  std::vector<std::int16_t> departure() const {
    Guarded<std::int16_t> row(16), col(10), sort(16), out(160);
    std::vector<BaselineQ8> q8;
    for (const double m : mean) q8.push_back(static_cast<BaselineQ8>(std::lround(m * 256)));
    depart_from_smoothness(out.view(), {row.view(), col.view(), sort.view()},
                           {q8.data(), q8.size()}, kShape, rise, kLimit);
    EXPECT_TRUE(row.intact() && col.intact() && sort.intact() && out.intact());
    return out.values();
  }

  bool rise;
  std::vector<double> mean;
};

struct Film {
  const char* what;
  Box box;
  double depth = kDepth;
};
void PrintTo(const Film& f, std::ostream* out) { *out << f.what; }

class FilmOverMoreThanHalfOfItsLines : public ::testing::TestWithParam<Film> {};

TEST_P(FilmOverMoreThanHalfOfItsLines, ShowsAtItsPlaceWithItsSignAndNothingElseShows) {
  for (const bool rise : {false, true}) {
    Panel panel(rise);
    const Film& f = GetParam();
    panel.film(f.box, f.depth);
    const std::vector<std::int16_t> d = panel.departure();
    for (int r = 0; r < kShape.rows; ++r)
      for (int c = 0; c < kShape.cols; ++c) {
        const bool covered = f.box.contains(r, c);
        const bool near = !covered && r + 1 >= f.box.row0 && r <= f.box.row1 + 1 &&
                          c + 1 >= f.box.col0 && c <= f.box.col1 + 1;
        if (near) continue;
        EXPECT_NEAR(d[static_cast<std::size_t>(r * 10 + c)], covered ? f.depth : 0, 1)
            << (rise ? "rising" : "falling") << " at " << r << ',' << c;
      }
  }
}

INSTANTIATE_TEST_SUITE_P(
    Each, FilmOverMoreThanHalfOfItsLines,
    ::testing::Values(Film{"AcrossRows", {5, 8, 2, 7}}, Film{"DownColumns", {3, 12, 4, 5}},
                      Film{"BothWays", {3, 12, 2, 6}}, Film{"FromTheLeftBorder", {5, 9, 0, 6}},
                      Film{"FromTheRightBorder", {5, 9, 3, 9}}, Film{"FromTheTop", {0, 5, 0, 5}},
                      Film{"FromTheBottom", {10, 15, 0, 5}}, Film{"Raised", {5, 8, 2, 7}, -1000}),
    [](const auto& one) { return std::string(one.param.what); });

TEST(LinesWithoutAReference, OfAPanelThatFallsSteeplyAlongItsLinesAreAllBare) {
  // 40 x 40 lines that lose 250 counts each at first and less and less: a resistive panel.
  constexpr int kLines = 40;
  Guarded<std::int16_t> level(kLines), sort(kLines);
  for (int i = 0; i < kLines; ++i)
    level[static_cast<std::size_t>(i)] = static_cast<std::int16_t>(-250 * i + 2 * i * i);
  std::vector<std::int16_t> before = level.values();
  mend_levels(level.view(), sort.view(), kLimit, false);
  EXPECT_EQ(level.values(), before);
  std::reverse(before.begin(), before.end());
  for (std::size_t i = 0; i < before.size(); ++i) level[i] = before[i];
  mend_levels(level.view(), sort.view(), kLimit, false);
  EXPECT_EQ(level.values(), before) << "rising";
  EXPECT_TRUE(level.intact() && sort.intact());
}

std::vector<std::int16_t> mended(std::vector<std::int16_t> level, bool rise = false) {
  Guarded<std::int16_t> guarded(level), sort(level.size());
  mend_levels(guarded.view(), sort.view(), kLimit, rise);
  EXPECT_TRUE(guarded.intact() && sort.intact());
  return guarded.values();
}
using Levels = std::vector<std::int16_t>;

TEST(LinesWithoutAReference, AreMendedAsAGroupHoweverUnequalTheirLosses) {
  EXPECT_EQ(mended({0, 0, 0, -2000, -9000, -1500, 0, 0, 0, 0}), Levels(10, 0));
}

TEST(LinesWithoutAReference, AreLeftAsTheyAreBelowTheLimit) {
  const Levels shallow = {0, 0, 0, 0, -700, -700, 0, 0, 0, 0};
  EXPECT_EQ(mended(shallow), shallow);
  EXPECT_EQ(mended({0, 0, 0, 0, -701, -701, 0, 0, 0, 0}), Levels(10, 0));
}

TEST(LinesWithoutAReference, BesideDeadOnesAreMendedThoughTheyRise) {
  // Row tails open: their neighbours rise by 7.8 % (field solution).
  EXPECT_EQ(mended({0, 0, 0, 0, 1770, -22800, -22800, 1770, 0, 0, 0, 0}), Levels(12, 0));
}

TEST(LinesWithoutAReference, UnderAFilmAreMendedThoughDeadOnesRaiseOthers) {
  EXPECT_EQ(mended({0, 0, 0, -2000, -2000, -2000, 0, 0, 0, 1770, -22800, -22800, 1770, 0, 0, 0}),
            Levels(16, 0));
}

TEST(LinesWithoutAReference, AreHeldAgainstTheBareSideWhereTheOtherIsASkirt) {
  EXPECT_EQ(mended({0, -600, -2000, -2000, -2000, -2000, -2000, -2000, 0, 0}), Levels(10, 0));
}

TEST(LinesWithoutAReference, HalfLowAreTheThingThatTakesChargeWhicheverHalfItIs) {
  EXPECT_EQ(mended({0, 0, 0, 0, 0, -2000, -2000, -2000, -2000, -2000}), Levels(10, 0));
  EXPECT_EQ(mended({-2000, -2000, -2000, -2000, -2000, -2000, 0, 0, 0, 0}), Levels(10, 0));
  EXPECT_EQ(mended({0, 0, 0, 0, 0, 2000, 2000, 2000, 2000, 2000}, true), Levels(10, 0));
}

TEST(LinesWithoutAReference, AtABorderKeepWhatTheBorderIsWeakerBy) {
  const Levels border = {-1200, 0, 0, 0, 0, 0, 0, 0, 0, -1200};
  EXPECT_EQ(mended(border), border) << "a border alone is weaker by construction";
  EXPECT_EQ(mended({-3200, -2000, -2000, -2000, 0, 0, 0, 0, 0, -1200}), border);
  EXPECT_EQ(mended({-1200, 0, 0, 0, 0, 0, 0, 0, 0, -7001}),
            Levels({-1200, 0, 0, 0, 0, 0, 0, 0, 0, 0}))
      << "but none reads next to nothing";
}

TEST(LinesWithoutAReference, FewerThanFiveAreNotJudged) {
  const Levels few = {0, -9000, 0, 0};
  EXPECT_EQ(mended(few), few);
}

TEST(BorderWithoutAReference, WetAlongMostOfItShowsTheFluidAndNotTheDryRest) {
  for (const bool rise : {false, true}) {
    Panel panel(rise);
    for (int c = 0; c < 7; ++c) panel.at(0, c) += rise ? 1500 : -1500;
    const std::vector<std::int16_t> d = panel.departure();
    for (int c = 0; c < 10; ++c)
      EXPECT_NEAR(d[static_cast<std::size_t>(c)], c < 7 ? 1500 : 0, 1) << rise << " column " << c;
  }
}

}  // namespace
}  // namespace bareglass
