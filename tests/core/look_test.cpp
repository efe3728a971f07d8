#include "bareglass/core/look.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

#include "bareglass/core/arith.hpp"
#include "support/guarded.hpp"

namespace bareglass {
namespace {

using support::Guarded;

struct SamplerBench {
  explicit SamplerBench(std::size_t nodes)
      : sum(nodes, 77), least(nodes, 88), greatest(nodes, 99) {}
  LookSampler::Arrays arrays() { return {sum.view(), least.view(), greatest.view()}; }
  bool intact() const { return sum.intact() && least.intact() && greatest.intact(); }

  Guarded<std::uint32_t> sum;
  Guarded<std::uint16_t> least, greatest;
  LookSampler sampler;
};

TEST(LookSampler, TrimsTheExtremesOfEveryNodeLikeASortedReference) {
  const std::uint32_t seed = 33001;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937 random(seed);
  SamplerBench bench(30);
  for (int round = 0; round < 300; ++round) {
    const int frames = 4 + static_cast<int>(random() % 22);
    std::vector<std::vector<std::uint16_t>> seen(30);
    bench.sampler.begin();
    for (int k = 0; k < frames; ++k) {
      std::vector<std::uint16_t> raw(30);
      for (std::size_t i = 0; i < 30; ++i) {
        raw[i] = static_cast<std::uint16_t>(round % 3 == 0 ? 65000 + random() % 536 : random());
        seen[i].push_back(raw[i]);
      }
      bench.sampler.add(bench.arrays(), {raw.data(), 30});
    }
    ASSERT_EQ(bench.sampler.taken(), frames);
    const LookSampler::Result result = bench.sampler.finish(bench.arrays());
    ASSERT_TRUE(bench.intact());
    double ranges = 0;
    int largest = 0;
    for (std::size_t i = 0; i < 30; ++i) {
      std::sort(seen[i].begin(), seen[i].end());
      double sum = 0;
      for (std::size_t k = 1; k + 1 < seen[i].size(); ++k) sum += seen[i][k];
      ASSERT_NEAR(bench.sum[i] / 256.0, sum / (frames - 2), 0.5 / 256 + 1e-9);
      const int range = seen[i].back() - seen[i].front();
      ASSERT_EQ(bench.greatest[i], range);
      ranges += range;
      largest = std::max(largest, range);
    }
    ASSERT_EQ(result.largest_range, largest);
    ASSERT_EQ(bench.greatest[static_cast<std::size_t>(result.node)], largest);
    ASSERT_NEAR(result.typical_range, ranges / 30, 1.0);
  }
}

TEST(LookSampler, OneSpoiledFrameLeavesNoTraceInTheMeanWhereverItComes) {
  for (int spoiled = 0; spoiled < 16; ++spoiled)
    for (const int by : {-9000, 9000}) {
      SamplerBench bench(4);
      bench.sampler.begin();
      for (int k = 0; k < 16; ++k) {
        const auto v = static_cast<std::uint16_t>(20000 + (k == spoiled ? by : k % 2));
        const std::vector<std::uint16_t> raw(4, v);
        bench.sampler.add(bench.arrays(), {raw.data(), 4});
      }
      const LookSampler::Result result = bench.sampler.finish(bench.arrays());
      EXPECT_NEAR(bench.sum[2] / 256.0, 20000.5, 0.1);
      EXPECT_GE(result.largest_range, 9000) << "but the range tells of it";
    }
}

TEST(LookSampler, RangeOverD2EstimatesTheStandardDeviation) {
  // sigma = mean range / d2(16), d2(16) = 3.532 (Montgomery). 900 ranges of sd 0.75 sigma each: the
  // mean scatters by 0.025 sigma, 0.7 % of 3.5 sigma.
  const std::uint32_t seed = 33002;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal(30000.0, 30.0);
  SamplerBench bench(900);
  bench.sampler.begin();
  for (int k = 0; k < 16; ++k) {
    std::vector<std::uint16_t> raw(900);
    for (auto& v : raw) v = static_cast<std::uint16_t>(std::lround(normal(random)));
    bench.sampler.add(bench.arrays(), {raw.data(), 900});
  }
  const LookSampler::Result result = bench.sampler.finish(bench.arrays());
  EXPECT_NEAR(result.typical_range * 1024.0 / d2_q10(16), 30.0, 30.0 * 0.03);
}

TEST(LookSampler, StartsAfreshOverWhatTheArraysHeld) {
  SamplerBench bench(3);
  for (int round = 0; round < 2; ++round) {
    bench.sampler.begin();
    for (int k = 0; k < 4; ++k) {
      const std::vector<std::uint16_t> raw(3, static_cast<std::uint16_t>(500 + 100 * round));
      bench.sampler.add(bench.arrays(), {raw.data(), 3});
    }
    EXPECT_EQ(bench.sampler.finish(bench.arrays()).largest_range, 0);
    EXPECT_EQ(bench.sum[1], (500u + 100u * static_cast<unsigned>(round)) << 8);
  }
}

TEST(DepartureFromReference, IsReferenceMinusMeanSaturated) {
  const std::vector<BaselineQ8> mean = {100u << 8, (100u << 8) + 127, (100u << 8) + 128, 0,
                                        65535u << 8};
  const std::vector<std::uint16_t> reference = {300, 100, 100, 65535, 0};
  Guarded<std::int16_t> d(5);
  depart_from_reference(d.view(), {mean.data(), 5}, {reference.data(), 5}, false);
  EXPECT_EQ(d.values(), (std::vector<std::int16_t>{200, 0, -1, 32767, -32767}));
  depart_from_reference(d.view(), {mean.data(), 5}, {reference.data(), 5}, true);
  EXPECT_EQ(d.values(), (std::vector<std::int16_t>{-200, 0, 1, -32767, 32767}));
  EXPECT_TRUE(d.intact());
}

// --- smoothness ----------------------------------------------------------------------------------

double lower_median(std::vector<double> v) {
  std::sort(v.begin(), v.end());
  return v[(v.size() - 1) / 2];
}

double window_median(const std::vector<double>& level, int i) {
  const int last = static_cast<int>(level.size()) - 1;
  const int reach = std::min({i, last - i, 2});
  return lower_median({level.begin() + (i - reach), level.begin() + (i + reach + 1)});
}

/// Median polish written after Tukey (Exploratory Data Analysis, 1977, chapter 11) and the
/// description in look.hpp, in floating point.
std::vector<double> polished_departure(const std::vector<double>& mean, Shape shape) {
  std::vector<double> row(static_cast<std::size_t>(shape.rows)),
      col(static_cast<std::size_t>(shape.cols), 0.0);
  const auto at = [&](std::size_t r, std::size_t c) {
    return mean[r * static_cast<std::size_t>(shape.cols) + c];
  };
  for (int sweep = 0; sweep < 2; ++sweep) {
    for (std::size_t r = 0; r < row.size(); ++r) {
      std::vector<double> left;
      for (std::size_t c = 0; c < col.size(); ++c) left.push_back(at(r, c) - col[c]);
      row[r] = lower_median(left);
    }
    for (std::size_t c = 0; c < col.size(); ++c) {
      std::vector<double> left;
      for (std::size_t r = 0; r < row.size(); ++r) left.push_back(at(r, c) - row[r]);
      col[c] = lower_median(left);
    }
  }
  std::vector<double> out;
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c)
      out.push_back(window_median(row, r) + window_median(col, c) -
                    at(static_cast<std::size_t>(r), static_cast<std::size_t>(c)));
  return out;
}

struct SmoothBench {
  explicit SmoothBench(Shape s)
      : shape(s),
        row(static_cast<std::size_t>(s.rows)),
        col(static_cast<std::size_t>(s.cols)),
        sort(static_cast<std::size_t>(std::max(s.rows, s.cols))),
        out(static_cast<std::size_t>(s.nodes())) {}

