// What 100 % of a finger is, in dumps that do not state it: in every format, at any gain, and said
// in the answer.
#include "bareglass/replay/finger_scale.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/replay/replay.hpp"
#include "support/capture_bytes.hpp"
#include "support/record_list.hpp"

namespace bareglass::host {
namespace {

using support::RecordListReader;
using ::testing::HasSubstr;
using ::testing::Not;

constexpr int kRows = 12;
constexpr int kCols = 10;

/// A bare panel that reads `bare` counts, and a finger that takes 16 % of that from the middle of
/// it in the later frames. `stated`: the finger's signal in the panel description, 0 for none.
std::vector<Record> dump(int bare, int stated = 0, FrameKind kind = FrameKind::raw) {
  std::vector<Record> records{support::described_panel(kRows, kCols, stated)};
  for (std::uint32_t n = 0; n < 200; ++n) {
    FrameRecord frame;
    frame.kind = kind;
    frame.sequence = n;
    frame.t_us = 1000000 + 8000ull * n;
    frame.rows = kRows;
    frame.cols = kCols;
    for (int row = 0; row < kRows; ++row)
      for (int col = 0; col < kCols; ++col) {
        const double away = std::hypot(row - 6, col - 5);
        const double loss = n < 100 ? 0.0 : 0.16 * bare * std::exp(-1.04 * away * away);
        if (kind == FrameKind::raw)
          frame.raw.push_back(static_cast<std::uint16_t>(std::lround(bare - loss)));
        else
          frame.difference.push_back(static_cast<std::int16_t>(std::lround(loss)));
      }
    records.emplace_back(std::move(frame));
  }
  return records;
}

Account replayed(const std::vector<Record>& records, const ReplayOptions& options = {}) {
  RecordListReader reader(records);
  return replay(reader, "dump", options);
}

/// Without its description, in a format that may hold no more than frames.
Account replayed_as(CaptureFormat format, const std::vector<Record>& records) {
  OpenOptions opening;
  opening.rows = kRows;
  opening.cols = kCols;
  opening.frame_period_us = 8000;
  if (format != CaptureFormat::frames && format != CaptureFormat::csv) opening.format = format;
  const auto reader = support::read_bytes(support::written_as(format, records), opening);
  return replay(*reader, "dump", {});
}

std::string refused(const std::vector<Record>& records, const ReplayOptions& options = {}) {
  try {
    replayed(records, options);
  } catch (const CaptureError& error) {
    return error.what();
  }
  return "nothing was refused";
}

/// The strongest contact, per cent of a finger.
double percent_of(const std::vector<Record>& records) {
  int strongest = 0;
  ReplayOptions options;
  options.contacts = [&](View<const Contact> contacts, std::uint64_t) {
    for (const Contact& c : contacts) strongest = std::max(strongest, int{c.strength});
  };
  const Account account = replayed(records, options);
  return 100.0 * strongest / account.settings.finger_counts;
}

/// The answer without its line breaks.
std::string told(const Account& account) {
  std::string text = explanation_text("dump", account, diagnose(account), {});
  for (std::size_t at = 0; (at = text.find('\n', at)) != std::string::npos; ++at) {
    const std::size_t next = std::min(text.find_first_not_of(" \n", at), text.size());
    text.replace(at, next - at, " ");
  }
  return text;
}

TEST(DumpThatStatesNoFinger, IsMeasuredByItsBareReadingInEveryRawFormat) {
  for (const CaptureFormat format :
       {CaptureFormat::frames, CaptureFormat::csv, CaptureFormat::npy, CaptureFormat::tu16}) {
    const Account a = replayed_as(format, dump(8000));
    EXPECT_EQ(a.finger.source, FingerScale::Source::bare_reading) << format_name(format);
    EXPECT_EQ(a.finger.bare_counts, 8000) << format_name(format);
    EXPECT_EQ(a.settings.finger_counts, 1200) << format_name(format);
    EXPECT_EQ(a.touches, 1u) << format_name(format);
  }
}

TEST(DumpThatStatesNoFinger, TellsTheSamePercentAtEveryGain) {
  const double once = percent_of(dump(6000));
  EXPECT_NEAR(once, 100.0 * 0.16 / 0.15, 2.0);
  EXPECT_NEAR(percent_of(dump(600)), once, 2.0);
  EXPECT_NEAR(percent_of(dump(60000)), once, 2.0);
}

TEST(DumpThatStatesNoFinger, SaysInItsAnswerWhatAFingerWasTakenAs) {
  const Account a = replayed(dump(8000));
  const std::string text = told(a);
  EXPECT_THAT(text, HasSubstr("A finger is taken as 1200 counts: 15 % of the bare reading"));
  EXPECT_THAT(text, HasSubstr("not stated in the dump"));
  EXPECT_THAT(text, HasSubstr("--finger-counts"));
  const std::string json = explanation_json("dump", a, diagnose(a));
  EXPECT_THAT(json, HasSubstr("\"source\": \"bare_reading\""));
  EXPECT_THAT(json, HasSubstr("\"bare_counts\": 8000"));
}

TEST(DumpThatStatesNoFinger, IsRefusedWithTheOptionWhereNothingFollows) {
  const std::string of_differences = refused(dump(8000, 0, FrameKind::difference));
  EXPECT_THAT(of_differences, HasSubstr("dump: signal of a finger: expected --finger-counts N"));
  EXPECT_THAT(of_differences, HasSubstr("differences"));
  EXPECT_THAT(refused(dump(100)), HasSubstr("expected --finger-counts N"));
  ReplayOptions said;
  said.finger_counts = 1200;
  EXPECT_EQ(replayed(dump(8000, 0, FrameKind::difference), said).settings.finger_counts, 1200);
}

TEST(V4l2Differences, AskForTheFingersSignal) {
  try {
    replayed_as(CaptureFormat::td16, dump(8000, 0, FrameKind::difference));
    FAIL() << "a scale was assumed";
  } catch (const CaptureError& error) {
    EXPECT_THAT(error.what(), HasSubstr("expected --finger-counts N"));
  }
}

TEST(DumpThatStatesItsFinger, IsTakenAtItsWordWithoutAWord) {
  const Account a = replayed(dump(8000, 1300));
  EXPECT_EQ(a.finger.source, FingerScale::Source::dump);
  EXPECT_EQ(a.settings.finger_counts, 1300);
  EXPECT_THAT(told(a), Not(HasSubstr("finger is taken")));
  EXPECT_THAT(explanation_json("dump", a, diagnose(a)), HasSubstr("\"source\": \"dump\""));
}

TEST(ScaleOfAFinger, IsTheFirstOfOptionDumpSettingsPanelAndReading) {
  ReplayOptions all;
  all.finger_counts = 900;
  all.settings = Settings{};
  all.settings->finger_counts = 1000;
  all.finger_share = 0.10;
  EXPECT_EQ(replayed(dump(8000, 1300), all).settings.finger_counts, 900);
  all.finger_counts.reset();
  EXPECT_EQ(replayed(dump(8000, 1300), all).settings.finger_counts, 1300);
  EXPECT_EQ(replayed(dump(8000), all).finger.source, FingerScale::Source::settings);
  EXPECT_EQ(replayed(dump(8000), all).settings.finger_counts, 1000);
  all.settings_name_finger = false;  // a file that leaves it open
  const Account by_panel = replayed(dump(8000), all);
  EXPECT_EQ(by_panel.settings.finger_counts, 800);
  EXPECT_TRUE(by_panel.finger.of_panel);
  EXPECT_THAT(told(by_panel),
              HasSubstr("10.0 % of the bare reading (8000 counts), as the panel file gives it"));
}

TEST(ScaleOfAFinger, FollowsFromTheFactoryReferenceRatherThanFromTheFirstFrame) {
  std::vector<Record> records = dump(8000);
  ReferenceRecord reference;
  reference.rows = kRows;
  reference.cols = kCols;
  reference.raw.assign(static_cast<std::size_t>(kRows) * kCols, 8200);
  records.insert(records.begin() + 1, reference);
  EXPECT_EQ(replayed(records).finger.bare_counts, 8200);
}

}  // namespace
}  // namespace bareglass::host
