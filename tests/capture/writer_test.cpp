// Writing captures: whole or not at all, whatever goes wrong.

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include <csignal>
#include <filesystem>

#include "support/capture_bytes.hpp"

namespace bareglass::host {
namespace {

using support::Bytes;
using testing::HasSubstr;

std::size_t files_in(const std::string& folder) {
  const std::filesystem::directory_iterator all(folder);
  return static_cast<std::size_t>(std::distance(begin(all), end(all)));
}

TEST(AWriter, LeavesNothingWithoutFinishAndTheOldFileUntouched) {
  const support::TempFolder folder;
  const std::string path = folder.file("unit.frames");
  for (const CaptureFormat format :
       {CaptureFormat::frames, CaptureFormat::csv, CaptureFormat::npy, CaptureFormat::tu16}) {
    const auto writer = create_capture(path, format);
    writer->write(support::sample_records()[3]);
  }
  EXPECT_EQ(files_in(folder.path()), 0u);
  support::put_file(path, {1, 2, 3});
  {
    const auto writer = create_capture(path, CaptureFormat::frames);
    writer->write(support::sample_records()[3]);
    EXPECT_EQ(support::content_of(path), (Bytes{1, 2, 3}));
  }
  EXPECT_EQ(support::content_of(path), (Bytes{1, 2, 3}));
  EXPECT_EQ(files_in(folder.path()), 1u);
}

TEST(AWriter, ReplacesAFileAndFollowsALink) {
  const support::TempFolder folder;
  const std::string path = folder.file("unit.frames");
  const std::string link = folder.file("newest");
  support::put_file(path, {1, 2, 3});
  std::filesystem::create_symlink(path, link);
  const auto writer = create_capture(link, CaptureFormat::frames);
  writer->write(support::sample_records()[3]);
  writer->finish();
  EXPECT_TRUE(std::filesystem::is_symlink(link));
  EXPECT_EQ(support::content_of(path),
            support::written_as(CaptureFormat::frames, {support::sample_records()[3]}));
  EXPECT_EQ(files_in(folder.path()), 2u);
}

TEST(AWriter, MayReplaceTheFileThatIsBeingRead) {
  const support::TempFolder folder;
  const std::string path = folder.file("unit");
  support::put_file(path, support::written_as(CaptureFormat::csv, support::sample_records()));
  const auto reader = open_capture(path, {});
  const auto writer = create_capture(path, CaptureFormat::frames);
  for (Record record; reader->next(record);) writer->write(record);
  writer->finish();
  EXPECT_EQ(support::all_of(*open_capture(path, {})), support::texts_of(support::sample_records()));
}

std::string write_error(const std::string& path, CaptureFormat format, int frames) {
  try {
    const auto writer = create_capture(path, format);
    for (int i = 0; i < frames; ++i) writer->write(support::sample_records()[3]);
    writer->finish();
  } catch (const CaptureWriteError& error) {
    return error.what();
  }
  return "no error";
}

TEST(AWriterToAPlaceThatCannotBeWritten, SaysSo) {
  const support::TempFolder folder;
  EXPECT_THAT(write_error(folder.path(), CaptureFormat::csv, 1), HasSubstr("is a directory"));
  EXPECT_THAT(write_error(folder.file("no/such"), CaptureFormat::csv, 1),
              HasSubstr("cannot create: No such file"));
}

TEST(AWriterToAFullDisk, SaysSoForFewAndForManyBytes) {
  for (const int frames : {1, 20000})
    EXPECT_THAT(write_error("/dev/full", CaptureFormat::frames, frames),
                HasSubstr("cannot write: No space left on device"));
}

TEST(ANpyWriterToADevice, IsRefusedAtOnce) {
  EXPECT_THAT(write_error("/dev/null", CaptureFormat::npy, 1), HasSubstr("needs a regular file"));
}

TEST(AWriterToAClosedPipe, GetsAnErrorAndNoSignal) {
  const support::TempFolder folder;
  const std::string path = folder.file("pipe");
  ASSERT_EQ(::mkfifo(path.c_str(), 0600), 0);
  const int reading = ::open(path.c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC);
  ASSERT_GE(reading, 0);
  const auto writer = create_capture(path, CaptureFormat::frames);
  ::close(reading);
  ASSERT_NE(std::signal(SIGPIPE, SIG_DFL), SIG_ERR);
  writer->write(support::sample_records()[3]);
  try {
    writer->finish();
    FAIL() << "expected an error";
  } catch (const CaptureWriteError& error) {
    EXPECT_THAT(error.what(), HasSubstr("cannot write: Broken pipe"));
  }
}

TEST(RecordsThatDoNotFitTheStream, AreRefused) {
  const support::TempFolder folder;
  const auto writer = create_capture(folder.file("out"), CaptureFormat::frames);
  FrameRecord frame = std::get<FrameRecord>(support::sample_records()[3]);
  frame.raw.pop_back();
  EXPECT_THROW(writer->write(frame), CaptureWriteError);
  PanelDescription panel;
  EXPECT_THROW(writer->write(panel), CaptureWriteError);
  panel.rows = panel.cols = 2;
  panel.pitch_row_mm = -1;
  EXPECT_THROW(writer->write(panel), CaptureWriteError);
  SupplyRecord supply;
  supply.millivolts = 70000;
  EXPECT_THROW(writer->write(supply), CaptureWriteError);
  EXPECT_THROW(writer->write(NoteRecord{0, std::string(5000, 'x')}), CaptureWriteError);
}

}  // namespace
}  // namespace bareglass::host
