// The limits by which kinds are told, computed anew on the simulated panel under all four glasses.
#include "../../../lib/host/infer/src/scene_limits.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string>
#include <vector>

#include "../../../lib/host/infer/src/scene_spots.hpp"
#include "bareglass/panel/player.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

using namespace scene_limits;

constexpr int kLines = 15;
constexpr Shape kShape{kLines, kLines};
constexpr double kPitch_mm = 5;
/// Of a finger: what the noise of a dump hides under thick glass.
constexpr float kFaint = 0.01f;
/// Those of kFingerShare.
const char* const kGlass[] = {"3_0", "2_0", "1_1", "0_7"};

panel::ThingSpec thing(panel::OutlinePtr outline, const char* shape, field::Point place) {
  panel::ThingSpec t;
  t.name = "thing";
  t.outline = std::move(outline);
  t.shape = shape;
  t.place = place;
  return t;
}
panel::ThingSpec disc(double mm, field::Point place) {
  return thing(panel::Outline::disc(mm), "disc", place);
}
panel::ThingSpec patch(double w, double h, field::Point place) {
  return thing(panel::Outline::rectangle(w, h), "patch", place);
}
panel::ThingSpec stroke(std::vector<field::Point> path, double wide, field::Point place) {
  return thing(panel::Outline::stroke(std::move(path), wide), "stroke", place);
}
panel::ThingSpec layer(double um, double permittivity) {
  panel::ThingSpec t = thing(panel::Outline::rectangle(40, 40), "rectangle", {35, 35});
  t.is_film = true;
  t.film_um = um;
  t.permittivity = permittivity;
  return t;
}

/// Parameter: which of the glasses of kFingerShare.
class KindLimits : public ::testing::TestWithParam<std::size_t> {
 protected:
  void SetUp() override {
    scenario_ = support::scenario_named("bare-glass");
    scenario_.panel_path = BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_" +
                           std::string(kGlass[GetParam()]) + ".toml";
    scenario_.panel = field::load_panel(scenario_.panel_path);
    scenario_.setup.rows = scenario_.setup.columns = kLines;
    scenario_.setup.front_end.noise_ff = scenario_.setup.front_end.spread_ff = 0;
    panel::ThingSpec finger = disc(8, {35, 35});
    finger.earth_pf = 150;
    finger_ = taken(finger)[7 * kLines + 7];
  }

  /// Counts that `t` takes from each node.
  Map taken(const panel::ThingSpec& t) {
    scenario_.things = {t};
    panel::Event put;
    put.at_s = 0.5;
    put.word = "put";
    scenario_.events = {put};
    panel::SimulatedPanel simulated(
        scenario_.panel, panel::kernels_of(scenario_.panel, scenario_.panel_path), scenario_.setup);
    panel::Timeline timeline(scenario_);
    std::vector<std::uint16_t> before;
    std::vector<std::uint16_t> after;
    simulated.scan(before, timeline.at(0.1), 100000);
    simulated.scan(after, timeline.at(0.8), 800000);
    bare_ = before[7 * kLines + 7];
    Map map;
    for (std::size_t i = 0; i < before.size(); ++i)
      map.push_back(static_cast<float>(before[i]) - static_cast<float>(after[i]));
    return map;
  }

  double lowered(const Map& map) const {
    return static_cast<double>(*std::max_element(map.begin(), map.end()) / finger_);
  }
  double raised(const Map& map) const {
    return static_cast<double>(-*std::min_element(map.begin(), map.end()) / finger_);
  }
  double share() const { return static_cast<double>(finger_ / bare_); }
  double patch_rise() const { return kPatch[GetParam()]; }

  SceneLook spots_of(const Map& map) const {
    SceneLook look;
    find_spots(look, Grid{map, kShape}, kFaint * finger_);
    return look;
  }

  panel::Scenario scenario_;
  float finger_ = 1;
  float bare_ = 1;
};

// Over and between nodes: where a thing lies decides what it shows.
const field::Point kPlaces[] = {{35, 35}, {37.5, 35}, {35, 37.5}, {37.5, 37.5}, {36.2, 33.7}};

