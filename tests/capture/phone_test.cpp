// Real frames as they were captured, with their malformed and repeated lines.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support/capture_bytes.hpp"
#include "support/phone_frames.hpp"

namespace bareglass::host {
namespace {

using testing::HasSubstr;

struct Expected {
  const char* name;
  std::uint64_t lines;      ///< that are no comments
  std::uint64_t malformed;  ///< of them, with other than 406 fields
  const char* first;        ///< where the first malformed one is
};

void PrintTo(const Expected& e, std::ostream* out) { *out << e.name; }

class RealPhoneFrames : public testing::TestWithParam<Expected> {
 protected:
  std::optional<std::string> path() const { return support::phone_frames_path(GetParam().name); }
};

/// Stamps and repetitions counted without the reader's own account.
struct Recount {
  std::uint64_t repeated = 0, backward = 0, kept_sequence = 0;
};

Recount recount(const support::PhoneFrames& phone) {
  Recount count;
  for (std::size_t i = 1; i < phone.frames.size(); ++i) {
    const auto& before = phone.frames[i - 1];
    const auto& now = phone.frames[i];
    count.repeated += now.t_us == before.t_us && now.values == before.values ? 1u : 0u;
    count.backward += now.t_us < before.t_us ? 1u : 0u;
    count.kept_sequence += now.sequence == before.sequence ? 1u : 0u;
  }
  return count;
}

TEST_P(RealPhoneFrames, AreAllReadOrReported) {
  if (!path()) GTEST_SKIP() << "the recorded frames are not at hand";
  const support::PhoneFrames phone = support::load_phone_frames(*path());
  EXPECT_EQ(phone.rows, 27);
  EXPECT_EQ(phone.cols, 15);
  EXPECT_EQ(phone.stats.malformed_lines, GetParam().malformed);
  EXPECT_EQ(phone.frames.size() + phone.stats.malformed_lines, GetParam().lines);
  EXPECT_EQ(phone.stats.frames, phone.frames.size());
  EXPECT_EQ(phone.stats.damage.size(), GetParam().malformed);
  const Recount count = recount(phone);
  EXPECT_GT(count.repeated, 0u);
  EXPECT_EQ(phone.stats.repeated_frames, count.repeated);
  EXPECT_EQ(count.kept_sequence, count.repeated);
  EXPECT_EQ(phone.stats.stamps_backward, count.backward);
  // A malformed line leaves a hole; holes side by side are one gap.
  EXPECT_EQ(phone.stats.frames_missing, GetParam().malformed);
}

TEST_P(RealPhoneFrames, ReadStrictlyStopAtTheFirstMalformedLine) {
  if (!path()) GTEST_SKIP() << "the recorded frames are not at hand";
  const auto reader = support::open_phone_frames(*path(), false);
  Record record;
  try {
    while (reader->next(record)) {
    }
    FAIL() << "expected an error";
  } catch (const CaptureError& error) {
    EXPECT_THAT(error.what(), HasSubstr(GetParam().first));
  }
}

TEST_P(RealPhoneFrames, SurviveEveryFormat) {
  if (!path()) GTEST_SKIP() << "the recorded frames are not at hand";
  const auto reader = support::open_phone_frames(*path(), true);
  std::vector<Record> records;
  for (Record record; reader->next(record);) records.push_back(record);
  const auto expected = support::texts_of(records);
  for (const CaptureFormat format : {CaptureFormat::frames, CaptureFormat::csv})
    EXPECT_EQ(support::all_of(*support::read_bytes(support::written_as(format, records))), expected)
        << format_name(format);
  OpenOptions options;
  options.rows = 27;
  options.cols = 15;
  options.frame_period_us = 66000;
  options.format = CaptureFormat::td16;
  const auto again =
      support::read_bytes(support::written_as(CaptureFormat::td16, records), options);
  EXPECT_EQ(support::all_of(*again).size(), expected.size());
}

// Lines and malformed lines counted with awk on the unpacked files.
INSTANTIATE_TEST_SUITE_P(Files, RealPhoneFrames,
                         testing::Values(Expected{"phone-index-a.csv.gz", 3691, 3, ": line 744: "},
                                         Expected{"phone-index-b.csv.gz", 3620, 1,
                                                  ": line 1335: "}),
                         [](const auto& one) { return std::string(one.param.name).substr(12, 1); });

}  // namespace
}  // namespace bareglass::host
