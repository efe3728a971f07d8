// Large conductors by the fast model beside an independent solution, and what must hold whatever
// the numbers. The reference: an independent three-dimensional finite-volume solution of the
// reference panel, about 1 % against closed forms.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <map>
#include <string>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/surface_model.hpp"

namespace bareglass::field {
namespace {

constexpr int kMiddle = 20;
constexpr double kPitch = 5.0;
constexpr LineRange kLines{2 * kMiddle + 1, 2 * kMiddle + 1};

const SurfaceModel& on(const std::string& glass) {
  static std::map<std::string, SurfaceModel> models;
  const auto found = models.find(glass);
  if (found != models.end()) return found->second;
  return models
      .emplace(glass, SurfaceModel(load_kernels(std::string(BAREGLASS_SOURCE_DIR) +
                                                "/fixtures/panels/bars_and_stripes_" + glass +
                                                ".kernels")))
      .first->second;
}

Coupling couple(const std::string& glass, const Footprint& about_middle) {
  return on(glass).couple(about_middle.moved({kMiddle * kPitch, kMiddle * kPitch}), kLines);
}

double change(const Coupling& c, int row, int column, double to_ground) {
  return c.change(kMiddle + row, kMiddle + column, to_ground);
}

/// 3 % above 10 fF, 1 fF below.
double bound(double reference) { return std::max(0.03 * std::abs(reference), 1.0); }

TEST(SquareOf30mm, LosesWhatTheReferenceSaysAndAsMuchAtItsEdgeAsASmallerOne) {
  constexpr std::array<std::array<double, 4>, 4> kGrounded{{{-178.9, -178.9, -178.8, -123.6},
                                                            {-178.9, -178.9, -178.8, -123.6},
                                                            {-178.8, -178.7, -178.5, -122.9},
                                                            {-114.7, -114.6, -114.3, -75.7}}};
  const Coupling c = couple("1_1", Footprint::rectangle({0, 0}, 30, 30));
  for (std::size_t r = 0; r < 4; ++r)
    for (std::size_t n = 0; n < 4; ++n)
      EXPECT_NEAR(change(c, static_cast<int>(r), static_cast<int>(n), INFINITY), kGrounded[r][n],
                  bound(kGrounded[r][n]))
          << r << ' ' << n;
  EXPECT_NEAR(c.self / 36800.0, 1.0, 0.01);
  const Coupling smaller = couple("1_1", Footprint::rectangle({0, 0}, 20, 20));
  EXPECT_NEAR(change(smaller, 0, 2, INFINITY), -123.1, bound(123.1));
}

// An isolated body's change is a difference of terms of 180 to 200 fF: 1 % of either.
TEST(SquareOf30mm, IsolatedRisesEvenlyInside) {
  constexpr std::array<std::array<double, 4>, 4> kIsolated{{{17.2, 17.2, 17.1, 13.6},
                                                            {17.2, 17.2, 17.1, 13.6},
                                                            {17.0, 17.0, 17.0, 14.1},
                                                            {9.1, 9.1, 9.3, 10.9}}};
  const Coupling c = couple("1_1", Footprint::rectangle({0, 0}, 30, 30));
  for (std::size_t r = 0; r < 4; ++r)
    for (std::size_t n = 0; n < 4; ++n)
      EXPECT_NEAR(change(c, static_cast<int>(r), static_cast<int>(n), 0.0), kIsolated[r][n], 2.0)
          << r << ' ' << n;
}

// Where the reference's grid has drawn the strip's long edges is not known; what lies within them
// does not depend on it.
TEST(StripOf40By19mm, IsOnItsOwnRowsAsTheReferenceSays) {
  constexpr std::array<std::array<double, 4>, 2> kIsolated{
      {{17.6, 17.5, 17.5, 17.4}, {17.4, 17.4, 17.4, 17.3}}};
  const Coupling c = couple("1_1", Footprint::rectangle({0, 0}, 40, 19));
  for (std::size_t r = 0; r < 2; ++r)
    for (std::size_t n = 0; n < 4; ++n) {
      EXPECT_NEAR(change(c, static_cast<int>(r), static_cast<int>(n), INFINITY), -178.8,
                  0.01 * 178.8);
      EXPECT_NEAR(change(c, static_cast<int>(r), static_cast<int>(n), 0.0), kIsolated[r][n], 1.7);
    }
  EXPECT_NEAR(c.self / 31000.0, 1.0, 0.03);
}

TEST(BodiesOfAnySize, LoseInsideWhatAFullCoverTakes) {
  for (const char* glass : {"0_7", "1_1", "2_0", "3_0"}) {
    const double full = on(glass).kernels().numbers.full_loss;
    for (const double side : {32.0, 45.0, 70.0, 150.0}) {
      const Coupling c = couple(glass, Footprint::rectangle({0, 0}, side, side));
      EXPECT_NEAR(change(c, 0, 0, INFINITY) / -full, 1.0, 0.02) << glass << ' ' << side;
    }
  }
}

TEST(BodiesOfAnySize, CoupleWholeLinesPerCrossing) {
  // A row's charge on each further crossing is that on a cover: two lengths tell it.
  const double q = on("1_1").kernels().numbers.cover_per_mm2;
  const Coupling a = couple("1_1", Footprint::rectangle({0, 0}, 30, 30));
  const Coupling b = couple("1_1", Footprint::rectangle({0, 0}, 40, 30));
  const double per_crossing =
      0.5 * (b.to_row(kMiddle - b.first_row) - a.to_row(kMiddle - a.first_row));
  double cover = 0.0;
  for (const Separable& term : on("1_1").kernels().q_row.terms) {
    double x = 0.0;
    double y = 0.0;
    for (const double bin : term.x.bins) x += 2.0 * bin * term.x.step_mm;
    for (const double bin : term.y.bins) y += 2.0 * bin * term.y.step_mm;
    cover += x * y;
  }
  EXPECT_NEAR(per_crossing / cover, 1.0, 0.01);
  // 0.91 mm beyond either edge count as covered on 1.1 mm glass: the independent solution's
  // allowance.
  EXPECT_NEAR((b.self - a.self) / ((300.0 + 20.0 * 0.91) * q), 1.0, 0.01);
}

TEST(NeighboursOfADisc, AreAsTheReferenceSays) {
  const Coupling c = couple("1_1", Footprint::disc({0, 0}, 8));
  EXPECT_NEAR(change(c, 0, 1, INFINITY), -62.3, bound(62.3));
  EXPECT_NEAR(change(c, 0, 1, 0.0), -9.5, 1.0);
  EXPECT_NEAR(change(c, 0, 2, INFINITY), -3.2, 1.0);
  const Coupling thin = couple("0_7", Footprint::disc({0, 0}, 8));
  EXPECT_NEAR(change(thin, 0, 1, INFINITY), -63.9, bound(63.9));
}

// Reciprocity of what a patch model neglects: a thing and the same thing turned on its head.
TEST(LargeBody, IsTheSameSeenFromEitherSide) {
  const Coupling c = couple("2_0", Footprint::rectangle({0, 0}, 26, 34));
  for (int r = 0; r < 5; ++r)
    for (int n = 0; n < 4; ++n)
      EXPECT_NEAR(change(c, r, n, 0.0), change(c, -r, -n, 0.0), 0.1) << r << ' ' << n;
}

}  // namespace
}  // namespace bareglass::field