TEST_P(KindLimits, ClosedPatchRisesByItsShareOfAFinger) {
  const Map map = taken(patch(100, 100, {35, 35}));
  const auto middle = static_cast<double>(-map[7 * kLines + 7] / finger_);
  EXPECT_NEAR(share(), kFingerShare[GetParam()], 0.03 * kFingerShare[GetParam()]);
  // An isolated conductor's rise is a difference of large terms: the simulated panel has it within
  // some 1.3 fF of the field solution.
  EXPECT_NEAR(middle, patch_rise(), 0.015);
}

TEST_P(KindLimits, PatchesAndDropsStayBelowTheLimitsOfAStreak) {
  for (const field::Point place : kPlaces)
    for (const double mm : {6.0, 11.0, 14.0, 20.0, 30.0, 45.0}) {
      const Map round = taken(disc(mm, place));
      EXPECT_LT(raised(round), patch_rise() + kStreakOverPatch) << mm << " mm";
      EXPECT_LT(lowered(round), kStreakLowered) << mm << " mm";
      if (mm < 13) continue;
      const Map square = taken(patch(mm, mm, place));
      EXPECT_LT(raised(square), patch_rise() + kStreakOverPatch) << mm << " mm";
      EXPECT_LT(lowered(square), kStreakLowered) << mm << " mm";
    }
}

TEST_P(KindLimits, StreaksPassThem) {
  for (const double mm : {20.0, 30.0, 40.0}) {
    const double a = mm / 2;
    const Map diagonal = taken(stroke({{-a, -a}, {a, a}}, 4.5, {36, 34}));
    const Map corner = taken(stroke({{a, -a}, {-a, -a}, {-a, a}}, 4.5, {36, 34}));
    for (const Map& map : {diagonal, corner}) {
      const bool over = raised(map) > patch_rise() + kStreakOverPatch;
      const bool both = lowered(map) > kStreakLowered && raised(map) > kBothSigns * lowered(map);
      EXPECT_TRUE(over || both) << mm << " mm: " << lowered(map) << " " << raised(map);
    }
  }
}

TEST_P(KindLimits, DropsRiseByTheirShareAndAreNarrow) {
  double least = 1;
  int seen = 0;
  for (const field::Point place : kPlaces)
    for (const double mm : {6.0, 8.5, 11.0}) {
      const Map map = taken(disc(mm, place));
      if (raised(map) < 1.5 * static_cast<double>(kFaint)) continue;
      ++seen;
      const SceneLook look = spots_of(map);
      EXPECT_EQ(look.spots, 1) << mm << " mm at " << place.x << " " << place.y;
      EXPECT_EQ(look.wide_spots, 0) << mm << " mm at " << place.x << " " << place.y;
      EXPECT_LT(look.beside_spots, kBesideDrops) << mm << " mm";
      least = std::min(least, look.spots_rise);
    }
  EXPECT_GT(seen, 6);
  EXPECT_GT(least, kDropRises[GetParam()]);
  EXPECT_LT(least, kDropRises[GetParam()] + 0.2) << "the limit is needlessly low";
}

// Over a node two lines away are bare, between nodes the strongest one is half a line off the
// middle.
TEST_P(KindLimits, LittleShowsBesideADropWhereTheCrossingsAreLookedAt) {
  for (const field::Point place : kPlaces)
    for (const double mm : {6.0, 8.5, 11.0}) {
      const Map map = taken(disc(mm, place));
      if (raised(map) < 1.5 * static_cast<double>(kFaint)) continue;
      const auto top = static_cast<int>(std::min_element(map.begin(), map.end()) - map.begin());
      const double limit = kCrossing * raised(map);
      const bool over = std::hypot(place.x - 35, place.y - 35) < 1;
      const int lines = over ? kCrossingApart : kCrossingApart + 1;
      for (const int beside : {lines, -lines}) {
        const auto along = static_cast<double>(map[static_cast<std::size_t>(top + beside)]);
        const auto across =
            static_cast<double>(map[static_cast<std::size_t>(top + beside * kLines)]);
        EXPECT_LT(std::abs(along) / static_cast<double>(finger_), limit) << mm << " " << place.x;
        EXPECT_LT(std::abs(across) / static_cast<double>(finger_), limit) << mm << " " << place.x;
      }
    }
}

