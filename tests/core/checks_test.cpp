#include "bareglass/core/checks.hpp"

#include <gtest/gtest.h>

#include <cstdint>
#include <vector>

namespace bareglass {
namespace {

class CheckerThatSawOneFrame : public ::testing::Test {
 protected:
  CheckerThatSawOneFrame() {
    settings_.shape = {10, 10};
    EXPECT_EQ(check(100, 5000), FrameStatus::ok);
  }
  FrameStatus check(std::uint32_t sequence, std::uint64_t t_us) {
    return checker_.check(journal_, {raw_.data(), shape_, sequence, t_us}, settings_);
  }
  const JournalEntry& last() const { return journal_.at(journal_.end() - 1); }

  Settings settings_;
  Shape shape_{10, 10};
  std::vector<std::uint16_t> raw_ = std::vector<std::uint16_t>(100, 30000);
  Journal journal_;
  FrameChecker checker_;
};

TEST_F(CheckerThatSawOneFrame, TakesTheNextWithoutAWord) {
  EXPECT_EQ(check(101, 13000), FrameStatus::ok);
  EXPECT_EQ(check(102, 13000), FrameStatus::ok);  // a coarse clock may stand still
  EXPECT_EQ(journal_.end(), 0u);
}

TEST_F(CheckerThatSawOneFrame, KnowsARepeatedFrame) {
  EXPECT_EQ(check(100, 5000), FrameStatus::repeated);
  EXPECT_EQ(check(100, 5001), FrameStatus::ok);
  EXPECT_EQ(journal_.end(), 0u);
}

TEST_F(CheckerThatSawOneFrame, JournalsHowManyFramesAreMissing) {
  EXPECT_EQ(check(104, 13000), FrameStatus::ok);
  ASSERT_EQ(journal_.end(), 1u);
  EXPECT_EQ(last().code, JournalCode::frames_missing);
  EXPECT_EQ(last().value, 3);
  EXPECT_EQ(last().t_us, 13000u);
  for (std::uint32_t k = 0; k < 64; ++k) check(105 + k, 14000 + 1000 * k);  // the run is over
  EXPECT_EQ(check(170, 90000), FrameStatus::ok);
  ASSERT_EQ(journal_.end(), 2u);
  EXPECT_EQ(last().value, 1);
}

TEST_F(CheckerThatSawOneFrame, DoesNotFillTheJournalWhileFramesAreLostAllTheTime) {
  std::uint32_t sequence = 100;
  std::int32_t told = 0;
  std::uint32_t read = 0;
  const auto read_on = [&] {
    for (; read < journal_.end(); ++read) told += journal_.at(read).value;
  };
  for (std::uint32_t k = 1; k <= 5000; ++k) {
    sequence += 3;
    check(sequence, 5000 + 1000 * k);
    read_on();
  }
  EXPECT_EQ(journal_.end(), 7u) << "gaps 1, 4, 16, 64, 256, 1024 and 4096";
  EXPECT_EQ(told, 2 * 4096) << "each entry tells what was lost since the one before";
  for (std::uint32_t k = 1; k <= 64; ++k) check(sequence + k, 6000000 + 1000 * k);
  read_on();
  EXPECT_EQ(journal_.end(), 8u);
  EXPECT_EQ(told, 2 * 5000) << "at the end of the run nothing is left untold";
  check(sequence + 64, 7000000);
  check(sequence + 70, 7001000);
  EXPECT_EQ(journal_.end(), 9u) << "a new run begins with an entry";
}

TEST_F(CheckerThatSawOneFrame, FollowsTheSequenceAcrossItsWrap) {
  EXPECT_EQ(check(0xFFFFFFFFu, 6000), FrameStatus::ok);
  ASSERT_EQ(journal_.end(), 1u) << "an earlier number: no gap is claimed";
  EXPECT_EQ(last().code, JournalCode::sequence_back);
  EXPECT_EQ(last().value, 101);
  EXPECT_EQ(check(0, 7000), FrameStatus::ok);
  EXPECT_EQ(journal_.end(), 1u);
  EXPECT_EQ(check(3, 8000), FrameStatus::ok);
  ASSERT_EQ(journal_.end(), 2u);
  EXPECT_EQ(last().code, JournalCode::frames_missing);
  EXPECT_EQ(last().value, 2);
}

TEST_F(CheckerThatSawOneFrame, RefusesStampsThatGoBackAndJournalsARunOnce) {
  EXPECT_EQ(check(101, 2000), FrameStatus::stamp_backward);
  EXPECT_EQ(check(102, 2500), FrameStatus::stamp_backward);
  ASSERT_EQ(journal_.end(), 1u);
  EXPECT_EQ(last().code, JournalCode::stamp_backward);
  EXPECT_EQ(last().value, 3);  // milliseconds
  EXPECT_EQ(check(101, 9000), FrameStatus::ok) << "refused frames are no part of the sequence";
  EXPECT_EQ(journal_.end(), 1u);
  EXPECT_EQ(check(102, 8000), FrameStatus::stamp_backward);
  EXPECT_EQ(journal_.end(), 2u) << "a new run is a new entry";
}

TEST_F(CheckerThatSawOneFrame, SaturatesTheSizeOfHugeSteps) {
  EXPECT_EQ(check(101, 0xFFFFFFFFFFFFFFFFull), FrameStatus::stamp_ahead);
  EXPECT_EQ(last().code, JournalCode::stamp_ahead);
  EXPECT_EQ(last().value, 2147483647);
  EXPECT_EQ(last().limit, 60000);
  checker_.reset(0xFFFFFFFFFFFFFFF0ull);
  EXPECT_EQ(check(102, 1), FrameStatus::stamp_backward);
  EXPECT_EQ(last().value, 2147483647);
}

TEST_F(CheckerThatSawOneFrame, BelievesAStepOfAMinuteAndNoLonger) {
  EXPECT_EQ(check(101, 5000 + kLongestStepUs + 1), FrameStatus::stamp_ahead);
  EXPECT_EQ(last().t_us, 5000u) << "of a stamp that is not believed the last time that was";
  EXPECT_EQ(check(101, 5000 + kLongestStepUs), FrameStatus::ok);
  EXPECT_EQ(journal_.end(), 1u);
}

TEST_F(CheckerThatSawOneFrame, TakesTheEighthMisfitInARowForARestartedClock) {
  const auto misfits = [this](std::uint64_t t_us, int n) {
    for (std::uint32_t k = 0; k < static_cast<std::uint32_t>(n); ++k) {
      const Frame frame{raw_.data(), shape_, 101 + k, t_us + 10 * k};
      EXPECT_EQ(checker_.restarts(frame), k == 7) << k;
      const FrameStatus status = check(101 + k, t_us + 10 * k);
      if (k < 7)
        EXPECT_TRUE(status == FrameStatus::stamp_backward || status == FrameStatus::stamp_ahead);
      else
        EXPECT_EQ(status, FrameStatus::clock_restarted);
    }
  };
  misfits(1000, 7);
  EXPECT_EQ(check(108, 6000), FrameStatus::ok) << "seven may be a late buffer";
  misfits(2000, 8);
  EXPECT_EQ(last().code, JournalCode::clock_restarted);
  EXPECT_EQ(last().value, -3) << "from 6000 to 2070 us";
  EXPECT_EQ(last().limit, 0);
  EXPECT_EQ(last().t_us, 2070u);
  EXPECT_EQ(check(109, 2100), FrameStatus::ok);
  misfits(3600000000000ull, 8);
  EXPECT_EQ(last().code, JournalCode::clock_restarted);
  EXPECT_EQ(last().value, 2147483647);
  EXPECT_EQ(last().limit, 60000);
}

TEST_F(CheckerThatSawOneFrame, CountsMisfitsThroughFramesOfAnotherShape) {
  for (std::uint32_t k = 0; k < 7; ++k) {
    check(101 + k, 1000);
    shape_ = {9, 9};
    EXPECT_EQ(check(101 + k, 7000), FrameStatus::wrong_shape);
    shape_ = {10, 10};
  }
  EXPECT_EQ(check(108, 1000), FrameStatus::clock_restarted);
}

TEST_F(CheckerThatSawOneFrame, SaysThatTheSequenceWentBackAndIsNotDrownedByTwoSources) {
  for (std::uint32_t k = 1; k <= 200; ++k) {
    check(1000 + k, 6000 + 2000 * k);
    check(20 + k, 7000 + 2000 * k);
  }
  std::uint32_t told = 0;
  for (std::uint32_t n = journal_.first(); n < journal_.end(); ++n)
    told += journal_.at(n).code == JournalCode::sequence_back;
  EXPECT_EQ(told, 4u) << "the 1st, 4th, 16th and 64th of 200";
}

TEST(CheckerOfAPanelThatWasPoweredUp, KnowsNoTimeBeforeThat) {
  Settings settings;
  settings.shape = {10, 10};
  const std::vector<std::uint16_t> raw(100, 30000);
  Journal journal;
  FrameChecker checker;
  checker.reset(5000000);
  EXPECT_EQ(checker.check(journal, {raw.data(), {10, 10}, 1, 4999999}, settings),
            FrameStatus::stamp_backward);
  EXPECT_EQ(checker.check(journal, {raw.data(), {10, 10}, 1, 7200000000}, settings),
            FrameStatus::ok)
      << "scanning may begin hours later";
}

TEST_F(CheckerThatSawOneFrame, RefusesAnotherShapeAndJournalsARunOnce) {
  shape_ = {10, 9};
  for (std::uint32_t k = 1; k < 100; ++k)
    EXPECT_EQ(check(100 + k, 5000 + k), FrameStatus::wrong_shape);
  ASSERT_EQ(journal_.end(), 1u) << "a stream of them must not push the evidence out of the ring";
  EXPECT_EQ(last().code, JournalCode::wrong_shape);
  EXPECT_EQ(last().value, 90);
  EXPECT_EQ(last().limit, 100);
  shape_ = {10, 10};
  EXPECT_EQ(check(101, 5001), FrameStatus::ok) << "nothing was learnt from the refused ones";
  EXPECT_EQ(journal_.end(), 1u);
  shape_ = {9, 10};
  EXPECT_EQ(check(102, 5002), FrameStatus::wrong_shape);
  EXPECT_EQ(journal_.end(), 2u);
}

TEST_F(CheckerThatSawOneFrame, AllowsTheStatedShareOfSaturatedNodesAndNoMore) {
  settings_.saturated_permille = 20;  // 2 of 100 nodes
  raw_[3] = 65519;
  raw_[77] = 16;
  EXPECT_EQ(check(101, 6000), FrameStatus::ok);
  raw_[99] = 65535;
  EXPECT_EQ(check(102, 7000), FrameStatus::saturated);
  EXPECT_EQ(check(103, 8000), FrameStatus::saturated);
  ASSERT_EQ(journal_.end(), 1u);
  EXPECT_EQ(last().code, JournalCode::frame_saturated);
  EXPECT_EQ(last().value, 3);
  EXPECT_EQ(last().limit, 2);
  raw_[99] = 65518;  // just inside the converter's range
  raw_[3] = 17;
  EXPECT_EQ(check(104, 9000), FrameStatus::ok);
}

TEST_F(CheckerThatSawOneFrame, CountsSaturationAtBothEndsOfAnyRange) {
  settings_.saturated_permille = 1;
  settings_.raw_low = 0;
  settings_.raw_high = 65535;
  EXPECT_EQ(check(101, 6000), FrameStatus::ok);
  raw_[0] = 0;
  EXPECT_EQ(check(102, 6001), FrameStatus::saturated);
  raw_[0] = 65535;
  EXPECT_EQ(check(103, 6002), FrameStatus::saturated);
  raw_[0] = 1;
  EXPECT_EQ(check(104, 6003), FrameStatus::ok);
  raw_[0] = 65534;
  EXPECT_EQ(check(105, 6004), FrameStatus::ok);
}

TEST_F(CheckerThatSawOneFrame, ForgetsWhenReset) {
  checker_.reset(0);
  EXPECT_EQ(check(7, 1), FrameStatus::ok);
  EXPECT_EQ(journal_.end(), 0u);
}

}  // namespace
}  // namespace bareglass
