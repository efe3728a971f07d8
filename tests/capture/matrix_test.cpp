// NumPy arrays and V4L2 touch frames.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>

#include "support/capture_bytes.hpp"

namespace bareglass::host {
namespace {

using support::all_of;
using support::Bytes;
using support::bytes_of;
using support::read_bytes;
using testing::ElementsAre;
using testing::HasSubstr;

Bytes operator+(Bytes a, const Bytes& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

OpenOptions options_for(std::optional<CaptureFormat> format, int rows, int cols) {
  OpenOptions options;
  options.format = format;
  options.rows = rows;
  options.cols = cols;
  options.frame_period_us = 500;
  return options;
}

std::string error_of(const Bytes& bytes, const OpenOptions& options) {
  try {
    all_of(*read_bytes(bytes, options));
  } catch (const CaptureError& error) {
    return error.what();
  }
  return "no error";
}

std::vector<std::string> frames_of(const Bytes& bytes, const OpenOptions& options) {
  auto texts = all_of(*read_bytes(bytes, options));
  EXPECT_THAT(texts.at(0), HasSubstr("period 500"));
  texts.erase(texts.begin());
  return texts;
}

/// A head as numpy.save writes it (NumPy Enhancement Proposal 1): padded with spaces so that data
/// begins at a multiple of 64, ended by a newline.
Bytes npy(const std::string& dictionary, const Bytes& data, int version = 1) {
  const std::size_t preamble = version == 1 ? 10 : 12;
  std::string text = dictionary;
  while ((preamble + text.size() + 1) % 64 != 0) text += ' ';
  text += '\n';
  Bytes bytes = {0x93,
                 'N',
                 'U',
                 'M',
                 'P',
                 'Y',
                 static_cast<std::uint8_t>(version),
                 0,
                 static_cast<std::uint8_t>(text.size() & 255),
                 0};
  if (version > 1) bytes.insert(bytes.end(), 2, 0);
  return bytes + bytes_of(text) + data;
}

std::string dictionary(const std::string& type, const std::string& shape,
                       const std::string& order = "False") {
  return "{'descr': '" + type + "', 'fortran_order': " + order + ", 'shape': " + shape + ", }";
}

TEST(V4l2TouchFrames, OfEachFormatAreReadByTheKernelsDefinition) {
  // "Touch Formats" in the Linux media documentation: TD signed differences, TU unsigned raw,
  // 16-bit little endian or 8-bit, no header.
  const Bytes bytes = {1, 0, 0xFF, 0xFF, 0x00, 0x80, 2, 1};
  EXPECT_THAT(frames_of(bytes, options_for(CaptureFormat::td16, 1, 2)),
              ElementsAre("difference 0 at 0 1x2:; 1 -1", "difference 1 at 500 1x2:; -32768 258"));
  EXPECT_THAT(frames_of(bytes, options_for(CaptureFormat::tu16, 2, 1)),
              ElementsAre("raw 0 at 0 2x1: 1 65535;", "raw 1 at 500 2x1: 32768 258;"));
  EXPECT_THAT(frames_of(bytes, options_for(CaptureFormat::td08, 2, 4)),
              ElementsAre("difference 0 at 0 2x4:; 1 0 -1 -1 0 -128 2 1"));
  EXPECT_THAT(frames_of(bytes, options_for(CaptureFormat::tu08, 2, 4)),
              ElementsAre("raw 0 at 0 2x4: 1 0 255 255 0 128 2 1;"));
}

TEST(V4l2TouchFrames, NeedShapeAndPeriod) {
  const Bytes bytes(8, 1);
  EXPECT_THAT(error_of(bytes, options_for(CaptureFormat::td16, 0, 2)), HasSubstr("--rows"));
  OpenOptions options = options_for(CaptureFormat::td16, 1, 2);
  options.frame_period_us = 0;
  EXPECT_THAT(error_of(bytes, options), HasSubstr("--frame-period"));
  EXPECT_THAT(error_of(bytes, options_for(CaptureFormat::td16, 1, 70000)),
              HasSubstr("1 x 70000, expected 1 to 1024"));
  options = options_for(CaptureFormat::td16, 1, 2);
  options.values = FrameKind::raw;
  EXPECT_THAT(error_of(bytes, options), HasSubstr("td16 holds differences"));
}

TEST(AV4l2FileOfBrokenLength, IsRefusedAtOnceOrCutShortLeniently) {
  const support::TempFolder folder;
  const std::string path = folder.file("dump");
  support::put_file(path, Bytes(13, 7));
  OpenOptions options = options_for(CaptureFormat::tu16, 1, 2);
  try {
    open_capture(path, options);
    FAIL() << "expected an error";
  } catch (const CaptureError& error) {
    EXPECT_EQ(error.place(), "byte 12");
    EXPECT_THAT(error.expected(), HasSubstr("expected a whole number of frames of 1 x 2"));
  }
  EXPECT_THAT(error_of(Bytes(13, 7), options),
              HasSubstr("byte 12: the file ends 1 bytes into frame 3"));
  options.lenient = true;
  const auto reader = open_capture(path, options);
  EXPECT_EQ(all_of(*reader).size(), 4u);
  EXPECT_EQ(reader->stats().lost_bytes, 1u);
}

TEST(NpyArrays, OfEachTypeAndVersionAreRead) {
  const Bytes data = {1, 0, 0xFF, 0xFF};
  const OpenOptions options = options_for({}, 0, 0);
  for (const int version : {1, 2, 3}) {
    EXPECT_THAT(frames_of(npy(dictionary("<u2", "(1, 1, 2)"), data, version), options),
                ElementsAre("raw 0 at 0 1x2: 1 65535;"));
  }
  EXPECT_THAT(frames_of(npy(dictionary("<i2", "(2, 1, 1)"), data), options),
              ElementsAre("difference 0 at 0 1x1:; 1", "difference 1 at 500 1x1:; -1"));
  EXPECT_THAT(frames_of(npy(dictionary("|i1", "(1, 2, 2)"), data), options),
              ElementsAre("difference 0 at 0 2x2:; 1 0 -1 -1"));
  EXPECT_THAT(frames_of(npy(dictionary("|u1", "(1,2,2,)"), data), options),
              ElementsAre("raw 0 at 0 2x2: 1 0 255 255;"));
}

TEST(NpyArrays, MayBeSaidToHoldTheOtherKindWhereTheValuesAllow) {
  OpenOptions options = options_for({}, 0, 0);
  options.values = FrameKind::raw;
  EXPECT_THAT(frames_of(npy(dictionary("<i2", "(1, 1, 2)"), {1, 0, 2, 0}), options),
              ElementsAre("raw 0 at 0 1x2: 1 2;"));
  const std::string error =
      error_of(npy(dictionary("<i2", "(1, 1, 2)"), {1, 0, 0xFF, 0xFF}), options);
  EXPECT_THAT(error, HasSubstr("byte 130: frame 0: -1 is no raw count"));
}

TEST(NpyArraysWeCannotRead, AreOneClearError) {
  const Bytes data(8, 1);
  const struct {
    Bytes bytes;
    const char* expected;
  } bad[] = {
      {npy(dictionary("<c8", "(1, 1, 2)"), data), "an integer type (such as <u2, >i4, |u1) or a"},
      {npy(dictionary("<f1", "(1, 1, 2)"), data), "found \"<f1\""},
      {npy(dictionary("<u2", "(1, 1, 2)", "Maybe"), data), "to be True or False, found \"Maybe\""},
      {npy(dictionary("<u2", "(4, 2)"), data), "--rows R --columns C (R x C = 2)"},
      {npy(dictionary("<u2", "(1, 2, 1, 2)"), data), "two or three dimensions"},
      {npy(dictionary("<u2", "()"), data), "two or three dimensions"},
      {npy(dictionary("<u2", "(1, 1, 70000)"), data), "1 to 1024 rows and columns"},
      {npy(dictionary("<u2", "(1, 0, 2)"), data), "1 to 1024 rows and columns"},
      {npy(dictionary("<u2", "(1, x, 2)"), data), "a number in the shape, found \"x\""},
      {npy("{'descr': '<u2'}", data), "expected "},
      {npy("{}", data), "expected 'descr'"},
      {npy(dictionary("<u2", "(1, 1, 2)"), data, 4), "version 1, 2 or 3"},
      {Bytes{0x93, 'N', 'U', 'M', 'P', 'Y', 1, 0}, "whole .npy head"},
      {Bytes{0x93, 'N', 'U', 'M', 'P', 'Y', 1, 0, 200, 0, '{', '}'}, "whole .npy head"},
      {npy(dictionary("<u2", "(3, 1, 2)"), data),
       "ends 0 bytes into frame 2, expected 4 bytes a frame and 3"},
      {npy(dictionary("<u2", "(2, 1, 3)"), data), "ends 2 bytes into frame 1"},
      {npy(dictionary("<u2", "(1, 1, 2)"), data), "the end after 1 frames, found more bytes"},
  };
  for (const auto& each : bad)
    EXPECT_THAT(error_of(each.bytes, options_for({}, 0, 0)), HasSubstr(each.expected));
  EXPECT_THAT(error_of(npy(dictionary("<u2", "(2, 1, 2)"), data), options_for({}, 1, 3)),
              HasSubstr("expected the rows and columns asked for"));
}

TEST(ANpyHeadCutOrChangedAnywhere, NeverGivesMoreThanAnError) {
  const Bytes good = npy(dictionary("<u2", "(2, 1, 2)"), Bytes(8, 1));
  const OpenOptions options = options_for(CaptureFormat::npy, 0, 0);
  for (std::size_t cut = 1; cut < good.size(); ++cut)
    EXPECT_NE(error_of(support::part_of(good, 0, cut), options), "no error") << cut;
  for (std::size_t at = 0; at < 80; ++at)
    for (unsigned bit = 0; bit < 8; ++bit)
      error_of(support::with_flipped(good, at, static_cast<std::uint8_t>(1u << bit)), options);
}

std::vector<Record> raw_frames() {
  std::vector<Record> records;
  for (const Record& record : support::sample_records())
    if (const auto* frame = std::get_if<FrameRecord>(&record))
      if (frame->kind == FrameKind::raw) records.push_back(record);
  return records;
}

TEST(MatrixWriters, RoundTripFramesAndCountWhatTheyCannotHold) {
  const support::TempFolder folder;
  const std::string path = folder.file("out");
  const auto writer = create_capture(path, CaptureFormat::npy);
  for (const Record& record : support::sample_records()) writer->write(record);
  FrameRecord other = std::get<FrameRecord>(raw_frames()[0]);
  other.rows = 4;
  other.cols = 3;
  writer->write(other);
  writer->finish();
  const WriterLosses& losses = writer->losses();
  EXPECT_EQ(losses.descriptions, 2u);
  EXPECT_EQ(losses.references, 1u);
  EXPECT_EQ(losses.contacts, 2u);
  EXPECT_EQ(losses.journal_entries, 2u);
  EXPECT_EQ(losses.supply_states, 2u);
  EXPECT_EQ(losses.notes, 1u);
  EXPECT_EQ(losses.frames_other_kind, 1u);
  EXPECT_EQ(losses.frames_other_shape, 1u);
  EXPECT_TRUE(losses.time_stamps);

  const Bytes bytes = support::content_of(path);
  EXPECT_EQ(bytes.size(), 128u + 3 * 24);
  const auto frames = frames_of(bytes, options_for({}, 0, 0));
  ASSERT_EQ(frames.size(), 3u);
  EXPECT_EQ(frames[1], "raw 1 at 500 3x4: 101 0 0 0 65535 3 513 70 80 90 100 110;");
  // Sixteen-bit touch frames are the array without its head.
  EXPECT_EQ(support::written_as(CaptureFormat::tu16, raw_frames()),
            support::part_of(bytes, 128, bytes.size()));
}

TEST(MatrixWriters, RoundTripDifferencesOfEightAndSixteenBits) {
  FrameRecord frame;
  frame.kind = FrameKind::difference;
  frame.rows = 1;
  frame.cols = 3;
  frame.difference = {-128, 0, 127};
  for (const CaptureFormat format : {CaptureFormat::td08, CaptureFormat::td16})
    EXPECT_THAT(frames_of(support::written_as(format, {frame}), options_for(format, 1, 3)),
                ElementsAre("difference 0 at 0 1x3:; -128 0 127"));
  EXPECT_THAT(frames_of(support::written_as(CaptureFormat::npy, {frame}), options_for({}, 0, 0)),
              ElementsAre("difference 0 at 0 1x3:; -128 0 127"));
}

TEST(EightBitWriters, RefuseValuesTheyCannotHold) {
  const support::TempFolder folder;
  const auto writer = create_capture(folder.file("out"), CaptureFormat::tu08);
  try {
    writer->write(raw_frames()[0]);
    FAIL() << "expected an error";
  } catch (const CaptureWriteError& error) {
    EXPECT_THAT(error.what(), HasSubstr("frame 0: tu08 holds values from 0 to 255, found 65535"));
  }
}

TEST(MatrixWritersWithoutAFrame, SaySoAndLeaveNoFile) {
  const support::TempFolder folder;
  {
    const auto writer = create_capture(folder.file("out"), CaptureFormat::td16);
    writer->write(raw_frames()[0]);
    EXPECT_THROW(writer->finish(), CaptureWriteError);
  }
  EXPECT_TRUE(support::content_of(folder.file("out")).empty());
}

}  // namespace
}  // namespace bareglass::host