  std::vector<std::int16_t> depart(const std::vector<double>& mean, bool rise = false) {
    std::vector<BaselineQ8> q8;
    for (const double m : mean) q8.push_back(static_cast<BaselineQ8>(std::lround(m * 256)));
    depart_from_smoothness(out.view(), {row.view(), col.view(), sort.view()},
                           {q8.data(), q8.size()}, shape, rise);
    EXPECT_TRUE(row.intact() && col.intact() && sort.intact() && out.intact());
    return out.values();
  }

  Shape shape;
  Guarded<std::int16_t> row, col, sort, out;
};

TEST(DepartureFromSmoothness, MatchesAFloatingMedianPolish) {
  const std::uint32_t seed = 33003;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937 random(seed);
  for (const Shape shape : {Shape{2, 2}, Shape{3, 5}, Shape{16, 10}, Shape{27, 15}, Shape{7, 40}}) {
    SmoothBench bench(shape);
    for (int k = 0; k < 100; ++k) {
      std::vector<double> mean;
      const double base = 5000 + static_cast<double>(random() % 50000);
      for (int i = 0; i < shape.nodes(); ++i)
        mean.push_back(base + static_cast<double>(random() % 4000));
      const std::vector<double> expected = polished_departure(mean, shape);
      const std::vector<std::int16_t> d = bench.depart(mean);
      for (std::size_t i = 0; i < d.size(); ++i) ASSERT_EQ(d[i], expected[i]) << "node " << i;
      const std::vector<std::int16_t> mirrored = bench.depart(mean, true);
      for (std::size_t i = 0; i < d.size(); ++i) ASSERT_EQ(mirrored[i], -d[i]);
    }
  }
}

/// A smooth panel: slopes both ways and weaker border lines.
std::vector<double> smooth_panel(Shape shape) {
  std::vector<double> mean;
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      const double border =
          (r == 0 || r == shape.rows - 1 ? 1200 : 0) + (c == 0 || c == shape.cols - 1 ? 1500 : 0);
      mean.push_back(23000 - 15.0 * r - 20.0 * c - border);
    }
  return mean;
}

