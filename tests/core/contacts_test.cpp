#include "bareglass/core/contacts.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

#include "support/gaussian_touch.hpp"

namespace bareglass {
namespace {

using support::contact_settings;
using support::DifferenceFrame;
using support::PeakFinder;

constexpr Shape kPanel{12, 9};

TEST(OneFinger, IsOnePeakAtItsPlace) {
  PeakFinder finder(contact_settings(kPanel));
  const PeakList& peaks = finder.find(DifferenceFrame(kPanel).add(5, 4, 3500));
  ASSERT_EQ(peaks.count, 1);
  EXPECT_EQ(peaks.peak[0].strength, 3500);
  EXPECT_EQ(peaks.peak[0].row, 5);
  EXPECT_EQ(peaks.peak[0].col, 4);
  EXPECT_EQ(peaks.peak[0].y_q8, 5 * 256);
  EXPECT_EQ(peaks.peak[0].x_q8, 4 * 256);
  EXPECT_FALSE(peaks.peak[0].palm);
}

TEST(OneFinger, BetweenTwoOrFourEqualNodesIsStillOnePeakInTheMiddle) {
  PeakFinder finder(contact_settings(kPanel));
  for (const double dr : {0.0, 0.5})
    for (const double dc : {0.0, 0.5}) {
      const PeakList& peaks = finder.find(DifferenceFrame(kPanel).add(5 + dr, 4 + dc, 3500));
      ASSERT_EQ(peaks.count, 1) << dr << ' ' << dc;
      EXPECT_NEAR(peaks.peak[0].y_q8 / 256.0, 5 + dr, 0.1);
      EXPECT_NEAR(peaks.peak[0].x_q8 / 256.0, 4 + dc, 0.1);
    }
}

TEST(OneFinger, BelowTouchOffIsNoPeak) {
  PeakFinder finder(contact_settings(kPanel));
  EXPECT_EQ(finder.find(DifferenceFrame(kPanel).add(5, 4, 700)).count, 1);  // 20 % of 3500
  EXPECT_EQ(finder.find(DifferenceFrame(kPanel).add(5, 4, 699)).count, 0);
  EXPECT_EQ(finder.find(DifferenceFrame(kPanel).add(5, 4, -3500)).count, 0);
}

struct SweepErrors {
  double inside = 0;  ///< pitches, worst, nearest line not a border line
  double border = 0;  ///< pitches, worst, nearest line a border line
};

SweepErrors sweep(double neighbour, std::uint16_t setting) {
  Settings s = contact_settings(kPanel);
  s.neighbour_permille = setting;
  PeakFinder finder(s);
  SweepErrors worst;
  // From a quarter of a pitch outside the outermost line to the same on the other side.
  for (double row = -0.25; row <= kPanel.rows - 0.75; row += 0.0625)
    for (double col = -0.25; col <= kPanel.cols - 0.75; col += 0.0625) {
      const PeakList& peaks = finder.find(DifferenceFrame(kPanel).add(row, col, 3500, neighbour));
      EXPECT_EQ(peaks.count, 1) << row << ' ' << col;
      const Peak& p = peaks.peak[0];
      const double ey = std::abs(p.y_q8 / 256.0 - row);
      const double ex = std::abs(p.x_q8 / 256.0 - col);
      double& y = p.row == 0 || p.row == kPanel.rows - 1 ? worst.border : worst.inside;
      y = std::max(y, ey);
      double& x = p.col == 0 || p.col == kPanel.cols - 1 ? worst.border : worst.inside;
      x = std::max(x, ex);
    }
  return worst;
}

TEST(FingerSweptOverTheWholePanel, IsLocatedWithinTheMeasuredBounds) {
  // Measured: 0.024 pitch (0.12 mm at 5 mm) inside; 0.008 at the border, where the profile is
  // assumed.
  const SweepErrors worst = sweep(0.355, 355);
  RecordProperty("inside_permille_of_pitch", static_cast<int>(worst.inside * 1000));
  RecordProperty("border_permille_of_pitch", static_cast<int>(worst.border * 1000));
  EXPECT_LT(worst.inside, 0.025);
  EXPECT_LT(worst.border, 0.010);
  EXPECT_GT(worst.inside, 0.01) << "better than this was never measured: is the sweep alive?";
}

TEST(FingerSweptOverTheWholePanel, OfAnotherWidthThanTheSettingSaysIsStillNear) {
  const SweepErrors narrow = sweep(0.20, 355);
  const SweepErrors wide = sweep(0.50, 355);
  // Measured: narrow 0.012 inside, 0.344 at the border; wide 0.051 and 0.258. The border formula
  // trusts the setting: a width that is wrong costs more than a millimetre there.
  EXPECT_LT(narrow.inside, 0.015);
  EXPECT_LT(narrow.border, 0.35);
  EXPECT_LT(wide.inside, 0.055);
  EXPECT_LT(wide.border, 0.265);
}

TEST(FingerAtTheBorder, WithoutAnySignalOnTheSecondLineIsAtTheOuterEdge) {
  PeakFinder finder(contact_settings(kPanel));
  const PeakList& peaks =
      finder.find(DifferenceFrame(kPanel).fill(0, 0, 3, 5, 2000).set(0, 4, 3000));
  ASSERT_EQ(peaks.count, 1);
  EXPECT_EQ(peaks.peak[0].y_q8, -128);
  EXPECT_EQ(peaks.peak[0].x_q8, 4 * 256);
}

TEST(TwoFingers, AreToldApartWhenAValleyLiesBetweenThem) {
  PeakFinder finder(contact_settings(kPanel));
  const PeakList& peaks = finder.find(DifferenceFrame(kPanel).add(5, 2, 3000).add(5, 5, 3500));
  ASSERT_EQ(finder.regions.count, 1) << "their skirts join";
  ASSERT_EQ(peaks.count, 2);
  EXPECT_EQ(peaks.peak[0].col, 5) << "strongest first";
  EXPECT_EQ(peaks.peak[1].col, 2);
}

TEST(TwoFingers, OnADiagonalAreToldApartAlongTheStraightLine) {
  PeakFinder finder(contact_settings(kPanel));
  const PeakList& peaks = finder.find(DifferenceFrame(kPanel).add(3, 2, 3500).add(6, 4, 3400));
  ASSERT_EQ(finder.regions.count, 1);
  EXPECT_EQ(peaks.count, 2);
}

/// 3000 and 3500 counts on a floor of 1000, `valley` between them. The sections across weigh
/// 2 · 3000 + 2 · 1000 at the lower peak, 2 · valley + 2 · 1000 between.
DifferenceFrame two_peaks(int valley) {
  DifferenceFrame frame(kPanel);
  return frame.fill(4, 6, 2, 6, 1000).set(5, 3, 3000).set(5, 5, 3500).set(5, 4, valley);
}

TEST(TwoFingers, AreOneTouchWhileTheValleyIsShallow) {
  PeakFinder finder(contact_settings(kPanel));
  // The setting puts the boundary at 950 permille of 8000: 2 · 2800 + 2000.
  ASSERT_EQ(finder.find(two_peaks(2800)).count, 1);
  EXPECT_EQ(finder.peaks.peak[0].col, 5);
  EXPECT_EQ(finder.find(two_peaks(2799)).count, 2);
}

TEST(TwoFingers, AreOneTouchWhileTheValleyMayBeNoise) {
  PeakFinder finder(contact_settings(kPanel));
  // The section falls by 2 · 500; three sigma of its weight of 4 are that at 83.3 counts.
  finder.sigma_q4 = 83 * 16;
  EXPECT_EQ(finder.find(two_peaks(2500)).count, 2);
  finder.sigma_q4 = 84 * 16;
  EXPECT_EQ(finder.find(two_peaks(2500)).count, 1);
}

TEST(OneNodeThatReadsLow, DoesNotPartAWideTouch) {
  PeakFinder finder(contact_settings(kPanel));
  DifferenceFrame frame(kPanel);
  frame.fill(3, 7, 2, 6, 3000).set(5, 3, 3200).set(5, 5, 3300).set(5, 4, 2920);
  EXPECT_EQ(finder.find(frame).count, 1) << "91 % of its row's lower peak, but no waist";
}

TEST(TwoFingers, AKnightsMoveApartArePartedByTheMeanOfTheNodesBetween) {
  PeakFinder finder(contact_settings(kPanel));
  DifferenceFrame frame(kPanel);
  // Between rows 4 and 6 the way passes half way between columns 3 and 4 of row 5, of which the one
  // alone would be a valley.
  frame.fill(3, 7, 2, 5, 500).set(4, 3, 3000).set(6, 4, 3000).set(5, 3, 1700).set(5, 4, 2600);
  EXPECT_EQ(finder.find(frame).count, 1);
  EXPECT_EQ(finder.find(frame.set(5, 4, 1700)).count, 2);
}

TEST(ThreeFingersInARow, KeepTheOuterOnesApart) {
  PeakFinder finder(contact_settings(kPanel));
  const PeakList& peaks =
      finder.find(DifferenceFrame(kPanel).add(5, 1, 3500).add(5, 4, 3200).add(5, 7, 3400));
  EXPECT_EQ(peaks.count, 3);
}

TEST(Palm, IsOnePeakFlaggedWhateverItsBumps) {
  Settings s = contact_settings({16, 10});
  PeakFinder finder(s);
  DifferenceFrame frame({16, 10});
  frame.fill(3, 9, 1, 8, 2000).set(4, 4, 3400).set(8, 6, 3500).set(8, 3, 3000);
  // The sections between the bumps reach 85 to 90 % of theirs: as contacts they would be parted.
  const PeakList& peaks = finder.find(frame);
  ASSERT_EQ(finder.limits.palm_nodes, 32);  // 800 mm² at 25 mm² a node; here 56 nodes
  ASSERT_EQ(peaks.count, 1);
  EXPECT_TRUE(peaks.peak[0].palm);
  EXPECT_EQ(peaks.peak[0].strength, 3500);
  EXPECT_EQ(peaks.peak[0].half_nodes, 56);
  EXPECT_EQ(peaks.peak[0].flat_nodes, 3) << "2625 counts and more";
  finder.settings.palm_mm2 = 20000;
  finder.limits = limits_of(finder.settings);
  EXPECT_EQ(finder.find(frame).count, 3);
}

TEST(Palm, BeginsAtTheStatedAreaAboveHalfOfItsPeak) {
  PeakFinder finder(contact_settings({16, 10}));
  DifferenceFrame frame({16, 10});
  frame.fill(2, 10, 2, 8, 900).fill(3, 8, 3, 7, 2000).fill(9, 9, 3, 4, 2000);
  EXPECT_TRUE(finder.find(frame).peak[0].palm) << "32 nodes";
  EXPECT_FALSE(finder.find(frame.set(9, 4, 990)).peak[0].palm) << "31, and a skirt of as many";
}

TEST(Palm, IsNotWhatIsAsNarrowAsFingers) {
  PeakFinder finder(contact_settings({16, 10}));
  // 36 nodes, 900 mm², but 15 mm wide: fingers side by side.
  EXPECT_FALSE(finder.find(DifferenceFrame({16, 10}).fill(2, 13, 3, 5, 2000)).peak[0].palm);
  DifferenceFrame diagonal({16, 10});
  for (int k = 0; k < 10; ++k)
    diagonal.fill(k + 1, k + 3, k < 2 ? 0 : k - 2, k < 8 ? k + 1 : 9, 2000);
  EXPECT_FALSE(finder.find(diagonal).peak[0].palm);
}

// A finger laid flat, the edge of a hand, a trickle from the bezel: no fingertips are so long.
TEST(Palm, IsWhatIsLongerThanThreeFingertips) {
  PeakFinder finder(contact_settings({16, 10}));
  EXPECT_FALSE(finder.find(DifferenceFrame({16, 10}).fill(2, 13, 4, 4, 2000)).peak[0].palm);
  EXPECT_TRUE(finder.find(DifferenceFrame({16, 10}).fill(2, 14, 4, 4, 2000)).peak[0].palm);
}

TEST(Palm, IsALevelBandAlongTheBezelButNotFingersInARowThere) {
  PeakFinder finder(contact_settings({16, 10}));
  const auto band = [&](int row) {
    return finder.find(DifferenceFrame({16, 10}).fill(row, row, 1, 8, 2500)).peak[0].palm;
  };
  EXPECT_TRUE(band(0)) << "fluid that creeps in";
  EXPECT_TRUE(band(15));
  EXPECT_FALSE(band(5)) << "eight lines inside the panel could be three fingers";
  DifferenceFrame fingers({16, 10});
  fingers.add(0, 2, 3000, 0.5).add(0, 4.4, 3000, 0.5).add(0, 6.8, 3000, 0.5);
  const PeakList& peaks = finder.find(fingers);
  for (int k = 0; k < peaks.count; ++k) EXPECT_FALSE(peaks.peak[k].palm);
}

TEST(Palm, OverTheBorderIsToldFromItsPart) {
  PeakFinder finder(contact_settings({16, 10}));
  // Of a palm 40 mm wide rows 0 to 3 are seen, 28 nodes: 700 mm².
  DifferenceFrame frame({16, 10});
  frame.fill(0, 1, 1, 8, 2000).fill(2, 2, 2, 7, 2000).fill(3, 3, 2, 7, 2000);
  EXPECT_TRUE(finder.find(frame).peak[0].palm);
  DifferenceFrame inside({16, 10});
  inside.fill(1, 2, 1, 8, 2000).fill(3, 3, 2, 7, 2000).fill(4, 4, 2, 7, 2000);
  EXPECT_FALSE(finder.find(inside).peak[0].palm) << "where nothing hides the rest";
}

TEST(Palm, DoesNotCrowdAFingerOutOfTheListByBeingFlat) {
  // Of equal neighbours exactly one is a maximum; else 35 of them would fill the list.
  PeakFinder finder(contact_settings({16, 12}));
  const PeakList& peaks =
      finder.find(DifferenceFrame({16, 12}).fill(1, 7, 1, 5, 3400).add(13, 9, 2500));
  ASSERT_EQ(peaks.count, 2);
  EXPECT_EQ(peaks.peak[1].row, 13);
}

TEST(Palm, DoesNotCrowdAFingerOutOfTheListByItsBumps) {
  PeakFinder finder(contact_settings({24, 24}));
  DifferenceFrame frame({24, 24});
  frame.fill(1, 11, 1, 11, 3400).add(18, 18, 2500);
  for (int k = 0; k < 36; ++k) frame.set(1 + 2 * (k / 6), 1 + 2 * (k % 6), 3450);
  const PeakList& peaks = finder.find(frame);
  ASSERT_EQ(peaks.count, 2);
  EXPECT_TRUE(peaks.peak[0].palm);
  EXPECT_EQ(peaks.peak[1].row, 18);
}

TEST(MorePeaksThanTheListHolds, LeaveTheWeakestOut) {
  const Shape shape{24, 24};
  PeakFinder finder(contact_settings(shape));
  DifferenceFrame frame(shape);
  // One region: a low floor with 36 separate summits of different height.
  frame.fill(0, 23, 0, 23, 300);
  std::vector<int> heights;
  for (int k = 0; k < 36; ++k) {
    heights.push_back(1000 + 37 * ((k * 17) % 36));
    frame.set(2 + 4 * (k / 6 % 6) - (k / 6 == 5 ? 1 : 0), 2 + 4 * (k % 6) - (k % 6 == 5 ? 1 : 0),
              heights.back());
  }
  finder.settings.palm_mm2 = 20000;
  finder.limits = limits_of(finder.settings);
  const PeakList& peaks = finder.find(frame);
  ASSERT_EQ(peaks.count, PeakList::kMaxPeaks);
  std::sort(heights.rbegin(), heights.rend());
  for (int k = 0; k < peaks.count; ++k)
    EXPECT_EQ(peaks.peak[k].strength, heights[static_cast<std::size_t>(k)]);
}

TEST(RegionsThatAreNoTouch, GiveNoPeaks) {
  PeakFinder finder(contact_settings(kPanel));
  ASSERT_EQ(finder.find(DifferenceFrame(kPanel).add(5, 4, 3500)).count, 1);
  const View<const std::uint8_t> label{finder.label.data(), finder.label.size()};
  const View<const std::int16_t> d{finder.difference.data(), finder.difference.size()};
  finder.regions.region[0].explained = true;
  find_peaks(finder.peaks, finder.regions, label, d, finder.settings, finder.limits, 0);
  EXPECT_EQ(finder.peaks.count, 0);
  finder.regions.region[0].explained = false;
  finder.regions.region[0].lone = true;
  find_peaks(finder.peaks, finder.regions, label, d, finder.settings, finder.limits, 0);
  EXPECT_EQ(finder.peaks.count, 0);
  finder.regions.region[0].lone = false;
  finder.regions.region[0].two_signed = true;
  find_peaks(finder.peaks, finder.regions, label, d, finder.settings, finder.limits, 0);
  EXPECT_EQ(finder.peaks.count, 0);
}

TEST(AnyDifferenceFrame, GivesPeaksThatAreMaximaInsideTheirRegionAndPositionsNearThem) {
  const std::uint32_t seed = 35001;
  std::mt19937 random(seed);
  for (int k = 0; k < 3000; ++k) {
    SCOPED_TRACE(::testing::Message() << "seed " << seed << ", frame " << k);
    const Shape shape{2 + static_cast<int>(random() % 14), 2 + static_cast<int>(random() % 14)};
    PeakFinder finder(contact_settings(shape));
    DifferenceFrame frame(shape);
    for (int r = 0; r < shape.rows; ++r)
      for (int c = 0; c < shape.cols; ++c)
        frame.set(r, c, static_cast<int>(random() % 65535) - 32767);
    const PeakList& peaks = finder.find(frame);
    for (int p = 0; p < peaks.count; ++p) {
      const Peak& peak = peaks.peak[p];
      const auto at = static_cast<std::size_t>(peak.row * shape.cols + peak.col);
      ASSERT_EQ(finder.difference[at], peak.strength);
      ASSERT_EQ(finder.label[at], peak.region + 1);
      const Box box = finder.regions.region[peak.region].box;
      ASSERT_GE(peak.x_q8, std::max(box.col0 * 256 - 256, -128));
      ASSERT_LE(peak.x_q8, std::min(box.col1 * 256 + 256, shape.cols * 256 - 128));
      ASSERT_GE(peak.y_q8, std::max(box.row0 * 256 - 256, -128));
      ASSERT_LE(peak.y_q8, std::min(box.row1 * 256 + 256, shape.rows * 256 - 128));
      ASSERT_GE(peak.half_nodes, 1);
      ASSERT_GE(peak.half_nodes, peak.flat_nodes);
      if (p > 0) {
        ASSERT_LE(peak.strength, peaks.peak[p - 1].strength);
      }
    }
  }
}

}  // namespace
}  // namespace bareglass
