// Tables that are no single text: folders, arrays of any type, frames by their name; profiles.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstring>
#include <filesystem>

#include "support/table_cases.hpp"

namespace bareglass::host {
namespace {

using support::bytes_of;
using support::table_value;
using support::TempFolder;
using testing::HasSubstr;

OpenOptions told(const std::vector<std::string>& settings) {
  OpenOptions options;
  for (const std::string& setting : settings) support::take_setting(options, setting);
  return options;
}

std::vector<FrameRecord> frames_in(CaptureReader& reader) {
  std::vector<FrameRecord> frames;
  for (Record record; reader.next(record);)
    if (const auto* frame = std::get_if<FrameRecord>(&record)) frames.push_back(*frame);
  return frames;
}

void expect_values(const FrameRecord& frame, int f) {
  ASSERT_EQ(frame.rows, 4);
  ASSERT_EQ(frame.cols, 3);
  for (int r = 0; r < 4; ++r)
    for (int c = 0; c < 3; ++c)
      ASSERT_EQ(frame.raw.at(static_cast<std::size_t>(3 * r + c)), table_value(f, r, c));
}

std::string refusal_of(const std::function<void()>& act) {
  try {
    act();
  } catch (const CaptureError& error) {
    return error.what();
  }
  return "no error";
}

class AFolderOfOneFileAFrame : public testing::Test {
 protected:
  AFolderOfOneFileAFrame() {
    for (const int f : {0, 1, 9, 10}) put(f, block(f));
  }
  static std::string block(int f) {
    const support::TableText text;
    std::string lines;
    for (int n = 0; n < 4; ++n) lines += text.line(f, n) + "\n";
    return lines;
  }
  void put(int f, const std::string& text) {
    support::put_file(folder_.file("scan_" + std::to_string(f) + ".csv"), bytes_of(text));
  }
  const OpenOptions options_ =
      told({"order=rows", "values=raw", "touch=lowers", "frame_period_us=20000"});
  TempFolder folder_;
};

TEST_F(AFolderOfOneFileAFrame, IsReadInTheOrderOfItsNumbers) {
  put(2, support::utf16(block(2), false, true));
  const auto reader = open_capture(folder_.path(), options_);
  const auto frames = frames_in(*reader);
  ASSERT_EQ(frames.size(), 5u);
  const int expected[] = {0, 1, 2, 9, 10};
  for (std::size_t n = 0; n < 5; ++n) {
    expect_values(frames[n], expected[n]);
    EXPECT_EQ(frames[n].sequence, static_cast<std::uint32_t>(expected[n]));
    EXPECT_EQ(frames[n].t_us, static_cast<std::uint64_t>(expected[n]) * 20000u);
  }
  EXPECT_EQ(reader->stats().frames_missing, 6u);
  EXPECT_THAT(reader->reading().understood, testing::Contains(HasSubstr("a folder of 5 files")));
}

TEST_F(AFolderOfOneFileAFrame, NamesFileAndLineOfABadCell) {
  put(9, block(9).replace(block(9).find("22110"), 5, "n/a"));
  EXPECT_THAT(refusal_of([&] { frames_in(*open_capture(folder_.path(), options_)); }),
              HasSubstr("scan_9.csv: line 2, column 2: \"n/a\" is no number"));
}

TEST_F(AFolderOfOneFileAFrame, AsksForWhatItDoesNotTell) {
  const std::string said = refusal_of([&] { open_capture(folder_.path(), {}); });
  for (const char* option :
       {"--order rows", "--values raw", "--touch lowers", "--frame-period TIME"})
    EXPECT_THAT(said, HasSubstr(option));
}

TEST(AFolderWithoutTables, IsADirectory) {
  const TempFolder folder;
  support::put_file(folder.file("photo.jpg"), {1, 2, 3});
  EXPECT_THAT(refusal_of([&] { open_capture(folder.path(), {}); }), HasSubstr("is a directory"));
}

// An array as NumPy's own writer makes it (NumPy Enhancement Proposal 1): built here byte by byte.
std::string npy(const std::string& type, const std::string& shape, bool fortran,
                const std::string& data) {
  std::string head = "{'descr': '" + type + "', 'fortran_order': " + (fortran ? "True" : "False") +
                     ", 'shape': (" + shape + "), }";
  head.resize(118 - 1, ' ');
  head += '\n';
  return std::string("\x93NUMPY\x01\x00\x76\x00", 10) + head + data;
}

template <typename T>
void append(std::string& out, T value, bool big) {
  char bytes[sizeof(T)];
  std::memcpy(bytes, &value, sizeof value);
  if (big) std::reverse(bytes, bytes + sizeof value);
  out.append(bytes, sizeof value);
}

/// frames x rows x columns of a type, in C order; rows and columns turned if asked.
template <typename T>
std::string array_data(bool big = false, bool turned = false) {
  std::string out;
  for (int f = 0; f < 3; ++f)
    for (int i = 0; i < 12; ++i)
      append(out,
             static_cast<T>(turned ? table_value(f, i % 4, i / 4) : table_value(f, i / 3, i % 3)),
             big);
  return out;
}

void expect_array(const std::string& bytes, const OpenOptions& options, int frames = 3) {
  const auto got = frames_in(*support::read_bytes(bytes_of(bytes), options, 100, 7));
  ASSERT_EQ(got.size(), static_cast<std::size_t>(frames));
  for (int f = 0; f < frames; ++f) expect_values(got[static_cast<std::size_t>(f)], f);
}

const std::vector<std::string> kAll = {"values=raw", "touch=lowers", "frame_period_us=20000"};

TEST(AnArrayOfAnyType, IsReadAsItsNumbers) {
  const OpenOptions options = told(kAll);
  expect_array(npy("<u2", "3, 4, 3", false, array_data<std::uint16_t>()), options);
  expect_array(npy(">u2", "3, 4, 3", false, array_data<std::uint16_t>(true)), options);
  expect_array(npy("<i2", "3, 4, 3", false, array_data<std::int16_t>()), options);
  expect_array(npy("<i4", "3, 4, 3", false, array_data<std::int32_t>()), options);
  expect_array(npy(">u4", "3, 4, 3", false, array_data<std::uint32_t>(true)), options);
  expect_array(npy("<i8", "3, 4, 3", false, array_data<std::int64_t>()), options);
  expect_array(npy("<u8", "3, 4, 3", false, array_data<std::uint64_t>()), options);
  expect_array(npy("<f4", "3, 4, 3", false, array_data<float>()), options);
  expect_array(npy("<f8", "3, 4, 3", false, array_data<double>()), options);
  expect_array(npy(">f8", "3, 4, 3", false, array_data<double>(true)), options);
}

// IEEE 754-2019, binary16: 0x3C00 is 1, 0x6400 is 1024, 0x7BFF is 65504, the greatest; 0xC000 is
// -2.
TEST(AnArrayOfHalves, IsReadAsTheStandardSays) {
  std::string data;
  for (const int bits : {0x3C00, 0x6400, 0x7BFF, 0x0000})
    append(data, static_cast<std::uint16_t>(bits), false);
  const auto frames =
      frames_in(*support::read_bytes(bytes_of(npy("<f2", "1, 2, 2", false, data)), told(kAll)));
  ASSERT_EQ(frames.size(), 1u);
  EXPECT_THAT(frames[0].raw, testing::ElementsAre(1, 1024, 65504, 0));
  data[1] = '\xC0';
  data[0] = 0;
  EXPECT_THAT(
      refusal_of([&] {
        frames_in(*support::read_bytes(bytes_of(npy("<f2", "1, 2, 2", false, data)), told(kAll)));
      }),
      HasSubstr("-2 is no raw count"));
}

TEST(AnArrayOfTwoDimensions, IsReadAsRowsAndColumnsSay) {
  auto settings = kAll;
  settings.insert(settings.end(), {"rows=4", "columns=3"});
  const std::string two = npy("<u2", "3, 12", false, array_data<std::uint16_t>());
  EXPECT_THAT(refusal_of([&] { support::read_bytes(bytes_of(two), told(kAll)); }),
              HasSubstr("--rows R --columns C (R x C = 12)"));
  EXPECT_THAT(refusal_of([&] { support::read_bytes(bytes_of(two), told(settings)); }),
              HasSubstr("--order rows or --order columns"));
  settings.push_back("order=rows");
  expect_array(two, told(settings));
  settings.back() = "order=columns";
  expect_array(npy("<u2", "3, 12", false, array_data<std::uint16_t>(false, true)), told(settings));
  const std::string first = array_data<std::uint16_t>().substr(0, 24);
  expect_array(npy("<u2", "4, 3", false, first), told(settings), 1);
  const std::string turned = array_data<std::uint16_t>(false, true).substr(0, 24);
  expect_array(npy("<u2", "3, 4", false, turned), told(settings), 1);
}

TEST(AnArrayWithColumnsFirst, IsTurned) {
  auto settings = kAll;
  const std::string bytes = npy("<u2", "3, 3, 4", false, array_data<std::uint16_t>(false, true));
  settings.insert(settings.end(), {"rows=4", "columns=3"});
  expect_array(bytes, told(settings));
  settings.back() = "columns=5";
  EXPECT_THAT(refusal_of([&] { support::read_bytes(bytes_of(bytes), told(settings)); }),
              HasSubstr("expected the rows and columns asked for, but the array has 3 and 4"));
}

TEST(AnArrayInFortranOrder, IsReadTheSame) {
  std::string data, flat;
  for (int c = 0; c < 3; ++c)
    for (int r = 0; r < 4; ++r)
      for (int f = 0; f < 3; ++f)
        append(data, static_cast<std::uint16_t>(table_value(f, r, c)), false);
  expect_array(npy("<u2", "3, 4, 3", true, data), told(kAll));
  for (int i = 0; i < 12; ++i)
    for (int f = 0; f < 3; ++f)
      append(flat, static_cast<std::uint16_t>(table_value(f, i / 3, i % 3)), false);
  auto settings = kAll;
  settings.insert(settings.end(), {"rows=4", "columns=3", "order=rows"});
  expect_array(npy("<u2", "3, 12", true, flat), told(settings));
}

TEST(AnArrayThatNeedsRounding, SaysWhichOptionRounds) {
  std::string data = array_data<double>();
  const double half = 22000.4;
  std::memcpy(data.data(), &half, sizeof half);
  const std::string bytes = npy("<f8", "3, 4, 3", false, data);
  EXPECT_THAT(refusal_of([&] { frames_in(*support::read_bytes(bytes_of(bytes), told(kAll))); }),
              HasSubstr("22000.4 is no raw count (0 to 65535); --multiply 1 rounds"));
  auto settings = kAll;
  settings.push_back("multiply=1");
  expect_array(bytes, told(settings));
}

TEST(AnArrayOfAWideType, AsksForWhatItsTypeDoesNotTell) {
  const std::string bytes = npy("<f4", "3, 4, 3", false, array_data<float>());
  const std::string said = refusal_of([&] { support::read_bytes(bytes_of(bytes), {}); });
  EXPECT_THAT(said, HasSubstr("--values raw or --values difference"));
  EXPECT_THAT(said, HasSubstr("--touch lowers or --touch raises"));
}

TEST(FramesWithoutAHead, AreToldByTheirName) {
  const TempFolder folder;
  const std::string path = folder.file("unit.tu16");
  support::put_file(path, bytes_of(array_data<std::uint16_t>()));
  EXPECT_THAT(refusal_of([&] { open_capture(path, {}); }), HasSubstr("--rows and --columns"));
  const auto reader = open_capture(path, told({"rows=4", "columns=3", "frame_period_us=20000"}));
  EXPECT_EQ(reader->format(), CaptureFormat::tu16);
  const auto frames = frames_in(*reader);
  ASSERT_EQ(frames.size(), 3u);
  expect_values(frames[2], 2);
  // A stream stays one, whatever it is called.
  support::put_file(path, support::written_as(CaptureFormat::frames, support::sample_records()));
  EXPECT_EQ(open_capture(path, {})->format(), CaptureFormat::frames);
}

TEST(AnImportProfile, KeepsWhatWasSaidAndGivesWayToTheCommandLine) {
  const TempFolder folder;
  OpenOptions said = told({"rows=4", "columns=3", "order=columns", "values=raw", "touch=raises",
                           "time_unit=ms", "time_column=2", "values_from=3", "separator=tab",
                           "base=16", "thousands=point", "multiply=0.5", "frame_period_us=20000"});
  const std::string path = folder.file("logger.toml");
  support::put_file(path, bytes_of(profile_text(said)));
  OpenOptions read = told({"order=rows"});
  take_profile(read, path);
  EXPECT_EQ(read.table.order, NodeOrder::rows);
  read.table.order = NodeOrder::columns;
  EXPECT_EQ(profile_text(read), profile_text(said));
  EXPECT_EQ(read.rows, 4);
  EXPECT_EQ(read.table.scale, 0.5);
  EXPECT_EQ(read.table.time_column, "2");
}

TEST(AnImportProfileWithAMistake, NamesTheLine) {
  const TempFolder folder;
  const std::string path = folder.file("logger.toml");
  const auto refused = [&](const std::string& text) {
    support::put_file(path, bytes_of(text));
    return refusal_of([&] {
      OpenOptions options;
      take_profile(options, path);
    });
  };
  EXPECT_THAT(refused("[import]\norder = \"sideways\"\n"),
              HasSubstr("logger.toml: line 2: order expects one of rows, columns"));
  EXPECT_THAT(refused("[import]\ncolour = 3\n"), HasSubstr("line 2: expected a name of an import"));
  EXPECT_THAT(refused("[import]\nrows = 0\n"), HasSubstr("rows expects a number from 1 to 1024"));
  EXPECT_THAT(refused("[export]\n"), HasSubstr("[import]"));
  EXPECT_THAT(refused("rows = = 3\n"), HasSubstr("line 1"));
}

}  // namespace
}  // namespace bareglass::host
