#include "bareglass/core/findings.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <set>
#include <string>
#include <vector>

namespace bareglass {
namespace {

/// A region with a box, a peak in its middle and a mean.
Region region(int row0, int row1, int col0, int col1, int peak, int mean) {
  Region r;
  r.box = {static_cast<std::uint8_t>(row0), static_cast<std::uint8_t>(row1),
           static_cast<std::uint8_t>(col0), static_cast<std::uint8_t>(col1)};
  r.nodes = static_cast<std::uint16_t>(r.box.height() * r.box.width());
  r.peak = static_cast<std::int16_t>(peak);
  r.peak_row = static_cast<std::uint8_t>((row0 + row1) / 2);
  r.peak_col = static_cast<std::uint8_t>((col0 + col1) / 2);
  r.sum = mean * r.nodes;
  return r;
}

constexpr Shape kPanel{24, 16};

Settings settings() {
  Settings s;  // 3500 counts a finger, 5 mm pitch both ways
  s.shape = kPanel;
  return s;
}

FindingKind kind(const Region& r, const Settings& s = settings()) {
  return kind_of(r, kPanel, s, limits_of(s));
}

// --- what kind of thing --------------------------------------------------------------------------

TEST(KindOfARegion, FollowsSignSizeFlatnessAndBorder) {
  EXPECT_EQ(kind(region(8, 10, 5, 7, 3400, 1500)), FindingKind::held_touch);
  EXPECT_EQ(kind(region(6, 14, 4, 9, 3500, 2600)), FindingKind::lowered_plateau);
  EXPECT_EQ(kind(region(6, 14, 4, 9, 3500, 1000)), FindingKind::unknown) << "wide, but a hill";
  EXPECT_EQ(kind(region(6, 14, 4, 9, -370, -300)), FindingKind::raised_plateau);
  EXPECT_EQ(kind(region(6, 14, 4, 9, -370, -100)), FindingKind::unknown);
  EXPECT_EQ(kind(region(8, 9, 5, 6, -980, -400)), FindingKind::raised_plateau) << "a drop";
  EXPECT_EQ(kind(region(0, 1, 3, 12, 560, 300)), FindingKind::border_band);
  EXPECT_EQ(kind(region(22, 23, 3, 12, 560, 300)), FindingKind::border_band);
  EXPECT_EQ(kind(region(3, 12, 0, 1, 560, 300)), FindingKind::border_band);
  EXPECT_EQ(kind(region(3, 12, 15, 15, 560, 300)), FindingKind::border_band);
  EXPECT_NE(kind(region(1, 2, 3, 12, 560, 300)), FindingKind::border_band) << "not at the border";
  EXPECT_NE(kind(region(0, 2, 3, 12, 560, 300)), FindingKind::border_band) << "too deep";
}

TEST(KindOfARegion, IsFlatFromAMeanOfThreeFifthsOfThePeakOn) {
  EXPECT_EQ(kind(region(6, 14, 4, 9, 3500, 2100)), FindingKind::lowered_plateau);
  EXPECT_EQ(kind(region(6, 14, 4, 9, 3500, 2099)), FindingKind::unknown);
  EXPECT_EQ(kind(region(6, 14, 4, 9, -500, -300)), FindingKind::raised_plateau);
  EXPECT_EQ(kind(region(6, 14, 4, 9, -500, -299)), FindingKind::unknown);
}

TEST(KindOfARegion, MeasuresInMillimetresNotInLines) {
  const Region five_by_five = region(8, 12, 5, 9, 3400, 2400);
  EXPECT_EQ(kind(five_by_five), FindingKind::held_touch);  // 25 mm
  Settings coarse = settings();
  coarse.pitch_row_um = 6000;  // 30 mm
  EXPECT_EQ(kind(five_by_five, coarse), FindingKind::lowered_plateau);
  const Region band = region(0, 1, 3, 8, 560, 300);  // six columns: 30 mm
  EXPECT_EQ(kind(band), FindingKind::border_band);
  Settings fine = settings();
  fine.pitch_col_um = 4900;
  EXPECT_NE(kind(band, fine), FindingKind::border_band);
}

TEST(KindOfARegion, CallsACompactLumpATouchOnlyFromTheTouchThresholdOn) {
  EXPECT_EQ(kind(region(8, 9, 5, 6, 700, 300)), FindingKind::held_touch);
  EXPECT_EQ(kind(region(8, 9, 5, 6, 699, 300)), FindingKind::unknown);
  EXPECT_EQ(kind(region(8, 9, 5, 6, 699, 690)), FindingKind::unknown) << "flat, but not wide";
}

TEST(KindOfARegion, OfALoneNodeIsALoneNodeWhateverItsSign) {
  for (const int peak : {3500, -3500}) {
    Region r = region(8, 8, 5, 5, peak, peak);
    r.lone = true;
    EXPECT_EQ(kind(r), FindingKind::lone_node);
  }
}

TEST(KindNames, AreDistinctAndTheirNumbersArePublished) {
  std::set<std::string> names;
  for (int k = 0; k <= 7; ++k) names.insert(name_of(static_cast<FindingKind>(k)));
  EXPECT_EQ(names.size(), 8u);
  EXPECT_EQ(static_cast<int>(FindingKind::held_touch), 1);
  EXPECT_EQ(static_cast<int>(FindingKind::two_sign_conductor), 5);
  EXPECT_EQ(static_cast<int>(FindingKind::lone_node), 7);
}

// --- over time -----------------------------------------------------------------------------------

class FindingsOfARunningPanel : public ::testing::Test {
 protected:
  /// One frame every 10 ms; a finding is confirmed after 100 ms, 300 ms if it could be a hand, and
  /// ends after 50 ms.
  void frame(const std::vector<Region>& regions) { show(regions, {100000, 300000, 50000, true}); }
  void look(const std::vector<Region>& regions) { show(regions, {}); }
  void show(const std::vector<Region>& regions, const Patience& patience) {
    RegionTable regions_table;
    for (const Region& r : regions) regions_table.region[regions_table.count++] = r;
    t_us_ += 10000;
    const Settings s = settings();
    table_.update(journal_, regions_table, kPanel, s, limits_of(s), t_us_, patience);
  }
  void frames(int n, const std::vector<Region>& regions) {
    for (int k = 0; k < n; ++k) frame(regions);
  }
  int journalled(JournalCode code) const {
    int n = 0;
    for (std::uint32_t k = journal_.first(); k < journal_.end(); ++k)
      n += journal_.at(k).code == code;
    return n;
  }
  const Finding& only() const { return table_.all()[0]; }