TEST(DepartureFromSmoothness, OfABarePanelWithSlopesAndBordersIsNothing) {
  constexpr Shape kShape{16, 10};
  SmoothBench bench(kShape);
  const std::vector<std::int16_t> d = bench.depart(smooth_panel(kShape));
  for (int r = 0; r < kShape.rows; ++r)
    for (int c = 0; c < kShape.cols; ++c) {
      // Where a weaker border line is in the window of medians and the panel falls away from it,
      // the median is the next line inwards: off by one step, 15 counts a row and 20 a column.
      const int allowed = (r == 1 || r == 2 ? 15 : 0) + (c == 1 || c == 2 ? 20 : 0);
      EXPECT_LE(std::abs(d[static_cast<std::size_t>(r * 10 + c)]), allowed) << r << ',' << c;
    }
}

TEST(DepartureFromSmoothness, ShowsAnObjectOfLessThanHalfOfItsLinesAtFullSize) {
  constexpr Shape kShape{16, 10};
  SmoothBench bench(kShape);
  std::vector<double> mean = smooth_panel(kShape);
  for (int r = 3; r <= 9; ++r)
    for (int c = 2; c <= 5; ++c) mean[static_cast<std::size_t>(r * 10 + c)] -= 3000;
  const std::vector<std::int16_t> d = bench.depart(mean);
  for (int r = 0; r < kShape.rows; ++r)
    for (int c = 0; c < kShape.cols; ++c) {
      const bool covered = r >= 3 && r <= 9 && c >= 2 && c <= 5;
      // One step of the slope each way, as on the bare panel.
      EXPECT_NEAR(d[static_cast<std::size_t>(r * 10 + c)], covered ? 3000 : 0, 36) << r << ',' << c;
    }
}

TEST(DepartureFromSmoothness, ShowsAStripOverWholeInnerLines) {
  constexpr Shape kShape{16, 10};
  SmoothBench bench(kShape);
  std::vector<double> mean = smooth_panel(kShape);
  for (int r = 7; r <= 8; ++r)
    for (int c = 0; c < 10; ++c) mean[static_cast<std::size_t>(r * 10 + c)] -= 2000;
  const std::vector<std::int16_t> d = bench.depart(mean);
  for (int c = 0; c < 10; ++c) {
    // The window's median is up to two row steps away, and a column step as on the bare panel.
    EXPECT_NEAR(d[static_cast<std::size_t>(7 * 10 + c)], 2000, 51);
    EXPECT_NEAR(d[static_cast<std::size_t>(8 * 10 + c)], 2000, 51);
    EXPECT_NEAR(d[static_cast<std::size_t>(4 * 10 + c)], 0, 51);
  }
}

