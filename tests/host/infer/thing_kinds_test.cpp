// Names of bodies by the densities of their sizes and ways to earth: no step between kinds.
#include "../../../lib/host/infer/src/thing_kinds.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "../../../lib/host/infer/src/scene_reader.hpp"

namespace bareglass::host {
namespace {

constexpr double kPerson_pf = 150;
constexpr double kEarthed_pf = std::numeric_limits<double>::infinity();

ThingShape disc(double mm) {
  ThingShape s;
  s.diameter_mm = mm;
  s.area_mm2 = 0.785 * mm * mm;
  s.closed = 0.8;
  return s;
}

/// C_FF of a disc on 1.1 mm of glass, pF: 36.5 fF/mm^2 over its area grown by 0.9 mm.
double self_pf(double mm) { return 0.0365 * 0.785 * (mm + 1.8) * (mm + 1.8); }

double share(const std::vector<KindShare>& kinds, Cause cause) {
  for (const KindShare& k : kinds)
    if (k.cause == cause) return k.share;
  return 0;
}

std::vector<KindShare> kinds(double mm, double earth_pf) {
  return kinds_of_body(disc(mm), earth_pf, self_pf(mm));
}

TEST(KindsOfABody, AreFingerDropAndFilmWhereNoOtherIsAsLarge) {
  EXPECT_EQ(kinds(9, kPerson_pf).front().cause, Cause::touch_at_power_up);
  EXPECT_EQ(kinds(9, kEarthed_pf).front().cause, Cause::touch_at_power_up);
  EXPECT_EQ(kinds(60, kEarthed_pf).front().cause, Cause::grounded_film);
  EXPECT_EQ(kinds(8, 0).front().cause, Cause::drops);
  EXPECT_EQ(kinds(30, 0).front().cause, Cause::isolated_film);
}

TEST(KindsOfABody, AreNeverSureBetweenFingerAndFilm) {
  const auto between = kinds(16, kEarthed_pf);
  EXPECT_GT(share(between, Cause::touch_at_power_up), 0.1);
  EXPECT_GT(share(between, Cause::grounded_film), 0.1);
}

// What would be a limit: a millimetre more changes no share by much.
TEST(KindsOfABody, ChangeGraduallyWithSizeAndWayToEarth) {
  for (const double earth_pf : {0.0, 3.0, 30.0, kPerson_pf, kEarthed_pf})
    for (double mm = 4; mm < 120; mm += 0.5) {
      const auto now = kinds(mm, earth_pf);
      const auto next = kinds(mm + 0.5, earth_pf);
      for (const Cause c :
           {Cause::touch_at_power_up, Cause::grounded_film, Cause::drops, Cause::isolated_film})
        EXPECT_NEAR(share(now, c), share(next, c), 0.2) << mm << " mm, " << earth_pf << " pF";
    }
}

TEST(KindsOfABody, AreOfABezelWhereItIsLongAndShallowThere) {
  ThingShape band = disc(20);
  band.border_mm = 60;
  band.depth_mm = 4;
  EXPECT_EQ(kinds_of_body(band, kEarthed_pf, 10).front().cause, Cause::wet_bezel);
  ThingShape finger = disc(9);
  finger.border_mm = 8;
  finger.depth_mm = 8;
  EXPECT_EQ(kinds_of_body(finger, kEarthed_pf, 4).front().cause, Cause::touch_at_power_up);
}

TEST(KindsOfABody, AreAStreakWhereItsOutlineIsOpen) {
  ThingShape open = disc(16);
  open.closed = 0.25;
  EXPECT_EQ(kinds_of_body(open, 0, 8).front().cause, Cause::isolated_streak);
}

// A spray of drops fits no better as one streak because its rows and columns cross elsewhere.
TEST(KindsOfABody, AreDropsRatherThanAStreakWhereItLiesAboutInPieces) {
  ThingShape pieces = disc(8);
  pieces.closed = 0.12;
  pieces.scatter = 20;
  const auto kinds = kinds_of_body(pieces, 0, 4);
  EXPECT_EQ(kinds.front().cause, Cause::drops);
  EXPECT_GT(share(kinds, Cause::isolated_film), 0.1) << "a crumpled note does that, too";
  pieces.scatter = 2;
  EXPECT_EQ(kinds_of_body(pieces, 0, 4).front().cause, Cause::isolated_streak);
}

TEST(KindsOfABody, AreNoneWhereAnEarthedCoverIsGreyOverEverything) {
  ThingShape grey = disc(9);
  grey.closed = 0.05;
  EXPECT_EQ(kinds_of_body(grey, kEarthed_pf, 4).front().cause, Cause::unknown_object);
}

GlassThing drop(double mm) {
  GlassThing t;
  t.shape = disc(mm);
  t.kinds = kinds(mm, 0);
  t.predicted = infer::NodeMap::Zero(2, 2);
  return t;
}

TEST(SeveralDrops, AreSurerThanOne) {
  std::vector<GlassThing> things = {drop(10), drop(10), drop(10)};
  const double alone = share(things[0].kinds, Cause::drops);
  gather(things);
  ASSERT_EQ(things.size(), 1u);
  EXPECT_EQ(things[0].parts, 3);
  EXPECT_GT(share(things[0].kinds, Cause::drops), alone + 0.1);
}

}  // namespace
}  // namespace bareglass::host
