// What lay on the glass, told from hand-made surveys.
#include "../../../lib/host/infer/src/scene.hpp"

#include <gtest/gtest.h>

#include <algorithm>

#include "../../../lib/host/infer/src/scene_story.hpp"
#include "bareglass/advise/diagnose.hpp"
#include "scene_data.hpp"

namespace bareglass::host {
namespace {

// Two-sided 0.0001 of the normal distribution: 3.8906; Student's t with 60 degrees of
// freedom: 4.169 (Abramowitz & Stegun, tables 26.5 and 26.10, from memory).
TEST(NoiseLimit, IsTheQuantileOfNormalAndStudentDistributions) {
  EXPECT_NEAR(noise_limit(1), 3.89, 0.09);
  EXPECT_NEAR(noise_limit(1, 60), 4.17, 0.09);
  // 1000 looks: two-sided 1e-7, 5.3267.
  EXPECT_NEAR(noise_limit(1000), 5.33, 0.05);
}

TEST(NoiseOfAPanel, PassesTheLimitNoMoreOftenThanStated) {
  int passed = 0;
  for (unsigned seed = 1; seed <= 200; ++seed) {
    ScenePlan plan;
    plan.seed = seed;
    plan.reference = seed % 2 == 0;
    const Account a = account_of(plan);
    const Reading reading(a);
    passed += !find_scene(reading, a).empty();
  }
  EXPECT_EQ(passed, 0) << "one in 10,000 is stated";
}

TEST(SmoothPanel, KeepsItsLevelUnderAFilmOverAThirdOfASmallPanel) {
  ScenePlan plan;
  plan.shape = {9, 14};
  plan.reference = false;
  plan.lost = [](int, int r, int c) { return r >= 3 && r <= 6 && c <= 7 ? 1500.0 : 0.0; };
  const Account a = account_of(plan);
  const std::vector<float>& level = a.survey.windows[0].mean;
  double sigma = 0;
  double freedom = 0;
  const Map bare = smooth_panel(sigma, freedom, level, std::vector<char>(126, 0), plan.shape);
  EXPECT_NEAR(sigma, plan.spread, 0.3 * plan.spread);
  for (int r = 0; r < 9; ++r)
    for (int c = 0; c < 14; ++c)
      EXPECT_NEAR(bare[static_cast<std::size_t>(r * 14 + c)], plan.level, 2.5 * plan.spread)
          << r << ", " << c;
}

TEST(SmoothPanel, FollowsLossAlongTheLinesOfALargePanel) {
  ScenePlan plan;
  plan.shape = {40, 30};
  plan.reference = false;
  // A third is lost along the rows and a quarter along the columns, not quite as a product.
  plan.settled = [](int r, int c) {
    const double x = c / 29.0;
    const double y = r / 39.0;
    return 1.0 - 0.35 * x - 0.25 * y + 0.12 * x * y;
  };
  const Account a = account_of(plan);
  const Reading reading(a);
  const std::vector<SceneFound> found = find_scene(reading, a);
  EXPECT_TRUE(found.empty()) << name_of(found[0].cause) << ", raised " << found[0].look.raised
                             << ", lowered " << found[0].look.lowered << ", limit "
                             << found[0].look.limit;
}

class ThingInTheMiddleOfADump : public ::testing::TestWithParam<bool> {
 protected:
  Account account(int from, int until, double counts) const {
    ScenePlan plan;
    plan.reference = GetParam();
    plan.lost = [=](int k, int r, int c) {
      return k >= from && k < until && r >= 5 && r <= 9 && c >= 6 && c <= 12 ? counts : 0.0;
    };
    return account_of(plan);
  }
};

TEST_P(ThingInTheMiddleOfADump, IsFoundWhereAndWhenItLay) {
  const Account a = account(5, 15, 1800);
  const Reading reading(a);
  const std::vector<SceneFound> found = find_scene(reading, a);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].cause, Cause::grounded_film);
  EXPECT_EQ(found[0].episode.from, 5u);
  EXPECT_EQ(found[0].episode.until, 15u);
  const Box& box = found[0].look.lowered_box;
  EXPECT_EQ(box.row0, 5);
  EXPECT_EQ(box.row1, 9);
  EXPECT_EQ(box.col0, 6);
  EXPECT_EQ(box.col1, 12);
}

TEST_P(ThingInTheMiddleOfADump, IsATouchInUseIfItStaysForLessThanTwoSeconds) {
  const Account a = account(5, 9, 1800);
  const Reading reading(a);
  EXPECT_TRUE(find_scene(reading, a).empty());
}

