// Contact identity over time. The meaning of the fields follows the USB HID Usage Tables, digitizer
// page (0x0D): contact identifier 0x51, tip switch 0x42, confidence 0x47.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <map>
#include <random>
#include <set>
#include <vector>

#include "bareglass/core/contacts.hpp"

namespace bareglass {
namespace {

Peak peak_at(double row, double col, int strength = 3000, bool palm = false) {
  Peak p;
  p.strength = static_cast<std::int16_t>(strength);
  p.y_q8 = static_cast<std::int16_t>(std::lround(row * 256));
  p.x_q8 = static_cast<std::int16_t>(std::lround(col * 256));
  p.row = static_cast<std::uint8_t>(std::lround(std::max(row, 0.0)));
  p.col = static_cast<std::uint8_t>(std::lround(std::max(col, 0.0)));
  p.palm = palm;
  return p;
}

class TrackerOnAQuietPanel : public ::testing::Test {
 protected:
  TrackerOnAQuietPanel() {
    settings_.shape = {40, 40};
    tracker_.reset();
  }

  /// One frame, 10 ms after the one before.
  std::vector<Contact> frame(const std::vector<Peak>& peaks) {
    PeakList list;
    for (const Peak& p : peaks) list.peak[list.count++] = p;
    t_us_ += 10000;
    tracker_.update(list, settings_, limits_of(settings_), t_us_);
    const View<const Contact> contacts = tracker_.contacts();
    return {contacts.begin(), contacts.end()};
  }
  std::vector<Contact> frames(int n, const std::vector<Peak>& peaks) {
    std::vector<Contact> last;
    for (int k = 0; k < n; ++k) last = frame(peaks);
    return last;
  }

