// The table of earthed contacts, computed anew on the simulated panel.
#include "../../lib/host/src/contact_profile.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "bareglass/panel/player.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

/// A disc on a panel of 11 x 11 lines, without noise: counts that it takes from each node.
std::vector<float> disc_on(const std::string& glass, double mm, field::Point place,
                           double device_earth_pf, float& bare) {
  panel::Scenario s = support::scenario_named("bare-glass");
  s.panel_path = BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_" + glass + ".toml";
  s.panel = field::load_panel(s.panel_path);
  s.setup.rows = s.setup.columns = 11;
  s.setup.front_end.noise_ff = s.setup.front_end.spread_ff = 0;
  s.things.clear();
  s.events.clear();
  s.device.earth_pf = device_earth_pf;
  panel::ThingSpec disc;
  disc.name = "disc";
  disc.shape = "disc";
  disc.outline = panel::Outline::disc(mm);
  disc.place = place;
  disc.earth_pf = 150;
  s.things.push_back(disc);
  panel::Event put;
  put.at_s = 0.5;
  put.word = "put";
  s.events.push_back(put);
  panel::SimulatedPanel simulated(s.panel, panel::kernels_of(s.panel, s.panel_path), s.setup);
  panel::Timeline timeline(s);
  std::vector<std::uint16_t> before;
  std::vector<std::uint16_t> after;
  simulated.scan(before, timeline.at(0.1), 100000);
  simulated.scan(after, timeline.at(0.8), 800000);
  std::vector<float> taken;
  for (std::size_t i = 0; i < before.size(); ++i)
    taken.push_back(static_cast<float>(before[i]) - static_cast<float>(after[i]));
  bare = before[60];
  return taken;
}

class EarthedContacts : public ::testing::TestWithParam<const char*> {
 protected:
  double ratio(double mm, field::Point place, double device_earth_pf) const {
    float bare = 0;
    const double finger = disc_on(GetParam(), 8, {25, 25}, panel::kConnected, bare)[60];
    const std::vector<float> map = disc_on(GetParam(), mm, place, device_earth_pf, bare);
    const ContactProfile c = strongest_contact(map, {11, 11}, finger, 0.001);
    return earthed_profile(finger / static_cast<double>(bare)).ratio_of(c);
  }
  double limit() const {
    float bare = 0;
    const double finger = disc_on(GetParam(), 8, {25, 25}, panel::kConnected, bare)[60];
    return earthed_profile(finger / static_cast<double>(bare)).limit;
  }
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

// The bound on the peak beyond which no contact is called weak: 0.85 of a finger.
TEST_P(EarthedContacts, TakeLessThanTheirMostOnADeviceWithLittleEarth) {
  float bare = 0;
  const double finger = disc_on(GetParam(), 8, {25, 25}, panel::kConnected, bare)[60];
  for (const double mm : {6.0, 8.0, 11.0, 13.0}) {
    const std::vector<float> map = disc_on(GetParam(), mm, {25, 25}, 4.5, bare);
    const double peak = static_cast<double>(*std::max_element(map.begin(), map.end())) / finger;
    EXPECT_LT(peak, 0.85) << mm << " mm";
    EXPECT_GT(peak, 0.3) << mm << " mm";
  }
}

TEST_P(EarthedContacts, OnTheOutermostRowAreCompletedByTheirOwnShape) {
  const double inner = ratio(9, {25, 26}, panel::kConnected);
  EXPECT_NEAR(ratio(9, {25, 1}, panel::kConnected), inner, 0.2 * inner);
}

INSTANTIATE_TEST_SUITE_P(OfAllGlasses, EarthedContacts,
                         ::testing::Values("0_7", "1_1", "2_0", "3_0"),
                         [](const auto& one) { return "Glass" + std::string(one.param); });

TEST(FingerThatNoGlassAllows, IsNotJudged) { EXPECT_EQ(earthed_profile(0.3).limit, 0); }

}  // namespace
}  // namespace bareglass::host