INSTANTIATE_TEST_SUITE_P(Reference, ThingInTheMiddleOfADump, ::testing::Bool(),
                         [](const auto& one) { return one.param ? "given" : "none"; });

struct Shaped {
  const char* name;
  Cause cause;
  std::function<double(int, int)> lost;
};

void PrintTo(const Shaped& s, std::ostream* out) { *out << s.name; }

class MapOfOneThing : public ::testing::TestWithParam<Shaped> {};

TEST_P(MapOfOneThing, TellsItsKind) {
  ScenePlan plan;
  plan.finger = 3070;  // 0.1535 of the bare reading: 1.1 mm of glass
  plan.lost = [](int, int r, int c) { return GetParam().lost(r, c); };
  const Account a = account_of(plan);
  const Reading reading(a);
  const std::vector<SceneFound> found = find_scene(reading, a);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].cause, GetParam().cause) << name_of(found[0].cause);
}

constexpr Shape kShape{16, 20};
constexpr double kLoss = 3150;
bool in(int r, int c, int r0, int r1, int c0, int c1) {
  return r >= r0 && r <= r1 && c >= c0 && c <= c1;
}
// A drop of 8 mm: middle and rim of the field solution, 49.2 fF up and 9.5 fF down of 175 fF.
double drop(int r, int c, int row, int col) {
  const int away = std::abs(r - row) + std::abs(c - col);
  return away == 0 ? -860.0 : away == 1 ? 165.0 : 0.0;
}

INSTANTIATE_TEST_SUITE_P(
    Kinds, MapOfOneThing,
    ::testing::Values(
        Shaped{"finger", Cause::touch_at_power_up,
               [](int r, int c) {
                 const int away = std::abs(r - 7) + std::abs(c - 9);
                 return away == 0 ? 3000.0 : away == 1 ? 1060.0 : away == 2 ? 300.0 : 0.0;
               }},
        Shaped{"grounded", Cause::grounded_film,
               [](int r, int c) { return in(r, c, 4, 10, 3, 12) ? kLoss : 0.0; }},
        Shaped{"bezel", Cause::wet_bezel,
               [](int r, int c) {
                 return c < 4 || c > 13 ? 0.0 : r == 0 ? kLoss : r == 1 ? 0.3 * kLoss : 0.0;
               }},
        Shaped{"patch", Cause::isolated_film,
               isolated(kShape, kLoss, [](int r, int c) { return in(r, c, 5, 9, 6, 11); })},
        Shaped{"disc", Cause::isolated_film,
               isolated(kShape, kLoss,
                        [](int r, int c) { return (r - 7) * (r - 7) + (c - 9) * (c - 9) <= 5; })},
        Shaped{
            "diagonal", Cause::isolated_streak,
            isolated(kShape, kLoss, [](int r, int c) { return r >= 4 && r <= 9 && c == r + 3; })},
        Shaped{"corner", Cause::isolated_streak,
               isolated(kShape, kLoss,
                        [](int r, int c) { return in(r, c, 4, 4, 5, 9) || in(r, c, 4, 9, 5, 5); })},
        Shaped{
            "drops", Cause::drops,
            [](int r, int c) { return drop(r, c, 3, 4) + drop(r, c, 8, 13) + drop(r, c, 12, 5); }},
        Shaped{"residue", Cause::residue,
               [](int r, int c) {
                 return (r - 8) * (r - 8) + (c - 9) * (c - 9) <= 12 ? -120.0 : 0.0;
               }},
        Shaped{"label", Cause::dry_film,
               [](int r, int c) { return in(r, c, 4, 11, 5, 14) ? -30.0 : 0.0; }}),
    [](const auto& one) { return one.param.name; });

TEST(ThinLayer, SaysBothNamesWhereTheAmountLeavesTheChoice) {
  for (const double counts : {30.0, 120.0}) {
    ScenePlan plan;
    plan.finger = 3070;
    plan.lost = [=](int, int r, int c) { return in(r, c, 4, 11, 5, 14) ? -counts : 0.0; };
    const Account a = account_of(plan);
    const Reading reading(a);
    const std::vector<SceneFound> found = find_scene(reading, a);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0].or_else.has_value(), counts == 30.0)
        << "no dry layer reaches 4 % of a finger on 1.1 mm of glass";
  }
}