std::int32_t spread_of(SmoothBench& bench, const std::vector<std::int16_t>& d) {
  const std::int32_t q4 = spread_q4(
      {d.data(), d.size()}, {bench.row.view(), bench.col.view(), bench.sort.view()}, bench.shape);
  EXPECT_TRUE(bench.row.intact() && bench.sort.intact());
  return q4;
}

TEST(SpreadOfNodes, IsTheirStandardDeviation) {
  const std::uint32_t seed = 33004;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  for (const double sigma : {5.0, 60.0, 900.0}) {
    std::normal_distribution<double> normal(0, sigma);
    SmoothBench bench({72, 41});
    std::vector<std::int16_t> d(72 * 41);
    for (auto& v : d) v = static_cast<std::int16_t>(std::lround(normal(random)));
    EXPECT_NEAR(spread_of(bench, d) / 16.0, sigma, 0.08 * sigma + 0.5);
  }
}

TEST(SpreadOfNodes, IsNotRaisedByWhatItIsHeldAgainst) {
  // Covers of any share of the panel, in one piece or in two.
  const std::uint32_t seed = 33005;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal(0, 60);
  for (int covered = 0; covered <= 72; covered += 4)
    for (const bool both : {false, true}) {
      SmoothBench bench({72, 41});
      std::vector<std::int16_t> d(72 * 41);
      for (int i = 0; i < 72 * 41; ++i) {
        const bool on = i / 41 < covered && (!both || i % 41 < 20);
        d[static_cast<std::size_t>(i)] =
            static_cast<std::int16_t>(std::lround(normal(random) + (on ? 1500 : 0)));
      }
      EXPECT_NEAR(spread_of(bench, d) / 16.0, 60, 7) << covered << " rows";
    }
}

TEST(SharedDeparture, IsWhatMostNodesDepartBy) {
  SmoothBench bench({16, 10});
  std::vector<std::int16_t> d(160, 200);
  for (int r = 3; r < 9; ++r)
    for (int c = 2; c < 8; ++c) d[static_cast<std::size_t>(r * 10 + c)] = 3000;
  EXPECT_EQ(shared_departure({d.data(), d.size()},
                             {bench.row.view(), bench.col.view(), bench.sort.view()}, bench.shape),
            200);
}

TEST(NodeKnownAsBad, ReadsNothingOrAllInTheReferenceAndStandsAlone) {
  std::vector<std::uint16_t> reference(5 * 6, 20000);
  const auto bad = [&](int r, int c) {
    return mark_of({reference.data(), reference.size()}, {5, 6},
                   static_cast<std::size_t>(r * 6 + c), 16, 65519) == NodeMark::known_bad;
  };
  for (const int value : {0, 16, 65519, 65535}) {
    reference[2 * 6 + 3] = static_cast<std::uint16_t>(value);
    EXPECT_TRUE(bad(2, 3)) << value;
    EXPECT_FALSE(bad(2, 2));
  }
  reference[2 * 6 + 3] = 17;
  EXPECT_FALSE(bad(2, 3)) << "weak, but a reading";
  reference[2 * 6 + 3] = reference[1 * 6 + 2] = 0;
  EXPECT_FALSE(bad(2, 3)) << "another one beside it, across the corner";
  reference[1 * 6 + 2] = 20000;
  reference[0] = 0;
  EXPECT_TRUE(bad(0, 0)) << "a corner has three neighbours";
  reference[5] = reference[6] = 0;
  EXPECT_TRUE(bad(0, 5)) << "the next row's first node is none of its neighbours";
}

TEST(DepartureFromSmoothness, CannotSeeAFilmOverTheWholePanelAsDocumented) {
  SmoothBench bench({16, 10});
  std::vector<double> mean = smooth_panel({16, 10});
  const std::vector<std::int16_t> bare = bench.depart(mean);
  for (double& m : mean) m -= 3000;
  EXPECT_EQ(bench.depart(mean), bare);
}

}  // namespace
}  // namespace bareglass
