// Which contacts are called weak: on accounts written by hand, and small touches on the simulated
// panel.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "../../../lib/host/infer/src/electrical_survey.hpp"
#include "bareglass/advise/diagnose.hpp"
#include "bareglass/replay/replay.hpp"
#include "scene_data.hpp"
#include "simulated_disc.hpp"
#include "support/record_list.hpp"

namespace bareglass::host {
namespace {

constexpr int kRow = 8;
constexpr int kCol = 9;

/// A panel of 16 rows and 20 columns under 1.1 mm of glass, a fingertip of 9 mm on node (8, 9).
class ContactOfAFingertip : public ::testing::Test {
 protected:
  ContactOfAFingertip() {
    float bare = 0;
    plan_.finger = static_cast<double>(disc_on("1_1", 8, {25, 25}, panel::kConnected, bare)[60]);
    plan_.level = static_cast<double>(bare);
    plan_.windows = 16;
    plan_.spread = 30;
    plan_.noise = 10;
    earthed_ = disc_on("1_1", 9, {25, 25}, panel::kConnected, bare);
    floating_ = disc_on("1_1", 9, {25, 25}, 3, bare);
  }
  /// Counts of `map` that (row, col) of the panel loses to a disc on (kRow, kCol).
  static double at(const std::vector<float>& map, int row, int col) {
    const int r = row - kRow + 5;
    const int c = col - kCol + 5;
    if (r < 0 || c < 0 || r > 10 || c > 10) return 0;
    return static_cast<double>(map[static_cast<std::size_t>(r * 11 + c)]);
  }
  /// The contact takes the share `share(window)` of `map`.
  template <typename ShareOf>
  void lay(const std::vector<float>& map, ShareOf share) {
    plan_.lost = [&map, share](int k, int r, int c) { return share(k) * at(map, r, c); };
  }
  /// Noise that a step by `share` of the earthed contact within window k makes.
  void stir(std::size_t k, double share) { stirred_.emplace_back(k, share); }

  const ElectricalFound* weak() {
    Account account = account_of(plan_);
    for (const auto& [k, share] : stirred_) {
      SurveyWindow& w = account.survey.windows[k];
      // One step among the differences of a window's frames, rms over sqrt(2).
      const double noise = share / std::sqrt(2.0 * (w.frames - 1));
      for (int r = 0; r < plan_.shape.rows; ++r)
        for (int c = 0; c < plan_.shape.cols; ++c)
          w.noise[static_cast<std::size_t>(r * plan_.shape.cols + c)] +=
              static_cast<float>(noise * at(earthed_, r, c));
    }
    Reading reading(account);
    found_ = find_electrical(reading, account);
    const auto it = std::find_if(found_.begin(), found_.end(), [](const ElectricalFound& f) {
      return f.cause == Cause::floating_ground;
    });
    return it == found_.end() ? nullptr : &*it;
  }

