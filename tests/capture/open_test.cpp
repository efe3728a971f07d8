// Opening captures: telling the format, and files that can't be read at all.

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include "support/capture_bytes.hpp"

namespace bareglass::host {
namespace {

using support::all_of;
using support::Bytes;
using support::bytes_of;
using testing::AllOf;
using testing::HasSubstr;
using testing::StartsWith;

std::string open_error(const std::string& path, const OpenOptions& options = {}) {
  try {
    open_capture(path, options);
  } catch (const CaptureError& error) {
    return error.what();
  }
  return "no error";
}

class AFileOnDisk : public testing::Test {
 protected:
  std::string put(const Bytes& bytes) const {
    support::put_file(path(), bytes);
    return path();
  }
  std::string path() const { return folder_.file("capture"); }

  support::TempFolder folder_;
};

TEST_F(AFileOnDisk, IsRecognisedByItsContentWhateverItsName) {
  const auto records = support::sample_records();
  for (const CaptureFormat format :
       {CaptureFormat::frames, CaptureFormat::csv, CaptureFormat::npy}) {
    OpenOptions options;
    options.frame_period_us = 8000;
    const auto reader = open_capture(put(support::written_as(format, records)), options);
    EXPECT_EQ(reader->format(), format);
    EXPECT_EQ(reader->bytes_total(), support::content_of(path()).size());
    EXPECT_FALSE(all_of(*reader).empty());
    EXPECT_EQ(reader->bytes_read(), support::content_of(path()).size());
  }
}

TEST_F(AFileOnDisk, IsRecognisedWhenAPacketComesLateOrLooksLikeText) {
  const Bytes stream = support::written_as(CaptureFormat::frames, support::sample_records());
  Bytes late(40'000, 0x31);  // begins with digits, as CSV may
  late.push_back(0);
  late.insert(late.end(), stream.begin(), stream.end());
  EXPECT_EQ(open_capture(put(late), {})->format(), CaptureFormat::frames);
}

TEST(ASourceThatTricklesIn, IsWaitedForUpToTheLimit) {
  const Bytes stream = support::written_as(CaptureFormat::frames, support::sample_records());
  Bytes late(60'000, 0x31);
  late.push_back(0);
  late.insert(late.end(), stream.begin(), stream.end());
  EXPECT_EQ(support::read_bytes(late, {}, 1000, 1000)->format(), CaptureFormat::frames);
  // Later than that is too late: a live source of something else must not be waited for forever.
  late.insert(late.begin(), 20'000, 0x80);
  EXPECT_THROW(support::read_bytes(late, {}, 1000, 1000), CaptureError);
}

TEST_F(AFileOnDisk, OfUnclearFormatAsksForIt) {
  for (const Bytes& bytes : {Bytes(1000, 0x80), bytes_of("hello world\n"), Bytes(2, 0),
                             Bytes{'1', '2', ',', '3', '\n', 0}}) {
    EXPECT_THAT(open_error(put(bytes)),
                AllOf(StartsWith(path()), HasSubstr("name the format with --format"),
                      HasSubstr("frames, csv, npy, td16, td08, tu16, tu08")));
  }
}

TEST_F(AFileOnDisk, CompressedWithGzipIsNamedAsSuch) {
  EXPECT_THAT(open_error(put({0x1F, 0x8B, 8, 0})), HasSubstr("gzip"));
}

TEST_F(AFileOnDisk, ThatIsEmptyIsRefusedInEveryFormat) {
  EXPECT_THAT(open_error(put({})), HasSubstr("byte 0: is empty"));
  for (const char* name : {"frames", "csv", "npy", "td16", "tu08"}) {
    OpenOptions options;
    options.format = format_of_name(name);
    ASSERT_TRUE(options.format);
    EXPECT_THAT(open_error(path(), options), HasSubstr("byte 0: is empty")) << name;
  }
}

TEST_F(AFileOnDisk, ThatCannotBeReadIsNamed) {
  EXPECT_THAT(open_error(folder_.file("nothing")),
              AllOf(HasSubstr("nothing"), HasSubstr("cannot open: No such file")));
  EXPECT_THAT(open_error(folder_.path()), HasSubstr("is a directory"));
  EXPECT_THAT(open_error(put({1}) + "/below"), HasSubstr("cannot open: Not a directory"));
}

TEST_F(AFileOnDisk, WithoutPermissionIsNamed) {
  put({1, 2, 3});
  ::chmod(path().c_str(), 0);
  // No permission stops the superuser: step down to a user without rights for the attempt.
  constexpr uid_t kNobody = 65534;
  const bool superuser = ::geteuid() == 0;
  if (superuser) {
    ASSERT_EQ(::seteuid(kNobody), 0);
  }
  const std::string error = open_error(path());
  if (superuser) {
    ASSERT_EQ(::seteuid(0), 0);
  }
  EXPECT_THAT(error, HasSubstr("cannot open: Permission denied"));
}

TEST(ASourceThatFailsWhileRead, IsAnErrorWithThePlace) {
  // Reading the memory of a process from address 0 fails with an input/output error.
  EXPECT_THAT(open_error("/proc/self/mem"), HasSubstr("byte 0: cannot read: "));
}

TEST(NamesOfFormats, AreTheirOwnInverse) {
  for (const CaptureFormat format :
       {CaptureFormat::frames, CaptureFormat::csv, CaptureFormat::npy, CaptureFormat::td16,
        CaptureFormat::td08, CaptureFormat::tu16, CaptureFormat::tu08})
    EXPECT_EQ(format_of_name(format_name(format)), format);
  EXPECT_FALSE(format_of_name("pfs"));
}

}  // namespace
}  // namespace bareglass::host