TEST_P(KindLimits, CornersOfAPatchShowAtTheirCrossings) {
  for (const field::Point place : kPlaces)
    for (const double mm : {20.0, 28.0, 40.0}) {
      for (const Map& map : {taken(disc(mm, place)), taken(patch(mm, 0.8 * mm, place))}) {
        const SceneLook look = spots_of(map);
        const bool separate = look.separate_pairs > look.joined_pairs;
        const bool clearly = look.separate_pairs == look.joined_pairs &&
                             look.beside_spots < kBesideDrops &&
                             lowered(map) < kDropRim * raised(map) &&
                             raised(map) > kClearly * static_cast<double>(kFaint) &&
                             look.spots_rise > kDropRisesClearly[GetParam()];
        const bool as_drops = look.spots >= 2 && look.wide_spots == 0 &&
                              look.spots_rise > kDropRises[GetParam()] && (separate || clearly);
        EXPECT_FALSE(as_drops) << mm << " mm at " << place.x << " " << place.y << ": "
                               << look.spots_rise << " " << look.separate_pairs << " "
                               << look.joined_pairs << " " << look.beside_spots;
      }
    }
}

TEST_P(KindLimits, FluidAtTheBezelIsShallowAndAFilmIsNot) {
  const auto depth = [&](double reach) {
    panel::ThingSpec band = patch(60, 12 + reach, {35, reach / 2 - 6});
    band.device_pf = panel::kConnected;
    const Map map = taken(band);
    std::vector<double> sums(4, 0.0);
    for (std::size_t r = 0; r < sums.size(); ++r)
      for (std::size_t c = 0; c < kLines; ++c)
        sums[r] += std::max(0.0, static_cast<double>(map[r * kLines + c]));
    return std::accumulate(sums.begin(), sums.end(), 0.0) / sums[0];
  };
  for (const double reach : {0.5, 2.0, 4.0}) EXPECT_LT(depth(reach), kBandDepth) << reach << " mm";
  EXPECT_GT(depth(1.5 * kPitch_mm), kBandDepth);
}

// Each layer is a field solution of its own, so one glass must do.
class LayerLimits : public KindLimits {};
TEST_P(LayerLimits, LayersRiseByTheirSharesOfAClosedPatch) {
  const auto rise = [&](double um, double permittivity) {
    const auto middle = static_cast<double>(-taken(layer(um, permittivity))[7 * kLines + 7]);
    return middle / static_cast<double>(finger_) / patch_rise();
  };
  const double label = rise(500, 3.0);
  EXPECT_LT(label, kMostDry);
  EXPECT_GT(label, 0.8 * kMostDry);
  const double residue = rise(200, 40);
  EXPECT_LT(residue, kMostDielectric);
  EXPECT_GT(residue, 0.8 * kMostDielectric);
}

TEST_P(KindLimits, WhatIsEarthedTakesMoreThanTheLeast) {
  for (const field::Point place : kPlaces) {
    panel::ThingSpec finger = disc(6.5, place);
    finger.earth_pf = 100;
    EXPECT_GT(lowered(taken(finger)), 2 * kLeastGrounded);
  }
}

INSTANTIATE_TEST_SUITE_P(OnePointOneMillimetres, LayerLimits, ::testing::Values<std::size_t>(2),
                         [](const auto& one) { return "Glass" + std::string(kGlass[one.param]); });
INSTANTIATE_TEST_SUITE_P(OfAllGlasses, KindLimits, ::testing::Range<std::size_t>(0, 4),
                         [](const auto& one) { return "Glass" + std::string(kGlass[one.param]); });

}  // namespace
}  // namespace bareglass::host
