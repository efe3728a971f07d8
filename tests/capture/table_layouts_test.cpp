// Tables of numbers in many layouts: each is read right, or refused with the option that reads it.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support/table_cases.hpp"

namespace bareglass::host {
namespace {

using support::bytes_of;
using support::TableCase;
using testing::HasSubstr;

struct Frames {
  std::vector<FrameRecord> frames;
  PanelDescription panel;
  std::string how;  ///< the note that says how it was read
};

Frames frames_of(CaptureReader& reader) {
  Frames out;
  for (Record record; reader.next(record);) {
    if (const auto* frame = std::get_if<FrameRecord>(&record)) out.frames.push_back(*frame);
    if (const auto* panel = std::get_if<PanelDescription>(&record)) out.panel = *panel;
    if (const auto* note = std::get_if<NoteRecord>(&record); note != nullptr && out.how.empty())
      out.how = note->text;
  }
  return out;
}

std::string refusal(const std::string& text, const OpenOptions& options) {
  try {
    frames_of(*support::read_bytes(bytes_of(text), options));
  } catch (const CaptureError& error) {
    return error.what();
  }
  return "read without a word";
}

OpenOptions options_of(const TableCase& c, std::size_t without = SIZE_MAX) {
  OpenOptions options;
  for (const std::string& setting : c.given) support::take_setting(options, setting);
  for (std::size_t n = 0; n < c.needed.size(); ++n)
    if (n != without) support::take_setting(options, c.needed[n]);
  return options;
}

void expect_base(const TableCase& c, const Frames& got) {
  ASSERT_EQ(got.frames.size(), static_cast<std::size_t>(support::kTableFrames));
  EXPECT_EQ(got.panel.rows, support::kTableRows);
  EXPECT_EQ(got.panel.cols, support::kTableCols);
  for (int f = 0; f < support::kTableFrames; ++f) {
    const FrameRecord& frame = got.frames[static_cast<std::size_t>(f)];
    EXPECT_EQ(frame.t_us, static_cast<std::uint64_t>(f * support::kTablePeriodUs)) << f;
    EXPECT_EQ(frame.sequence, static_cast<std::uint32_t>(f));
    for (int r = 0; r < support::kTableRows; ++r)
      for (int col = 0; col < support::kTableCols; ++col) {
        const auto node = static_cast<std::size_t>(r * support::kTableCols + col);
        if (c.difference)
          ASSERT_EQ(frame.difference.at(node), support::table_difference(f, r, col)) << node;
        else
          ASSERT_EQ(frame.raw.at(node), support::table_value(f, r, col)) << node;
      }
  }
}

class ATableOfNumbers : public testing::TestWithParam<TableCase> {};

TEST_P(ATableOfNumbers, IsReadRightWithWhatItDoesNotTell) {
  const TableCase& c = GetParam();
  const auto reader = support::read_bytes(bytes_of(c.text), options_of(c));
  ASSERT_EQ(reader->format(), CaptureFormat::table);
  const Frames got = frames_of(*reader);
  expect_base(c, got);
  EXPECT_THAT(got.how, HasSubstr("imported from a table of numbers"));
  EXPECT_FALSE(reader->reading().understood.empty());
}

TEST_P(ATableOfNumbers, IsRefusedWithTheOptionThatIsMissing) {
  const TableCase& c = GetParam();
  for (std::size_t n = 0; n < c.needed.size(); ++n) {
    const std::string option = support::option_of(c.needed[n]);
    // Rows follow from columns and the numbers in a line, and the other way round.
    OpenOptions options = options_of(c, n);
    if (option == "--rows" || option == "--columns") options.rows = options.cols = 0;
    const std::string said = refusal(c.text, options);
    EXPECT_THAT(said, HasSubstr(option)) << "without " << c.needed[n];
    EXPECT_EQ(said.find('\n'), std::string::npos);
  }
}

TEST_P(ATableOfNumbers, IsTheSameInSmallPieces) {
  const TableCase& c = GetParam();
  expect_base(c, frames_of(*support::read_bytes(bytes_of(c.text), options_of(c), 1, 3)));
}

INSTANTIATE_TEST_SUITE_P(Layouts, ATableOfNumbers, testing::ValuesIn(support::table_cases()),
                         [](const auto& one) { return one.param.name; });

TEST(LayoutsOfTables, AreAtLeastTwentyOne) { EXPECT_GE(support::table_cases().size(), 21u); }

TableCase case_called(const std::string& name) {
  for (TableCase& c : support::table_cases())
    if (c.name == name) return c;
  return {};
}

TEST(ATableThatContradictsWhatWasAsked, IsRefused) {
  const TableCase turned = case_called("names_say_row_and_column_turned");
  OpenOptions options = options_of(turned);
  options.table.order = NodeOrder::rows;
  EXPECT_THAT(refusal(turned.text, options), HasSubstr("the names say"));
  options = options_of(turned);
  options.rows = 3;
  options.cols = 4;
  EXPECT_THAT(refusal(turned.text, options), HasSubstr("the names make 4 rows x 3 columns"));
  const TableCase preamble = case_called("slash_comments_and_preamble");
  options = options_of(preamble);
  options.rows = 5;
  EXPECT_THAT(refusal(preamble.text, options), HasSubstr("the lines above the table say 4 and 3"));
  const TableCase named = case_called("tabs_milliseconds");
  options = options_of(named);
  options.table.time_unit = TimeUnit::seconds;
  EXPECT_THAT(refusal(named.text, options), HasSubstr("says milliseconds"));
}

TEST(ABadCellInATable, IsNamedByLineColumnAndValueWithTheOptionThatHelps) {
  const TableCase c = case_called("comma_us_named");
  const struct {
    const char* from;
    const char* to;
    const char* expected;
  } bad[] = {
      {"22016", "abc", "memory: line 3, column 3: \"abc\" is no number; --skip-bad"},
      {"22016", "", "memory: line 3, column 3: is empty"},
      {"22016", "nan", "\"nan\" is no number"},
      {"22016", "5A3F", "--base 10 reads decimal"},
      {"22016", "22013.5", "--multiply 1 rounds"},
      {"22016", "70000", "\"70000\" is beyond 0 to 65535; --multiply 0.5"},
      {"22016", "-4", "--values difference"},
      {",22016", "", "line 3, column 13: expected 13 cells as in the other lines, found 12"},
      {"20000,", "soon,", "line 3, column 1: \"soon\" is no time, expected microseconds"},
      {"20000,22006", "noise here\n20000,22006", "line 3: \"noise here\" is no line of this table"},
  };
  for (const auto& each : bad) {
    std::string text = c.text;
    text.replace(text.find(each.from), std::string(each.from).size(), each.to);
    EXPECT_THAT(refusal(text, options_of(c)), HasSubstr(each.expected)) << each.to;
    OpenOptions lenient = options_of(c);
    lenient.lenient = true;
    const std::string to = each.to;
    if (to == "-4" || to == "5A3F") continue;  // the whole table is then read another way
    const auto reader = support::read_bytes(bytes_of(text), lenient);
    EXPECT_EQ(frames_of(*reader).frames.size(), to.find('\n') == std::string::npos ? 2u : 3u) << to;
    EXPECT_EQ(reader->stats().malformed_lines, 1u) << to;
    EXPECT_EQ(reader->stats().damage.at(0).place, 3u);
  }
}

TEST(ABlockThatIsShortOfALine, IsRefusedOrLeftOutAndCounted) {
  TableCase c = case_called("a_row_a_line_frame_headings");
  const std::size_t at = c.text.find("22106  ");
  c.text.erase(at, c.text.find('\n', at) + 1 - at);
  OpenOptions options = options_of(c);
  EXPECT_THAT(refusal(c.text, options), HasSubstr("ends after 3 lines, expected 4"));
  options.lenient = true;
  const auto reader = support::read_bytes(bytes_of(c.text), options);
  const Frames got = frames_of(*reader);
  ASSERT_EQ(got.frames.size(), 2u);
  EXPECT_EQ(got.frames[1].sequence, 2u);
  EXPECT_EQ(reader->stats().frames_missing, 1u);
}

TEST(ATextWithoutNumbers, IsNotRecognisedAndToldHowATableIsLookedAt) {
  EXPECT_THAT(refusal("Dear colleague,\nthe unit has no touch.\n", {}),
              testing::AllOf(HasSubstr("not recognised"), HasSubstr("If it is a table of numbers"),
                             HasSubstr("--preview")));
}

// Found by fuzzing: a table whose only numbers grow had nothing left to read.
TEST(ATableWithOneColumnThatGrows, KeepsItAsAReading) {
  OpenOptions options;
  options.table.trial = true;
  const auto reader =
      support::read_bytes(bytes_of("2031-05-06,1\n2031-05-07,2\n2031-05-08,3\n"), options);
  EXPECT_EQ(frames_of(*reader).frames.size(), 3u);
}

TEST(ATrialOfATable, ShowsFramesThoughMuchIsOpen) {
  const TableCase c = case_called("no_time_no_header");
  OpenOptions options;
  options.table.trial = true;
  const auto reader = support::read_bytes(bytes_of(c.text), options);
  EXPECT_EQ(frames_of(*reader).frames.size(), 3u);
  EXPECT_EQ(reader->reading().questions.size(), 5u);  // shape, order, values, touch, period
}

}  // namespace
}  // namespace bareglass::host
