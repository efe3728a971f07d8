// CSV captures: what they carry, and what is said of lines that can't be read.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support/capture_bytes.hpp"

namespace bareglass::host {
namespace {

using support::all_of;
using support::Bytes;
using support::bytes_of;
using support::read_bytes;
using testing::ElementsAre;
using testing::HasSubstr;

OpenOptions lenient() {
  OpenOptions options;
  options.format = CaptureFormat::csv;
  options.lenient = true;
  return options;
}

OpenOptions strict() {
  OpenOptions options;
  options.format = CaptureFormat::csv;
  return options;
}

const std::string kHead = "# values: difference\n# rows: 1\n# cols: 3\n";

std::string error_of(const std::string& text, const OpenOptions& options) {
  try {
    all_of(*read_bytes(bytes_of(text), options));
  } catch (const CaptureError& error) {
    return error.what();
  }
  return "no error";
}

TEST(ACsvOfEveryRecord, IsReadAsItWasWritten) {
  const Bytes csv = support::written_as(CaptureFormat::csv, support::sample_records());
  const auto reader = read_bytes(csv);
  EXPECT_EQ(reader->format(), CaptureFormat::csv);
  EXPECT_EQ(all_of(*reader), support::texts_of(support::sample_records()));
  EXPECT_EQ(reader->stats().unknown_keys, 0u);
  EXPECT_EQ(reader->stats().malformed_lines, 0u);
}

TEST(ACsvOfEveryRecord, IsReadTheSameInPiecesAndWithCarriageReturns) {
  const Bytes csv = support::written_as(CaptureFormat::csv, support::sample_records());
  const auto expected = support::texts_of(support::sample_records());
  for (std::size_t first = 1; first < csv.size(); ++first)
    ASSERT_EQ(all_of(*read_bytes(csv, strict(), first, 97)), expected) << "split at " << first;
  Bytes dos;
  for (const std::uint8_t byte : csv) {
    if (byte == '\n') dos.push_back('\r');
    dos.push_back(byte);
  }
  EXPECT_EQ(all_of(*read_bytes(dos)), expected);
}

TEST(ACsvThroughTheFrameStreamAndBack, IsTheSameFile) {
  const Bytes csv = support::written_as(CaptureFormat::csv, support::sample_records());
  std::vector<Record> records;
  const auto reader = read_bytes(csv);
  for (Record record; reader->next(record);) records.push_back(record);
  const Bytes stream = support::written_as(CaptureFormat::frames, records);
  const auto again = read_bytes(stream);
  records.clear();
  for (Record record; again->next(record);) records.push_back(record);
  EXPECT_EQ(support::written_as(CaptureFormat::csv, records), csv);
}

TEST(ACsvWrittenByHand, NeedsNoMoreThanValuesRowsAndColumns) {
  const auto reader =
      read_bytes(bytes_of("\xEF\xBB\xBF# made by hand; a comment without a key\n" + kHead +
                          "# owner: somebody\n\nt_us,v0,v1,v2\n  10, 1 ,-2,3\n20,4,5,6"));
  EXPECT_THAT(
      all_of(*reader),
      ElementsAre("panel 1x3 pitch 0 0 finger 0 rise 0 period 0 unit [] name [] firmware [] max - "
                  "power-up -",
                  "difference 0 at 10 1x3:; 1 -2 3", "difference 1 at 20 1x3:; 4 5 6"));
  EXPECT_EQ(reader->stats().unknown_keys, 1u);
}

TEST(ACsvWithoutShapeOrValues, TakesThemFromTheOptionsOrAsksForThem) {
  OpenOptions options = strict();
  EXPECT_THAT(error_of("10,1,2,3\n", options),
              HasSubstr("memory: line 1: expected a line '# values"));
  options.values = FrameKind::raw;
  EXPECT_THAT(error_of("10,1,2,3\n", options), HasSubstr("--rows"));
  options.rows = 1;
  options.cols = 3;
  const auto reader = read_bytes(bytes_of("10,1,2,3\n"), options);
  EXPECT_EQ(all_of(*reader).back(), "raw 0 at 10 1x3: 1 2 3;");
  EXPECT_THAT(error_of("# cols: 4\n", options),
              HasSubstr("line 1: expected 3 columns as asked for"));
  EXPECT_THAT(error_of("# values: difference\n", options), HasSubstr("line 1"));
}

// Found by fuzzing: a description of a panel without rows was given, which no panel is.
TEST(ACsvThatTellsRowsAndColumnsLate, DescribesThePanelWhenBothAreKnown) {
  EXPECT_THAT(all_of(*read_bytes(bytes_of("# cols: 2\n# note: 5 words\n# values: raw\n# rows: "
                                          "1\n8000,3,4\n"),
                                 strict())),
              ElementsAre("note at 5 [words]", HasSubstr("panel 1x2"), HasSubstr("raw 0 at 8000")));
  EXPECT_THAT(all_of(*read_bytes(bytes_of("# rows: 2\n# note: 5 words\n"), strict())),
              ElementsAre("note at 5 [words]"));
}

TEST(CsvLinesThatCannotBeRead, AreOneErrorThatNamesTheLine) {
  const struct {
    const char* line;
    const char* expected;
  } bad[] = {
      {"20,1,2", "expected 3 values, found 2"},
      {"20", "expected 3 values, found 0"},
      {"20,1,2,3,4", "expected 3 values, found 4"},
      {"20,1,2,3,", "expected 3 values, found 4"},
      {"20,1,nan,3", "value v1 is \"nan\", expected an integer from -32768 to 32767"},
      {"20,1,NaN,3", "value v1 is \"NaN\""},
      {"20,1,,3", "value v1 is \"\""},
      {"20,1,2.5,3", "value v1 is \"2.5\""},
      {"20,1,2 2,3", "value v1 is \"2 2\""},
      {"20,1,2,40000", "value v2 is \"40000\""},
      {"20,1,2,99999999999999999999999", "value v2 is \"99999999999999999999999\""},
      {"20,-,2,3", "value v0 is \"-\""},
      {"-20,1,2,3", "time stamp is \"-20\", expected whole microseconds"},
      {"hello, world", "time stamp is \"hello\""},
      {"\x01\x02,1,2,3", "time stamp is \"\\x01\\x02\""},
      {"# rows: 0", "rows is \"0\", expected an integer from 1 to 1024"},
      {"# cols: 70000", "cols is \"70000\", expected an integer from 1 to 1024"},
      {"# values: both", "values is \"both\", expected raw or difference"},
      {"# pitch_row_mm: nan", "pitch_row_mm is \"nan\""},
      {"# counts_rise: maybe", "counts_rise is \"maybe\", expected true or false"},
      {"# reference: 1 2", "expected 3 values, found 2"},
      {"# reference: 1 2 x", "value v2 is \"x\""},
      {"# supply: t_us=1 volts=3", "found \"volts\", expected one of t_us, millivolts"},
      {"# supply: 3700", "expected name=value"},
      {"# journal: t_us=1 code=256", "code is \"256\""},
      {"# contacts: 1 1,1,2,3", "expected contacts as id,tip,x_q8,y_q8,strength"},
      {"# note: soon taped", "time stamp is \"soon\""},
      {"# note: 1 \\xFF", "expected UTF-8"},
  };
  for (const auto& each : bad) {
    const std::string text = kHead + "10,1,2,3\n" + each.line + "\n30,4,5,6\n";
    const std::string error = error_of(text, strict());
    EXPECT_THAT(error, HasSubstr("memory: line 5: "));
    EXPECT_THAT(error, HasSubstr(each.expected));
    EXPECT_EQ(error.find('\n'), std::string::npos);

    const auto reader = read_bytes(bytes_of(text), lenient());
    const auto texts = all_of(*reader);
    ASSERT_EQ(texts.size(), 3u) << each.line;
    EXPECT_THAT(texts[2], HasSubstr("at 30")) << each.line;
    EXPECT_EQ(reader->stats().malformed_lines, 1u) << each.line;
    EXPECT_EQ(reader->stats().damage.at(0).place, 5u);
    EXPECT_TRUE(reader->stats().damage.at(0).is_line);
    EXPECT_EQ(reader->stats().lost_bytes, std::string(each.line).size() + 1);
  }
}

TEST(AMalformedFrameLineReadLeniently, CountsAsAMissingFrame) {
  const auto reader = read_bytes(bytes_of(kHead + "10,1,2,3\n20,1,2\n30,4,5,6\n"), lenient());
  EXPECT_THAT(all_of(*reader).back(), HasSubstr("difference 2 at 30"));
  EXPECT_EQ(reader->stats().frames_missing, 1u);
}

TEST(ALineOfSeventyThousandColumns, IsOneClearError) {
  std::string line = "10";
  for (int i = 0; i < 70000; ++i) line += ",1";
  EXPECT_THAT(error_of(kHead + line + "\n", strict()),
              HasSubstr("line 4: expected 3 values, found 70000"));
}

TEST(ALineWithoutEnd, IsRefusedOrSkippedInBoundedMemory) {
  const std::string text = kHead + "10,1,2,3\n" + std::string(20'000'000, '7') + "\n30,4,5,6\n";
  EXPECT_THAT(error_of(text, strict()), HasSubstr("line 5: expected a line of at most 8388608"));
  const auto reader = read_bytes(bytes_of(text), lenient());
  EXPECT_EQ(all_of(*reader).size(), 3u);
  EXPECT_EQ(reader->stats().malformed_lines, 1u);
}

TEST(RepeatedCsvLines, AreTheSameScanUnlessTheirValuesDiffer) {
  const auto reader =
      read_bytes(bytes_of(kHead + "10,1,2,3\n10,1,2,3\n10,1,2,4\n20,1,2,4\n5,1,2,4\n"));
  std::vector<std::uint32_t> sequences;
  for (Record record; reader->next(record);)
    if (const auto* frame = std::get_if<FrameRecord>(&record)) sequences.push_back(frame->sequence);
  EXPECT_THAT(sequences, ElementsAre(0u, 0u, 1u, 2u, 3u));
  EXPECT_EQ(reader->stats().repeated_frames, 1u);
  EXPECT_EQ(reader->stats().stamps_backward, 1u);
  EXPECT_EQ(reader->stats().sequence_gaps, 0u);
}

TEST(TwoScansWithTheSameTimeAndValues, KeepTheirNumbersThroughCsv) {
  std::vector<Record> records = {support::sample_records()[0], support::sample_records()[3]};
  FrameRecord next = std::get<FrameRecord>(records[1]);
  ++next.sequence;
  records.emplace_back(next);
  const auto reader = read_bytes(support::written_as(CaptureFormat::csv, records));
  EXPECT_EQ(all_of(*reader), support::texts_of(records));
}

TEST(TextsWithControlCharacters, SurviveAsOneLine) {
  NoteRecord note{5, " \x1b[31m two\nlines \\x41 \x7F "};
  PanelDescription panel;
  panel.rows = panel.cols = 1;
  panel.unit_id = std::string("zero\0inside", 11);
  const Bytes csv = support::written_as(CaptureFormat::csv, {panel, note});
  for (const std::uint8_t byte : csv) EXPECT_TRUE(byte >= 0x20 || byte == '\n');
  EXPECT_EQ(all_of(*read_bytes(csv)), support::texts_of({panel, note}));
}

TEST(ACsvThatOnlyDescribesThePanel, GivesTheDescription) {
  EXPECT_EQ(all_of(*read_bytes(bytes_of(kHead))).size(), 1u);
  EXPECT_TRUE(all_of(*read_bytes(bytes_of("# nothing\n"))).empty());
}

}  // namespace
}  // namespace bareglass::host
