// What tells a kind from those that look like it.
#include "../../../lib/host/infer/src/scene_kind.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <string>

#include "../../../lib/host/infer/src/evidence_scene.hpp"
#include "../../../lib/host/infer/src/scene_spots.hpp"
#include "bareglass/advise/diagnose.hpp"
#include "bareglass/replay/replay.hpp"
#include "scene_data.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

constexpr Shape kShape{16, 20};

Map empty_map() { return Map(static_cast<std::size_t>(kShape.nodes()), 0.f); }
void add_drop(Map& map, int row, int col, float rise) {
  map[static_cast<std::size_t>(row * kShape.cols + col)] -= rise;
  for (const int step : {-1, 1}) {
    map[static_cast<std::size_t>((row + step) * kShape.cols + col)] += 0.2f * rise;
    map[static_cast<std::size_t>(row * kShape.cols + col + step)] += 0.2f * rise;
  }
}
SceneLook spots_of(const Map& map) {
  SceneLook look;
  find_spots(look, Grid{map, kShape}, 10.f);
  return look;
}

TEST(SpotsOfAMap, AreSeparateWhereTheirCrossingsAreBare) {
  Map map = empty_map();
  add_drop(map, 3, 4, 300);
  add_drop(map, 9, 13, 200);
  const SceneLook look = spots_of(map);
  EXPECT_EQ(look.spots, 2);
  EXPECT_EQ(look.separate_pairs, 1);
  EXPECT_EQ(look.joined_pairs, 0);
}

TEST(SpotsOfAMap, AreCornersOfOneBodyWhereTheirCrossingsShowSomething) {
  Map map = empty_map();
  add_drop(map, 3, 4, 300);
  add_drop(map, 9, 13, 200);
  map[3 * 20 + 13] = 120;
  map[9 * 20 + 4] = 120;
  const SceneLook look = spots_of(map);
  EXPECT_EQ(look.separate_pairs, 0);
  EXPECT_EQ(look.joined_pairs, 1);
}

TEST(SpotsOfAMap, SayNothingOfAPairWithOthersAtItsCrossings) {
  Map map = empty_map();
  add_drop(map, 3, 4, 300);
  add_drop(map, 9, 13, 200);
  add_drop(map, 3, 13, 250);
  add_drop(map, 9, 4, 250);
  const SceneLook look = spots_of(map);
  EXPECT_EQ(look.spots, 4);
  EXPECT_EQ(look.separate_pairs + look.joined_pairs, 0);
}

TEST(SpotsOfAMap, AreOneWhereTheGroundBetweenIsHalfAsHigh) {
  Map map = empty_map();
  for (int c = 4; c <= 8; ++c) map[5 * 20 + static_cast<std::size_t>(c)] = c % 4 ? -180.f : -300.f;
  EXPECT_EQ(spots_of(map).spots, 1);
  map[5 * 20 + 6] = -100.f;
  EXPECT_EQ(spots_of(map).spots, 2);
}

TEST(WhatOnlyFalls, IsEarthedOnlyFromAGoodPartOfAFingerOn) {
  SceneLook look;
  look.limit = 0.01;
  look.conductor = 0.004;  // 3 mm of glass
  look.area = 2;
  look.lowered = look.lowered_pair = 0.5;
  EXPECT_EQ(kind_of(look), Cause::touch_at_power_up);
  look.lowered = look.lowered_pair = 0.02;
  look.lowered_nodes = 1;  // the fringe of a touch stands out in one node, too
  EXPECT_EQ(kind_of(look), std::nullopt);
  look.lowered_nodes = 2;
  EXPECT_EQ(kind_of(look), Cause::isolated_film);
  look.conductor = 0.105;  // 1.1 mm: a patch would be seen to rise
  EXPECT_EQ(kind_of(look), Cause::touch_at_power_up);
}

/// A course of 30 windows with normal noise.
Episode course_of(const std::function<double(int)>& height, double sigma, std::size_t nodes) {
  Episode e;
  e.course_sigma = sigma;
  e.standing = nodes;
  PlainNoise noise(7);
  const double scatter = std::sqrt(2.0 * static_cast<double>(nodes)) * sigma * sigma;
  for (int k = 0; k < 30; ++k) {
    const double h = height(k);
    e.course.push_back(static_cast<float>(h + sigma * noise()));
    const double energy = h * h + scatter * noise() + 2 * h * sigma * noise();
    e.presence.push_back(static_cast<float>(std::sqrt(std::max(0.0, energy))));
    if (h > 0.4) e.until = static_cast<std::size_t>(k + 1);
  }
  return e;
}