TEST(FilmThatFades, IsDryingAndFilmThatIsPeeledIsNot) {
  for (const bool fades : {true, false}) {
    ScenePlan plan;
    plan.windows = 40;
    const auto film = isolated(kShape, kLoss, [](int r, int c) { return in(r, c, 5, 9, 6, 11); });
    plan.lost = [=](int k, int r, int c) {
      const double left = fades ? std::clamp((30.0 - k) / 20.0, 0.0, 1.0) : k < 20 ? 1.0 : 0.0;
      return left * film(r, c);
    };
    const Account a = account_of(plan);
    const Reading reading(a);
    const std::vector<SceneFound> found = find_scene(reading, a);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0].cause, fades ? Cause::drying_film : Cause::isolated_film);
  }
}

// A finger on a label grounds all of it for a while; what was there before and is there afterwards
// has not been taken away.
TEST(FilmThatIsTouched, EndsOnlyIfItIsGoneWhenTheFingerIs) {
  for (const bool stays : {true, false}) {
    ScenePlan plan;
    plan.windows = 25;
    const auto film = isolated(kShape, kLoss, [](int r, int c) { return in(r, c, 5, 9, 6, 11); });
    plan.lost = [=](int k, int r, int c) {
      if (k >= 12 && k < 18) return in(r, c, 5, 9, 6, 11) ? 2300.0 : 0.0;
      return k < 12 || stays ? film(r, c) : 0.0;
    };
    const Account a = account_of(plan);
    const Diagnosis d = diagnose(a);
    EXPECT_EQ(d.causes.front().cause, Cause::isolated_film);
    EXPECT_EQ(d.causes.front().ended, !stays);
  }
}

TEST(LayerOverHalfOfThePanel, IsARiseAndNotAFallOfTheRest) {
  ScenePlan plan;
  plan.lost = [](int, int, int c) { return c < 11 ? -12.0 : 0.0; };
  const Account a = account_of(plan);
  const Reading reading(a);
  const std::vector<SceneFound> found = find_scene(reading, a);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_TRUE(found[0].cause == Cause::dry_film || found[0].cause == Cause::residue)
      << name_of(found[0].cause);
  EXPECT_GE(found[0].look.raised_box.width(), 10);
}

// Without a reference a thing that goes away and one that comes make the same change.
TEST(FilmLiftedWithoutReference, LayThereBeforeAndNotAfterwards) {
  ScenePlan plan;
  plan.reference = false;
  plan.lost = [](int k, int r, int c) { return k < 9 && in(r, c, 4, 9, 3, 12) ? 2000.0 : 0.0; };
  const Account a = account_of(plan);
  const Reading reading(a);
  const std::vector<SceneFound> found = find_scene(reading, a);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].cause, Cause::grounded_film);
  EXPECT_EQ(found[0].episode.from, 0u);
  EXPECT_EQ(found[0].episode.until, 9u);
  EXPECT_FALSE(found[0].episode.either_sign);
}

TEST(TouchesOneAfterTheOther, AreNoThing) {
  ScenePlan plan;
  plan.windows = 12;
  plan.lost = [](int k, int r, int c) {
    if (k >= 4 && k < 7 && std::abs(r - 4) + std::abs(c - 4) <= 1) return 2000.0;
    if (k >= 6 && k < 9 && std::abs(r - 10) + std::abs(c - 12) <= 1) return 2000.0;
    if (k >= 8 && k < 11 && std::abs(r - 4) + std::abs(c - 15) <= 1) return 2000.0;
    return 0.0;
  };
  for (const bool reference : {true, false}) {
    plan.reference = reference;
    const Account a = account_of(plan);
    const Reading reading(a);
    EXPECT_TRUE(find_scene(reading, a).empty()) << "reference " << reference;
  }
}

TEST(ThingThatMoves, IsToldByRestlessNodesAndByItsNewPlace) {
  ScenePlan plan;
  plan.lost = [](int k, int r, int c) {
    return k < 6 && std::abs(r - 6) + std::abs(c - 3 - 2 * k) <= 1 ? 1500.0 : 0.0;
  };
  Account a = account_of(plan);
  EXPECT_FALSE(moves_at_power_up(Reading(a), a)) << "no node was restless: two touches";
  for (int c = 2; c <= 6; ++c)
    a.survey.windows[0].noise[static_cast<std::size_t>(6 * 20 + c)] = 300;
  EXPECT_TRUE(moves_at_power_up(Reading(a), a));
  a.kind = DumpKind::raw_midway;
  EXPECT_FALSE(moves_at_power_up(Reading(a), a)) << "nobody saw the power-up";
}

}  // namespace
}  // namespace bareglass::host