  Settings settings_;
  ContactTracker tracker_;
  std::uint64_t t_us_ = 1000000;
};

TEST_F(TrackerOnAQuietPanel, ReportsAContactAfterTheDebounceAndNotBefore) {
  settings_.debounce_down = 3;
  EXPECT_TRUE(frame({peak_at(5, 5)}).empty());
  EXPECT_TRUE(frame({peak_at(5, 5)}).empty());
  const std::vector<Contact> down = frame({peak_at(5, 5.5, 2500)});
  ASSERT_EQ(down.size(), 1u);
  EXPECT_TRUE(down[0].tip);
  EXPECT_TRUE(down[0].confidence);
  EXPECT_EQ(down[0].since_us, t_us_);
  EXPECT_EQ(down[0].x_q8, 5 * 256 + 128);
  EXPECT_EQ(down[0].y_q8, 5 * 256);
  EXPECT_EQ(down[0].strength, 2500);
}

TEST_F(TrackerOnAQuietPanel, ForgetsACandidateThatBlinks) {
  settings_.debounce_down = 2;
  for (int k = 0; k < 10; ++k) {
    EXPECT_TRUE(frame({peak_at(5, 5)}).empty());
    EXPECT_TRUE(frame({}).empty());
  }
}

TEST_F(TrackerOnAQuietPanel, NeedsTouchOnToBeginAndTouchOffToLiveOn) {
  EXPECT_TRUE(frames(5, {peak_at(5, 5, 1049)}).empty());  // touch_on is 1050
  EXPECT_TRUE(frame({peak_at(5, 5, 1050)}).empty());
  EXPECT_TRUE(frame({peak_at(5, 5, 1049)}).empty()) << "a candidate needs touch_on in every frame";
  EXPECT_EQ(frames(2, {peak_at(5, 5, 1050)}).size(), 1u);
  EXPECT_EQ(frames(50, {peak_at(5, 5, 700)}).size(), 1u);
}

TEST_F(TrackerOnAQuietPanel, LiftsOnceAtItsLastPlaceAfterTheDebounce) {
  settings_.debounce_up = 3;
  frames(2, {peak_at(5, 5)});
  const std::uint8_t id = frame({peak_at(6, 7)})[0].id;
  for (int k = 0; k < 2; ++k) {
    const std::vector<Contact> held = frame({});
    ASSERT_EQ(held.size(), 1u);
    EXPECT_TRUE(held[0].tip);
  }
  const std::vector<Contact> lifted = frame({});
  ASSERT_EQ(lifted.size(), 1u);
  EXPECT_FALSE(lifted[0].tip);
  EXPECT_EQ(lifted[0].id, id);
  EXPECT_EQ(lifted[0].y_q8, 6 * 256);
  EXPECT_EQ(lifted[0].x_q8, 7 * 256);
  EXPECT_TRUE(frame({}).empty());
}

TEST_F(TrackerOnAQuietPanel, KeepsAContactThroughADropoutShorterThanTheDebounce) {
  settings_.debounce_up = 3;
  const std::uint8_t id = frames(2, {peak_at(5, 5)})[0].id;
  for (int k = 0; k < 20; ++k) {
    frames(2, {});
    const std::vector<Contact> again = frame({peak_at(5, 5)});
    ASSERT_EQ(again.size(), 1u);
    EXPECT_TRUE(again[0].tip);
    EXPECT_EQ(again[0].id, id);
  }
}

// HID Usage Tables, contact identifier: it stays with a contact from the first report with the tip
// down to the one report with the tip up, and is then free.
TEST_F(TrackerOnAQuietPanel, DoesNotReuseAnIdInTheReportThatLiftsIt) {
  settings_.debounce_down = 1;
  settings_.debounce_up = 1;
  settings_.match_um = 5000;  // a touch elsewhere is another touch
  frame({peak_at(5, 5)});
  for (int k = 0; k < 20; ++k) {
    const std::vector<Contact> both = frame({peak_at(k % 2 ? 5 : 25, 5)});
    ASSERT_EQ(both.size(), 2u);
    EXPECT_FALSE(both[0].tip);
    EXPECT_TRUE(both[1].tip);
    EXPECT_NE(both[0].id, both[1].id);
  }
}

TEST_F(TrackerOnAQuietPanel, HoldsTheContractOfTipAndIdOverRandomPlay) {
  const std::uint32_t seed = 36001;
  SCOPED_TRACE(::testing::Message() << "seed " << seed);
  std::mt19937 random(seed);
  std::set<int> down;
  int lifts = 0;
  for (int k = 0; k < 20000; ++k) {
    std::vector<Peak> peaks;
    const auto n = random() % (PeakList::kMaxPeaks + 1);
    for (std::uint32_t i = 0; i < n; ++i)
      peaks.push_back(peak_at(static_cast<double>(random() % 400) / 10,
                              static_cast<double>(random() % 400) / 10,
                              static_cast<int>(700 + random() % 2000)));
    std::set<int> now;
    std::set<int> seen;
    for (const Contact& c : frame(peaks)) {
      ASSERT_TRUE(seen.insert(c.id).second) << "an id twice in one report, frame " << k;
      ASSERT_LT(c.id, kMaxContacts);
      if (c.tip) {
        now.insert(c.id);
      } else {
        ++lifts;
        ASSERT_TRUE(down.count(c.id)) << "a lift without a touch, frame " << k;
      }
    }
    for (const int id : down) ASSERT_TRUE(seen.count(id)) << "a touch that vanished, frame " << k;
    down = now;
  }
  EXPECT_GT(lifts, 1000);
}

TEST_F(TrackerOnAQuietPanel, KeepsIdentitiesOverCrossingPaths) {
  // Two fingers pass each other two lines apart, half a pitch per frame.
  std::vector<Contact> c = frames(2, {peak_at(10, 5), peak_at(12, 25)});
  ASSERT_EQ(c.size(), 2u);
  const std::uint8_t upper = c[0].id;
  const std::uint8_t lower = c[1].id;
  ASSERT_EQ(c[0].y_q8, 10 * 256);
  for (int k = 1; k <= 40; ++k) {
    // The order of the peaks must not matter.
    const Peak a = peak_at(10, 5 + 0.5 * k);
    const Peak b = peak_at(12, 25 - 0.5 * k);
    for (const Contact& contact : k % 2 ? frame({a, b}) : frame({b, a}))
      EXPECT_EQ(contact.id, contact.y_q8 == 10 * 256 ? upper : lower) << "frame " << k;
  }
}

TEST_F(TrackerOnAQuietPanel, MatchesTheNearestPairFirstAndTheLoserElsewhere) {
  settings_.debounce_down = 1;
  std::vector<Contact> c = frame({peak_at(10, 10), peak_at(10, 12)});
  ASSERT_EQ(c.size(), 2u);
  // Both move right by 1.5: the left one is now nearest to the right one's old place.
  c = frame({peak_at(10, 11.5), peak_at(10, 13.5)});
  ASSERT_EQ(c.size(), 2u);
  std::map<int, int> x;
  for (const Contact& contact : c) x[contact.id] = contact.x_q8;
  EXPECT_EQ(x[1], 11 * 256 + 128) << "nearest pair first: 0.5 pitch";
  EXPECT_EQ(x[0], 13 * 256 + 128) << "the other takes what is left";
}

TEST_F(TrackerOnAQuietPanel, DoesNotStretchAContactBeyondItsReach) {
  settings_.debounce_down = 1;
  settings_.match_um = 20000;  // 4 pitches of 5 mm
  frame({peak_at(10, 10)});
  EXPECT_EQ(frame({peak_at(10, 14)}).size(), 1u);
  std::vector<Contact> c = frame({peak_at(10, 18.1)});
  EXPECT_EQ(c.size(), 2u) << "a second contact, the first is missing";
}

TEST_F(TrackerOnAQuietPanel, MeasuresReachInMillimetresAlongBothAxes) {
  settings_.debounce_down = 1;
  settings_.match_um = 9000;
  settings_.pitch_row_um = 8000;
  settings_.pitch_col_um = 4000;
  frame({peak_at(10, 10)});
  EXPECT_EQ(frame({peak_at(11, 10)}).size(), 1u);    // 8 mm
  EXPECT_EQ(frame({peak_at(11, 12)}).size(), 1u);    // 8 mm
  EXPECT_EQ(frame({peak_at(12.2, 12)}).size(), 2u);  // 9.6 mm
}

TEST_F(TrackerOnAQuietPanel, ServesTenFingersAndTheEleventhAfterALift) {
  std::vector<Peak> ten;
  for (int k = 0; k < 10; ++k) ten.push_back(peak_at(3.0 * k, 20));
  std::vector<Peak> eleven = ten;
  eleven.push_back(peak_at(38, 5));
  EXPECT_EQ(frames(2, ten).size(), 10u);
  std::vector<Contact> c = frames(5, eleven);
  ASSERT_EQ(c.size(), 10u);
  for (const Contact& contact : c) EXPECT_NE(contact.x_q8, 5 * 256);
  eleven.erase(eleven.begin());
  c = frames(6, eleven);
  ASSERT_EQ(c.size(), 10u);
  int waiting = 0;
  for (const Contact& contact : c) waiting += contact.tip && contact.x_q8 == 5 * 256;
  EXPECT_EQ(waiting, 1) << "the eleventh finger got the free place";
}

// HID Usage Tables, confidence: cleared when the device rejects the contact as unintended.
TEST_F(TrackerOnAQuietPanel, LosesConfidenceWithAPalmAndNeverRegainsIt) {
  ASSERT_TRUE(frames(2, {peak_at(5, 5)})[0].confidence);
  EXPECT_FALSE(frame({peak_at(5, 5, 3000, true)})[0].confidence);
  EXPECT_FALSE(frames(10, {peak_at(5, 5)})[0].confidence);
  frames(5, {});
  EXPECT_FALSE(frames(2, {peak_at(5, 5, 3000, true)})[0].confidence);
  frames(5, {});
  EXPECT_TRUE(frames(2, {peak_at(5, 5)})[0].confidence) << "the next touch starts afresh";
}

TEST_F(TrackerOnAQuietPanel, TakesNothingForADeliberateTouchBesideAPalm) {
  ASSERT_TRUE(frames(3, {peak_at(5, 5)})[0].confidence);
  std::vector<Contact> both = frames(3, {peak_at(5, 5), peak_at(20, 20, 3000, true)});
  ASSERT_EQ(both.size(), 2u);
  for (const Contact& c : both) EXPECT_FALSE(c.confidence);
  both = frames(3, {peak_at(5, 5), peak_at(20, 20, 3000, true), peak_at(30, 5)});
  ASSERT_EQ(both.size(), 3u);
  for (const Contact& c : both) EXPECT_FALSE(c.confidence) << "one that begins beside it neither";
  EXPECT_TRUE(tracker_.has_palm());
  for (const Contact& c : frames(5, {peak_at(5, 5), peak_at(30, 5)}))
    EXPECT_FALSE(c.confidence) << "what was held back stays so until it is lifted";
  EXPECT_FALSE(tracker_.has_palm());
  frames(5, {});
  EXPECT_TRUE(frames(3, {peak_at(5, 5)})[0].confidence);
}

TEST_F(TrackerOnAQuietPanel, TellsHowLongPalmsHaveLainOverShortAbsencesAndNewContacts) {
  const auto ms = [&] { return tracker_.palm_lain_us() / 1000; };
  EXPECT_EQ(ms(), 0u);
  frames(101, {peak_at(5, 5, 3000, true)});
  EXPECT_EQ(ms(), 1000u);
  frames(30, {peak_at(5, 5)});
  EXPECT_EQ(ms(), 0u) << "no palm now";
  frame({peak_at(35, 35, 3000, true)});
  EXPECT_EQ(ms(), 1310u) << "a hand that shifts is one hand";
  frames(60, {});
  frame({peak_at(5, 5, 3000, true)});
  EXPECT_EQ(ms(), 0u) << "another hand";
}

TEST_F(TrackerOnAQuietPanel, LiftsEverythingOnceWhenInputGoesOff) {
  frames(2, {peak_at(5, 5), peak_at(20, 20)});
  frame({peak_at(5, 5), peak_at(20, 20), peak_at(30, 5)});  // the third is a candidate
  tracker_.lift_all();
  ASSERT_EQ(tracker_.contacts().size, 2u);
  for (const Contact& c : tracker_.contacts()) EXPECT_FALSE(c.tip);
  tracker_.lift_all();
  EXPECT_TRUE(tracker_.contacts().empty());
}

TEST_F(TrackerOnAQuietPanel, LiftsAfterTheDebounceWhenFramesCannotBeRead) {
  settings_.debounce_up = 3;
  frames(2, {peak_at(5, 5)});
  for (int k = 0; k < 2; ++k) {
    tracker_.miss_frame(settings_);
    ASSERT_EQ(tracker_.contacts().size, 1u);
    EXPECT_TRUE(tracker_.contacts()[0].tip);
  }
  tracker_.miss_frame(settings_);
  ASSERT_EQ(tracker_.contacts().size, 1u);
  EXPECT_FALSE(tracker_.contacts()[0].tip);
  tracker_.miss_frame(settings_);
  EXPECT_TRUE(tracker_.contacts().empty());
}

TEST_F(TrackerOnAQuietPanel, LetsATouchBeginBetweenFramesThatCannotBeRead) {
  EXPECT_TRUE(frame({peak_at(5, 5)}).empty());
  tracker_.miss_frame(settings_);
  EXPECT_EQ(frame({peak_at(5, 5)}).size(), 1u);
  frames(5, {});
  EXPECT_TRUE(frame({peak_at(5, 5)}).empty());
  for (int k = 0; k < settings_.debounce_up; ++k) tracker_.miss_frame(settings_);
  EXPECT_TRUE(frame({peak_at(5, 5)}).empty()) << "too long ago to be the same";
}

TEST_F(TrackerOnAQuietPanel, TellsNoLiftASecondTimeForTheSameFrame) {
  frames(2, {peak_at(5, 5), peak_at(20, 20)});
  frame({peak_at(20, 20)});
  ASSERT_EQ(frame({peak_at(20, 20)}).size(), 2u) << "one down, one lifted";
  tracker_.drop_lifted();
  ASSERT_EQ(tracker_.contacts().size, 1u);
  EXPECT_TRUE(tracker_.contacts()[0].tip);
}

TEST_F(TrackerOnAQuietPanel, TellsWithTheNextFrameWhatLeftBetweenTwo) {
  settings_.debounce_down = 1;
  const std::uint8_t id = frame({peak_at(5, 5)})[0].id;
  tracker_.leave();
  EXPECT_TRUE(tracker_.contacts().empty());
  const std::vector<Contact> next = frame({peak_at(5, 5)});
  ASSERT_EQ(next.size(), 2u);
  EXPECT_EQ(next[0].id, id);
  EXPECT_FALSE(next[0].tip);
  EXPECT_TRUE(next[1].tip) << "the same finger is a new touch";
  EXPECT_NE(next[1].id, id);
  tracker_.leave();
  tracker_.leave();
  tracker_.miss_frame(settings_);
  ASSERT_EQ(tracker_.contacts().size, 1u);
  EXPECT_FALSE(tracker_.contacts()[0].tip);
}

TEST_F(TrackerOnAQuietPanel, TellsALiftOnThePanelThatCameInBetween) {
  settings_.debounce_down = 1;
  frame({peak_at(20, 20)});
  tracker_.leave();
  tracker_.clip(Shape{8, 6});
  tracker_.miss_frame(settings_);
  ASSERT_EQ(tracker_.contacts().size, 1u);
  const Contact lifted = tracker_.contacts()[0];
  EXPECT_FALSE(lifted.tip);
  EXPECT_EQ(lifted.x_q8, 6 * 256 - 128);
  EXPECT_EQ(lifted.y_q8, 8 * 256 - 128);
}

TEST_F(TrackerOnAQuietPanel, FindsAContactThatStoodStillButNotOneThatTrembles) {
  settings_.held_jitter_q8 = 26;
  Contact held;
  double sway = 0;
  for (int k = 0; k < 300; ++k) {
    sway = 0.15 * std::sin(0.4 * k);  // 0.3 pitch from side to side: more than 26/256
    frame({peak_at(5, 5 + 0.04 * (k % 2)), peak_at(20, 20 + sway)});
  }
  ASSERT_TRUE(tracker_.find_held(held, t_us_, 2000000));
  EXPECT_EQ(held.y_q8, 5 * 256);
  EXPECT_FALSE(tracker_.find_held(held, t_us_, 3000001));
  frames(10, {peak_at(20, 20)});  // the steady one is lifted
  EXPECT_FALSE(tracker_.find_held(held, t_us_, 2000000));
}

// A finger that lies still is pressed now more, now less; an object is not.
TEST_F(TrackerOnAQuietPanel, DoesNotTakeAPressingFingerForAnObject) {
  Contact held;
  for (int k = 0; k < 300; ++k)
    frame({peak_at(5, 5, 3000 + static_cast<int>(std::lround(200 * std::sin(0.05 * k))))});
  EXPECT_FALSE(tracker_.find_held(held, t_us_, 1000000));
}

TEST_F(TrackerOnAQuietPanel, KnowsAnObjectByItsNoiseAndAFingerByWhatExceedsIt) {
  // 90 counts of noise on 3000: the place moves by 0.03 pitch rms.
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  tracker_.expect_noise(90 * 16);
  for (int k = 0; k < 2000; ++k) {
    const double sway = 0.25 * std::sin(0.02 * k);
    const auto noisy = [&](double row, double col) {
      return peak_at(row + 0.03 * normal(random), col + 0.03 * normal(random),
                     3000 + static_cast<int>(90 * normal(random)));
    };
    frame({noisy(5, 5), noisy(20, 20 + sway)});
  }
  Contact held;
  ASSERT_TRUE(tracker_.find_held(held, t_us_, 10000000));
  EXPECT_NEAR(held.y_q8 / 256.0, 5, 0.2) << "the object, not the finger";
}

TEST_F(TrackerOnAQuietPanel, CountsAHeldContactNoLongerThanItsTipIsDown) {
  // What is judged is entered with the time since the tip went down, which must reach the limit.
  settings_.debounce_down = 5;
  Contact held;
  frame({peak_at(5, 5)});
  while (!tracker_.find_held(held, t_us_, 1000000)) {
    frame({peak_at(5, 5)});
    ASSERT_LT(t_us_, 9000000u);
  }
  EXPECT_EQ(t_us_ - held.since_us, 1000000u);
}

TEST_F(TrackerOnAQuietPanel, DoesNotJudgeAContactThatIsMissingInThisFrame) {
  settings_.debounce_up = 5;
  frames(120, {peak_at(5, 5)});
  Contact held;
  ASSERT_TRUE(tracker_.find_held(held, t_us_, 1000000));
  frame({});
  EXPECT_FALSE(tracker_.find_held(held, t_us_, 1000000)) << "there is nothing to point at";
}

TEST_F(TrackerOnAQuietPanel, ForgetsAllWhenReset) {
  frames(2, {peak_at(5, 5)});
  tracker_.reset();
  EXPECT_TRUE(tracker_.contacts().empty());
  EXPECT_TRUE(frame({peak_at(5, 5)}).empty()) << "a touch begins anew";
}

}  // namespace
}  // namespace bareglass