TEST(WeakThing, DoesNotFadeForTheNoiseThatItsNodesShowOnceItIsGone) {
  const auto peeled = [](int k) { return k < 8 ? 1.0 : 0.0; };
  EXPECT_NE(going_of(course_of(peeled, 0.05, 900), false), Going::slowly);
  const auto shrinks = [](int k) { return std::clamp((28.0 - k) / 20.0, 0.0, 1.0); };
  EXPECT_EQ(going_of(course_of(shrinks, 0.05, 900), false), Going::slowly);
}

TEST(WeakThing, DoesNotFadeForALittleLessAtTheEndOfTheDump) {
  const auto lies = [](int k) { return k < 26 ? 1.0 : 0.85; };
  EXPECT_NE(going_of(course_of(lies, 0.04, 20), false), Going::slowly);
  const auto fades = [](int k) { return k < 18 ? 1.0 : 1.0 - (k - 18) / 16.0; };
  EXPECT_EQ(going_of(course_of(fades, 0.04, 20), false), Going::slowly);
}

TEST(WeakThing, IsSaidToGoAtOnceOnlyIfNoiseLeavesNoOtherChoice) {
  const auto peeled = [](int k) { return k < 15 ? 1.0 : 0.0; };
  EXPECT_EQ(going_of(course_of(peeled, 0.05, 20), true), Going::at_once);
  EXPECT_EQ(going_of(course_of(peeled, 0.30, 20), true), Going::unclear);
}

TEST(WeakFilm, IsBelievedToFadeSoonerThanALayerThatHardlyConducts) {
  const auto fades = [](int k) { return std::clamp((20.0 - k) / 8.0, 0.0, 1.0); };
  EXPECT_EQ(going_of(course_of(fades, 0.2, 20), true), Going::slowly);
  EXPECT_EQ(going_of(course_of(fades, 0.2, 20), false), Going::unclear);
}

// Two nodes side by side pass the limit together where neither stands out of its surroundings.
TEST(PlaceOfAThing, IsItsStrongestNodeWhereNoAreaStandsOut) {
  ScenePlan plan;
  const Account account = account_of(plan);
  const Reading reading(account);
  SceneFound found;
  found.cause = Cause::isolated_film;
  found.episode.until = 3;
  found.episode.presence.assign(3, 1.f);
  found.episode.map = empty_map();
  found.episode.map[7 * 20 + 12] = -40.f;
  found.episode.map[7 * 20 + 13] = 20.f;
  found.look.raised_box = found.look.lowered_box = {255, 0, 255, 0};
  for (const Cause cause : {Cause::isolated_film, Cause::wet_bezel}) {
    found.cause = cause;
    const Box box = weigh_scene(found, reading, account).box;
    EXPECT_EQ(box.row0, 7);
    EXPECT_EQ(box.row1, 7);
    EXPECT_EQ(box.col0, 12);
    EXPECT_EQ(box.col1, 12);
  }
}

/// Fluid in the gap of the upper bezel, all along row 0 and `reach_mm` beyond its middle.
Diagnosis band_on(const std::string& glass, double reach_mm, double from_s, double until_s) {
  panel::Scenario s = support::scenario_named("bare-glass");
  s.panel_path = BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_" + glass + ".toml";
  s.panel = field::load_panel(s.panel_path);
  s.factory_reference = true;
  s.duration_s = 4.5;
  panel::ThingSpec band;
  band.name = band.shape = "band";
  band.outline = panel::Outline::rectangle(70, 12 + reach_mm);
  band.place = {22.5, reach_mm / 2 - 6};
  band.device_pf = panel::kConnected;
  s.things = {band};
  panel::Event put;
  put.at_s = from_s;
  put.word = "put";
  panel::Event lift = put;
  lift.at_s = until_s;
  lift.action = panel::Action::lift;
  lift.word = "lift";
  s.events = {put, lift};
  support::RecordListReader reader(support::records_of(s));
  return diagnose(replay(reader, "generated", {}));
}

TEST(FluidAlongABezel, IsNoWornTailIfItReachesTheSecondLine) {
  for (const char* glass : {"2_0", "3_0"})
    EXPECT_EQ(band_on(glass, 3.9, 0, 9).causes.front().cause, Cause::wet_bezel) << glass;
}

TEST(FluidAlongABezel, IsNoBadContactIfItComesAndGoesAtOnce) {
  EXPECT_EQ(band_on("0_7", 2.0, 1.0, 3.6).causes.front().cause, Cause::wet_bezel);
}

}  // namespace
}  // namespace bareglass::host