  const Region note_ = region(6, 11, 4, 8, -370, -300);
  FindingTable table_;
  Journal journal_;
  std::uint64_t t_us_ = 1000000;
};

/// Single nodes apart from each other, as lone as lone nodes are.
std::vector<Region> lone_nodes(int count, int peak) {
  std::vector<Region> all;
  for (int k = 0; k < count; ++k) {
    all.push_back(region(2 * k, 2 * k, 1, 1, peak + k, peak + k));
    all.back().lone = true;
  }
  return all;
}

TEST_F(FindingsOfARunningPanel, GiveWayToWhatKeepsInputOffWhenTheTableIsFull) {
  std::vector<Region> all = lone_nodes(7, 3000);
  all.push_back(note_);
  look(all);
  ASSERT_EQ(table_.all().size, 6u);
  ASSERT_NE(table_.worst(), nullptr);
  EXPECT_EQ(table_.worst()->kind, FindingKind::raised_plateau) << "weak, but it keeps input off";
  EXPECT_EQ(table_.overflow(), 2);
  int strongest = 0;
  for (const Finding& f : table_.all()) strongest = std::max<int>(strongest, f.peak);
  EXPECT_EQ(strongest, 3006) << "of the others the stronger stay";
  for (const Finding& f : table_.all())
    EXPECT_TRUE(f.kind == FindingKind::raised_plateau || f.peak >= 3002);
  ASSERT_EQ(journalled(JournalCode::findings_overflow), 1);
  for (std::uint32_t k = journal_.first(); k < journal_.end(); ++k) {
    const JournalEntry& e = journal_.at(k);
    if (e.code != JournalCode::findings_overflow) continue;
    EXPECT_EQ(e.value, 2);
    EXPECT_EQ(e.limit, 6);
    EXPECT_EQ(e.detail, static_cast<int>(FindingKind::lone_node));
    EXPECT_EQ(e.row, 2) << "the weightiest lost one, 3001";
  }
}

TEST_F(FindingsOfARunningPanel, TellOfARunOfFullTablesOnceAndDoNotPushEachOtherOut) {
  std::vector<Region> all = lone_nodes(9, 3000);
  for (int n = 0; n < 40; ++n) {
    for (Region& r : all)
      r.peak = static_cast<std::int16_t>(3000 + (n * 37 + r.peak_row * 91) % 300);
    frame(all);
  }
  EXPECT_EQ(journalled(JournalCode::findings_overflow), 1);
  EXPECT_EQ(journalled(JournalCode::finding_began), 6);
  frames(64, {});
  EXPECT_EQ(table_.overflow(), 0);
  look(lone_nodes(8, 3000));
  EXPECT_EQ(journalled(JournalCode::findings_overflow), 2) << "a new run";
}

TEST_F(FindingsOfARunningPanel, StayInAFullTableIfConfirmedAgainstWhatIsNot) {
  std::vector<Region> all;
  for (int k = 0; k < 6; ++k) all.push_back(region(4 * k, 4 * k + 1, 2, 9, -300, -280));
  frames(12, all);  // confirmed
  all.push_back(region(1, 2, 12, 14, -3000, -2500));
  frame(all);
  EXPECT_EQ(table_.overflow(), 1);
  for (const Finding& f : table_.all()) EXPECT_TRUE(f.confirmed);
}

TEST_F(FindingsOfARunningPanel, AreConfirmedAfterTheirTimeAndJournalledOnce) {
  frames(10, {note_});
  ASSERT_EQ(table_.all().size, 1u);
  EXPECT_FALSE(only().confirmed);
  EXPECT_EQ(table_.worst(), nullptr);
  frame({note_});
  EXPECT_TRUE(only().confirmed);
  ASSERT_NE(table_.worst(), nullptr);
  EXPECT_EQ(only().first_us, 1010000u);
  frames(20, {note_});
  EXPECT_EQ(journalled(JournalCode::finding_began), 1);
  const JournalEntry& e = journal_.at(0);
  EXPECT_EQ(e.value, -370);
  EXPECT_EQ(e.limit, 280);
  EXPECT_EQ(e.detail, static_cast<int>(FindingKind::raised_plateau));
  EXPECT_EQ(e.row, 8);
  EXPECT_EQ(e.col, 6);
}

TEST_F(FindingsOfARunningPanel, EndAfterTheirAbsenceAndOnlyIfConfirmedWithAWord) {
  frames(11, {note_});
  frames(4, {});
  EXPECT_FALSE(only().gone);
  frame({});
  EXPECT_TRUE(only().gone);
  EXPECT_EQ(table_.worst(), nullptr);
  EXPECT_EQ(journalled(JournalCode::finding_ended), 1);
  frames(5, {region(15, 18, 4, 8, -370, -300)});
  frames(6, {});
  EXPECT_EQ(journalled(JournalCode::finding_ended), 1) << "never confirmed, never mentioned";
}

TEST_F(FindingsOfARunningPanel, ShowTheTrendAgainstTheFirstPeak) {
  frame({note_});
  for (int k = 1; k <= 20; ++k) frame({region(6, 11, 4, 8, -370 + 4 * k, -300 + 4 * k)});
  EXPECT_EQ(only().first_peak, -370);
  EXPECT_EQ(only().peak, -290);
}

TEST_F(FindingsOfARunningPanel, StayOneWhenAFilmBreaksUp) {
  frames(11, {note_});
  for (int k = 0; k < 10; ++k)
    frame({region(6, 8, 4, 8, -350, -290), region(10, 11, 4, 8, -360, -250)});
  ASSERT_EQ(table_.all().size, 1u);
  EXPECT_EQ(only().nodes, 25);
  EXPECT_EQ(only().peak, -360);
  EXPECT_EQ(only().box.row0, 6);
  EXPECT_EQ(only().box.row1, 11);
  EXPECT_EQ(only().mean, (15 * -290 + 10 * -250) / 25);
}

TEST_F(FindingsOfARunningPanel, LeaveTouchesToTheContactsButALookDoesNot) {
  const Region finger = region(8, 10, 5, 7, 3400, 1500);
  const Region hand = region(6, 14, 4, 9, 3500, 2600);
  frames(30, {finger, hand});
  EXPECT_EQ(table_.all().size, 0u);
  look({finger});
  ASSERT_EQ(table_.all().size, 1u);
  EXPECT_EQ(only().kind, FindingKind::held_touch);
  EXPECT_TRUE(only().confirmed);
  frames(10, {finger});
  EXPECT_FALSE(only().gone) << "input in use keeps it alive";
  EXPECT_EQ(only().last_us, t_us_);
}

// Merged fingers, a thumb on thick glass, a hand: none is a finding, whatever its outline.
TEST_F(FindingsOfARunningPanel, LeaveWhateverIsAsStrongAsATouchToTheContacts) {
  const Region two_fingers = region(8, 13, 5, 8, 3400, 1400);  // 30 x 20 mm, no plateau
  const Region edge_of_a_hand = region(0, 1, 3, 12, 2000, 1300);
  frames(200, {two_fingers, edge_of_a_hand});
  EXPECT_EQ(table_.all().size, 0u);
}

TEST_F(FindingsOfARunningPanel, WaitLongerForWhatAHandCouldDoAndOnlyWhileItLiesStill) {
  const Region weak = region(8, 13, 5, 10, 500, 350);
  frames(30, {weak});
  ASSERT_EQ(table_.all().size, 1u);
  EXPECT_FALSE(only().confirmed);
  frame({weak});
  EXPECT_TRUE(only().confirmed) << "still for 300 ms";

  table_.reset();
  for (int k = 0; k < 200; ++k) {  // an arm above the glass, shifting by two lines in turn
    const int by = (k / 20) % 2 * 2;
    frame({region(8 + by, 13 + by, 5, 10, 500, 350)});
  }
  for (const Finding& f : table_.all()) EXPECT_FALSE(f.confirmed) << "moves";

  table_.reset();
  for (int k = 0; k < 200; ++k)  // the same, coming nearer and going away
    frame({region(8, 13, 5, 10, 400 + 40 * ((k / 4) % 8), 350)});
  for (const Finding& f : table_.all()) EXPECT_FALSE(f.confirmed) << "comes and goes";
}

// What rises between two fingers of one hand is the hand's: its way to earth is not infinite.
TEST_F(FindingsOfARunningPanel, TakeWhatRisesAmongTouchesForTheHandsAndElsewhereForAThing) {
  const Region a_finger = region(4, 6, 3, 5, 3000, 1500);
  const Region another = region(14, 16, 10, 12, 3000, 1500);
  const Region between = region(9, 10, 7, 8, -600, -500);
  frames(25, {a_finger, another, between});
  ASSERT_EQ(table_.all().size, 1u);
  EXPECT_FALSE(only().confirmed);
  frames(9, {between});
  EXPECT_FALSE(only().confirmed) << "as long as nobody touches counts from here on";
  frames(2, {between});
  EXPECT_TRUE(only().confirmed);

  table_.reset();
  frames(11, {a_finger, region(14, 16, 3, 5, -600, -500)});
  EXPECT_TRUE(only().confirmed) << "a single finger raises nothing far from itself";
}

// A hand takes more to earth than it hands on from rows to columns, a wet streak does not.
TEST_F(FindingsOfARunningPanel, TellAHandFromAStreakByWhatGoesToEarth) {
  const Region raised = region(8, 9, 5, 6, -1000, -800);
  const Region streak_end = region(10, 11, 5, 5, 1200, 1000);
  frames(11, {raised, streak_end});
  ASSERT_EQ(table_.all().size, 1u);
  EXPECT_EQ(only().kind, FindingKind::two_sign_conductor);
  EXPECT_TRUE(only().confirmed);
  table_.reset();
  frames(25, {raised, region(10, 16, 3, 9, 2200, 1700)});
  ASSERT_EQ(table_.all().size, 1u);
  EXPECT_EQ(only().kind, FindingKind::two_sign_conductor);
  EXPECT_FALSE(only().confirmed);
}

TEST_F(FindingsOfARunningPanel, JoinTheTwoSignsAndAllPartsOfOneConductor) {
  // An L: a corner of one sign, two arms of the other that do not touch each other.
  const Region corner = region(8, 9, 5, 6, -4900, -3000);
  const Region arm_down = region(10, 13, 5, 6, 1160, 800);
  const Region arm_right = region(8, 9, 7, 10, 1100, 800);
  for (const std::vector<Region>& order : {std::vector<Region>{corner, arm_down, arm_right},
                                           std::vector<Region>{arm_right, corner, arm_down}}) {
    table_.reset();
    look(order);
    ASSERT_EQ(table_.all().size, 1u);
    EXPECT_EQ(only().kind, FindingKind::two_sign_conductor);
    EXPECT_EQ(only().box.row1, 13);
    EXPECT_EQ(only().box.col1, 10);
    EXPECT_EQ(std::max(only().peak, only().opposite), 1160);
    EXPECT_EQ(std::min(only().peak, only().opposite), -4900);
  }
}

TEST_F(FindingsOfARunningPanel, IgnoreWhatTheBaselineExplains) {
  Region explained = note_;
  explained.explained = true;
  frames(20, {explained});
  EXPECT_EQ(table_.all().size, 0u);
}

TEST_F(FindingsOfARunningPanel, NameTheWorstThatIsNeitherKnownNorALoneNode) {
  Region lone = region(2, 2, 2, 2, 3000, 3000);
  lone.lone = true;
  look({note_, lone, region(15, 20, 4, 9, -900, -800)});
  ASSERT_NE(table_.worst(), nullptr);
  EXPECT_EQ(table_.worst()->peak, -900);
  table_.mark_in_baseline();
  EXPECT_EQ(table_.worst(), nullptr);
}

TEST_F(FindingsOfARunningPanel, KeepAWitnessForWhatLiesInTheBaseline) {
  look({note_});
  table_.mark_in_baseline();
  frames(30, {});
  EXPECT_FALSE(only().gone) << "against that baseline it cannot be seen";
  EXPECT_NE(table_.in_baseline_at(region(12, 13, 4, 5, 1, 1).box), nullptr) << "beside it";
  EXPECT_EQ(table_.in_baseline_at(region(13, 14, 4, 5, 1, 1).box), nullptr);
  frames(11, {note_});
  EXPECT_EQ(table_.all().size, 2u) << "the same again, on top of it, is a new thing";
  EXPECT_NE(table_.worst(), nullptr);
}

TEST_F(FindingsOfARunningPanel, DoNotTakeATouchForTheTouchInTheBaseline) {
  look({region(8, 10, 5, 7, 1200, 600)});
  table_.mark_in_baseline();
  frames(3, {region(7, 11, 4, 8, 3400, 1500)});
  EXPECT_EQ(only().peak, 1200) << "the witness knows its own size";
  EXPECT_EQ(only().box.row0, 8);
}

TEST_F(FindingsOfARunningPanel, AreJudgedAfreshByALook) {
  look({note_});
  table_.mark_in_baseline();
  look({note_});
  ASSERT_EQ(table_.all().size, 1u);
  EXPECT_NE(table_.worst(), nullptr) << "it still lies there";
  table_.mark_in_baseline();
  look({});
  EXPECT_TRUE(only().gone);
  EXPECT_EQ(table_.in_baseline_at(note_.box), nullptr);
}

TEST_F(FindingsOfARunningPanel, KeepAWitnessTooWeakForTheLooksLimit) {
  // Adopted at 200 counts, the look's limit is 280: not seen does not mean not there.
  look({region(6, 11, 4, 8, -200, -180)});
  table_.mark_in_baseline();
  look({});
  EXPECT_NE(table_.in_baseline_at(note_.box), nullptr);
}

TEST_F(FindingsOfARunningPanel, EndAllWithTheBaselineThatHeldThem) {
  look({note_});
  table_.mark_in_baseline();
  table_.end_all(journal_, t_us_, 280);
  EXPECT_TRUE(only().gone);
  EXPECT_EQ(table_.in_baseline_at(note_.box), nullptr);
  EXPECT_EQ(journalled(JournalCode::finding_ended), 1);
}

TEST_F(FindingsOfARunningPanel, GiveTheirPlaceFirstTheUnseenThenTheWeakestUnconfirmed) {
  std::vector<Region> six;
  for (int k = 0; k < 6; ++k) six.push_back(region(4 * k, 4 * k + 1, 2, 6, -1000 - 100 * k, -900));
  frame(six);
  ASSERT_EQ(table_.all().size, 6u);
  std::vector<Region> seven = six;
  seven.push_back(region(2, 3, 10, 11, -2000, -1800));
  frame(seven);
  const auto has = [&](int peak) {
    return std::any_of(table_.all().begin(), table_.all().end(),
                       [&](const Finding& f) { return f.peak == peak && !f.gone; });
  };
  EXPECT_TRUE(has(-2000));
  EXPECT_FALSE(has(-1000)) << "the weakest gave way";
  EXPECT_TRUE(has(-1100));
  frames(2, six);  // it may only be later in the first of them
  EXPECT_FALSE(has(-2000)) << "what is no longer seen gives way to what is";
  EXPECT_TRUE(has(-1000));
  frames(12, six);
  frame({region(2, 3, 13, 14, -500, -450)});
  EXPECT_FALSE(has(-500)) << "confirmed ones never give way";
  frames(6, {six.begin() + 1, six.end()});
  frame({region(2, 3, 13, 14, -500, -450)});
  EXPECT_TRUE(has(-500)) << "in the place of the gone one";
  for (int k = 1; k < 6; ++k) EXPECT_TRUE(has(-1000 - 100 * k)) << "the confirmed ones stay";
}

TEST_F(FindingsOfARunningPanel, TakeOneFromElsewhereAsConfirmed) {
  Finding held;
  held.kind = FindingKind::held_touch;
  held.peak = 3300;
  held.peak_row = 8;
  held.peak_col = 5;
  held.box = {7, 9, 4, 6};
  held.first_us = held.last_us = t_us_;
  table_.add(journal_, held, 280);
  ASSERT_NE(table_.worst(), nullptr);
  EXPECT_EQ(table_.worst()->peak, 3300);
  EXPECT_EQ(journalled(JournalCode::finding_began), 1);
  EXPECT_EQ(journal_.at(0).row, 8);
}

}  // namespace
}  // namespace bareglass