  ScenePlan plan_;
  std::vector<float> earthed_, floating_;
  std::vector<std::pair<std::size_t, double>> stirred_;
  std::vector<ElectricalFound> found_;
};

double from_5_to_9(int k) { return k >= 5 && k < 10 ? 1 : 0; }

TEST_F(ContactOfAFingertip, IsWeakOnADeviceWithoutEarthWithReferenceAndWithout) {
  lay(floating_, from_5_to_9);
  for (const bool reference : {true, false}) {
    plan_.reference = reference;
    const ElectricalFound* f = weak();
    ASSERT_NE(f, nullptr);
    EXPECT_EQ(f->box.row0 + 1, kRow);
    EXPECT_EQ(f->box.col0 + 1, kCol);
  }
  lay(earthed_, from_5_to_9);
  EXPECT_EQ(weak(), nullptr);
}

TEST_F(ContactOfAFingertip, TakesALesserShareOfSlowLinesWithoutBeingWeak) {
  plan_.settled = [](int r, int) { return r >= 5 && r <= 11 ? 0.5 : 1.0; };
  lay(earthed_, [](int k) { return 0.5 * from_5_to_9(k); });
  EXPECT_EQ(weak(), nullptr);
  lay(floating_, [](int k) { return 0.5 * from_5_to_9(k); });
  EXPECT_NE(weak(), nullptr);
}

// Against a base that holds half of it, an earthed contact looks half as strong.
TEST_F(ContactOfAFingertip, ThatCameWithTheBaseIsNotJudged) {
  plan_.reference = false;
  lay(earthed_, [](int k) { return k == 0 ? 0 : k == 1 ? 0.5 : 1; });
  stir(1, 1.0);
  EXPECT_EQ(weak(), nullptr);
}

TEST_F(ContactOfAFingertip, IsNoThingThatRaisedItsNodesAndWasTakenAway) {
  plan_.reference = false;
  lay(floating_, [](int k) { return k < 5 ? -1 : 0; });
  EXPECT_EQ(weak(), nullptr);
}

TEST_F(ContactOfAFingertip, ThatComesAndGoesIsToldWhateverTheSpreadOfManufacture) {
  plan_.reference = false;
  plan_.spread = 0.2 * plan_.finger;
  lay(floating_, from_5_to_9);
  EXPECT_NE(weak(), nullptr);
}

TEST_F(ContactOfAFingertip, ThatIsJoinedByASecondOneIsJudgedByTheTimeItWasAlone) {
  plan_.lost = [this](int k, int r, int c) {
    const double second = k >= 8 && r >= kRow + 3 && c == kCol + 3 ? 0.2 * plan_.finger : 0;
    return k >= 5 ? at(floating_, r, c) + second : 0;
  };
  EXPECT_NE(weak(), nullptr);
}

TEST_F(ContactOfAFingertip, ThatGrowsOnTheSpotShowsThatTheDeviceWasDocked) {
  lay(earthed_, [](int k) { return k < 5 ? 0 : k < 8 ? 0.75 : 1; });
  stir(5, 0.75);
  EXPECT_NE(weak(), nullptr);
}

TEST_F(ContactOfAFingertip, ThatIsPutDownReachesItsStrengthByTheNextWindow) {
  lay(earthed_, [](int k) { return k < 5 ? 0 : k == 5 ? 0.6 : 1; });
  stir(5, 1.0);
  EXPECT_EQ(weak(), nullptr);
  // Docked in the next one: neither window is at rest.
  lay(earthed_, [](int k) { return k < 5 ? 0 : k == 5 ? 0.6 : k == 6 ? 0.7 : 1; });
  stir(6, 0.3);
  EXPECT_NE(weak(), nullptr);
}

// Within a window it is smeared, and looks as wide as a contact without earth.
TEST_F(ContactOfAFingertip, ThatGoesOnSlowlyIsNotJudged) {
  float bare = 0;
  plan_.finger = static_cast<double>(disc_on("3_0", 8, {25, 25}, panel::kConnected, bare)[60]);
  plan_.level = static_cast<double>(bare);
  constexpr double kStep = 5.5;  // mm a window
  std::vector<std::vector<float>> smeared;
  for (const double x : {20.0, 20.0 + kStep}) {
    smeared.emplace_back(121, 0.f);
    for (const double part : {0.0, 0.25, 0.5, 0.75, 1.0}) {
      const std::vector<float> one =
          disc_on("3_0", 6.6, {x + part * kStep, 25}, panel::kConnected, bare);
      for (std::size_t i = 0; i < one.size(); ++i) smeared.back()[i] += one[i] / 5;
    }
  }
  plan_.lost = [&](int k, int r, int c) {
    return k == 5 || k == 6 ? at(smeared[static_cast<std::size_t>(k - 5)], r, c) : 0.0;
  };
  EXPECT_EQ(weak(), nullptr);
}

TEST_F(ContactOfAFingertip, ThatTakesMostOfAFingersSignalIsEarthedWhateverSurroundsIt) {
  const auto haze = [this](double peak) {
    return [this, peak](int k, int r, int c) {
      const int away = std::max(std::abs(r - kRow), std::abs(c - kCol));
      const bool beside = std::abs(r - kRow) + std::abs(c - kCol) == 1;
      const double share = away == 0 ? peak : beside ? 0.15 : away == 2 ? 0.02 : 0.0;
      return k >= 5 && k < 10 ? share * plan_.finger : 0.0;
    };
  };
  plan_.lost = haze(0.95);
  EXPECT_EQ(weak(), nullptr);
  plan_.lost = haze(0.6);
  EXPECT_NE(weak(), nullptr);
}

class SmallTouch : public ::testing::TestWithParam<std::string> {};

// A pen, a child, a light touch: between the lines as wide as a finger on a device without earth.
TEST_P(SmallTouch, OnALineOrBetweenLinesIsNoFloatingGround) {
  panel::Scenario s = support::scenario_named("bare-glass");
  s.panel_path =
      BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_" + std::string(GetParam()) + ".toml";
  s.panel = field::load_panel(s.panel_path);
  s.things.clear();
  s.events.clear();
  s.duration_s = 2.6;
  const field::Point between{22.5, 37.5};
  const field::Point on_a_node{20, 35};
  for (const double mm : {2.0, 3.0, 4.0, 5.0})
    for (const field::Point place : {between, on_a_node}) {
      s.things.assign(1, {});
      panel::ThingSpec& touch = s.things.front();
      touch.name = "touch";
      touch.shape = "disc";
      touch.outline = panel::Outline::disc(mm);
      touch.place = place;
      touch.earth_pf = kPersonPf;
      s.events.assign(2, {});
      s.events[0].at_s = 1.0;
      s.events[0].word = "put";
      s.events[1].at_s = 2.2;
      s.events[1].word = "lift";
      s.events[1].action = panel::Action::lift;
      support::RecordListReader reader(support::records_of(s));
      const Diagnosis d = diagnose(replay(reader, "small touch", {}));
      for (const CauseFound& c : d.causes)
        EXPECT_NE(c.cause, Cause::floating_ground) << mm << " mm at " << place.x << ", " << place.y;
    }
}

INSTANTIATE_TEST_SUITE_P(OnAllGlasses, SmallTouch, ::testing::Values("0_7", "1_1", "2_0", "3_0"),
                         [](const auto& one) { return "Glass" + one.param; });

}  // namespace
}  // namespace bareglass::host
