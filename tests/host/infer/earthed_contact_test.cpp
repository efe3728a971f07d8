// The tables of earthed contacts, computed anew on the simulated panel.
#include "../../../lib/host/infer/src/earthed_contact.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "simulated_disc.hpp"

namespace bareglass::host {
namespace {

class EarthedContacts : public ::testing::TestWithParam<std::string> {
 protected:
  EarthedContacts() {
    finger_ = disc_on(GetParam(), 8, {25, 25}, panel::kConnected, bare_)[60];
    profile_ = earthed_profile(finger_ / static_cast<double>(bare_));
  }
  ContactProfile contact(double mm, field::Point place, double device_earth_pf,
                         double earth_pf = kPersonPf) const {
    float bare = 0;
    return strongest_contact(disc_on(GetParam(), mm, place, device_earth_pf, bare, earth_pf),
                             {11, 11}, finger_, 0.001);
  }
  double ratio(double mm, field::Point place, double device_earth_pf) const {
    return profile_.ratio_of(contact(mm, place, device_earth_pf));
  }
  double limit() const { return profile_.limit; }
  bool is_thin() const { return GetParam() == "0_7"; }

  float bare_ = 0;
  double finger_ = 0;
  EarthedProfile profile_;
};

TEST_P(EarthedContacts, LieAboveTheLimitWhereverTheyTouch) {
  for (const double mm : {6.5, 8.0, 11.0})
    for (const field::Point place : {field::Point{25, 25}, {27.5, 25}, {25, 27.5}, {26, 26.5}})
      EXPECT_GT(ratio(mm, place, panel::kConnected), limit()) << mm << " mm";
}

TEST_P(EarthedContacts, LieBelowTheLimitOnADeviceWithLittleEarth) {
  for (const double mm : {6.5, 8.0, 11.0})
    for (const double earth_pf : {2.0, 4.5}) {
      const double seen = ratio(mm, {25, 26}, earth_pf);
      EXPECT_GE(seen, 0) << mm << " mm, " << earth_pf << " pF";
      EXPECT_LT(seen, limit()) << mm << " mm, " << earth_pf << " pF";
    }
}

// A light touch, a child's finger, a pen: weak, and between the lines as wide as a finger.
TEST_P(EarthedContacts, OfAnySizeSpreadNoFurtherThanTheTableSaysWhereverTheyTouch) {
  for (const double mm : {2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 11.0})
    for (const double x : {25.0, 25.7, 26.3, 27.0, 27.5})
      for (const double y : {25.0, 25.7, 26.3, 27.0, 27.5})
        for (const double person_pf : {100.0, 200.0})
          EXPECT_FALSE(profile_.is_too_wide(contact(mm, {x, y}, panel::kConnected, person_pf), 0.0))
              << mm << " mm at " << x << ", " << y;
}

TEST_P(EarthedContacts, SpreadFurtherOnADeviceWithLittleEarth) {
  for (const double mm : {6.5, 8.0, 11.0})
    for (const field::Point place : {field::Point{25, 25}, {26, 25.7}, {27.5, 26}, {26.5, 26.5}})
      for (const double earth_pf : {2.0, 4.0})
        EXPECT_TRUE(profile_.is_too_wide(contact(mm, place, earth_pf), 0.0))
            << mm << " mm, " << earth_pf << " pF at " << place.x << ", " << place.y;
}

TEST_P(EarthedContacts, AreNotCalledTooWideWhereNoiseMayHaveMadeThemSo) {
  const ContactProfile weak = contact(8, {25, 25}, 4.5);
  ASSERT_TRUE(profile_.is_too_wide(weak, 0.0));
  const double excess = weak.spread - profile_.spread_of(weak.volume, weak.x, weak.y);
  const double noise = (excess - profile_.widest) / weak.spread_per_noise / 3;
  EXPECT_TRUE(profile_.is_too_wide(weak, 0.98 * noise));
  EXPECT_FALSE(profile_.is_too_wide(weak, 1.02 * noise));
}

// The bound on the peak beyond which no contact is called weak: 0.85 of a finger.
TEST_P(EarthedContacts, TakeLessThanTheirMostOnADeviceWithLittleEarth) {
  for (const double mm : {6.0, 8.0, 11.0, 13.0})
    EXPECT_LT(contact(mm, {25, 25}, 4.5).peak, 0.85) << mm << " mm";
}

TEST_P(EarthedContacts, AreNotJudgedByWhatOthersLeaveOfThem) {
  ContactProfile c = contact(8, {25, 25}, 3.0);
  ASSERT_GE(profile_.ratio_of(c), 0);
  c.width = profile_.narrowest - 0.01;
  EXPECT_LT(profile_.ratio_of(c), 0);
}

// What is called weak by its spread must have been in the table: the bound on the volume.
TEST_P(EarthedContacts, StayWithinTheTablesVolumeOnADeviceWithLittleEarth) {
  double most = 0;
  for (const double mm : {6.5, 8.0, 11.0})
    most = std::max(most, contact(mm, {25, 25}, 4.5, 200).volume);
  EXPECT_LT(most, profile_.greatest_volume);
  EXPECT_GT(most, 0.75 * profile_.greatest_volume);
}

TEST_P(EarthedContacts, AtTheEdgeAreCompletedByTheirOwnShape) {
  const double inner = ratio(9, {25, 26}, panel::kConnected);
  EXPECT_NEAR(ratio(9, {25, 1}, panel::kConnected), inner, 0.2 * inner);
}

TEST_P(EarthedContacts, OnTheSecondLineReadAsInTheMiddle) {
  for (const double off : {-1.5, 0.0, 1.5})
    for (const double earth_pf : {panel::kConnected, 4.0}) {
      // On thin glass a weak contact is strongest at its rim, which may be the outermost line.
      if (is_thin() && earth_pf < 100) continue;
      const ContactProfile inner = contact(9, {25 + off, 25}, earth_pf);
      for (const field::Point place : {field::Point{5 + off, 25}, {45 + off, 25}}) {
        const ContactProfile outer = contact(9, place, earth_pf);
        EXPECT_NEAR(outer.volume, inner.volume, 0.025 * inner.volume) << place.x;
        EXPECT_NEAR(outer.spread, inner.spread, 0.05 * inner.spread) << place.x;
        EXPECT_NEAR(outer.width, inner.width, 0.06 * inner.width) << place.x;
      }
    }
}

// Loss and coupling of a large fingertip cancel at 1 pF if the glass is thin: rises and falls side
// by side, wherever the peak among them is.
TEST_P(EarthedContacts, OfTwoSignsThereAreOnThinGlassAlone) {
  for (const field::Point place : {field::Point{25, 25}, {25, 27.5}, {27.5, 25}, {40.1, 27.4}}) {
    const ContactProfile c = contact(10.7, place, 1.1);
    EXPECT_EQ(c.two_signs, is_thin()) << place.x << ", " << place.y;
    if (!c.two_signs) continue;
    EXPECT_TRUE(c.alone) << place.x << ", " << place.y;
    EXPECT_EQ(profile_.ratio_of(c), 0);
    EXPECT_NEAR(c.x, place.x / 5, 0.5);
    EXPECT_NEAR(c.y, place.y / 5, 0.5);
  }
}

// A drop raises what is under it and lowers the nodes around.
TEST_P(EarthedContacts, AreNotTakenForDropsWithoutAWayToEarth) {
  for (const double mm : {6.0, 8.0, 10.0, 13.0})
    for (const field::Point place : {field::Point{25, 25}, {25, 27.5}, {27.5, 25}, {27.5, 27.5}}) {
      const ContactProfile drop = contact(mm, place, panel::kConnected, 0);
      const bool weak = profile_.ratio_of(drop) >= 0 && profile_.is_too_wide(drop, 0.0);
      EXPECT_FALSE(weak) << mm << " mm at " << place.x << ", " << place.y;
    }
}

INSTANTIATE_TEST_SUITE_P(OfAllGlasses, EarthedContacts,
                         ::testing::Values("0_7", "1_1", "2_0", "3_0"),
                         [](const auto& one) { return "Glass" + one.param; });

TEST(FingerThatNoGlassAllows, IsNotJudged) { EXPECT_EQ(earthed_profile(0.3).limit, 0); }

}  // namespace
}  // namespace bareglass::host
