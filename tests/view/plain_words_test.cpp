// Words for someone who repairs devices: every kind and every decision has them, without terms that
// only the core's own documents explain.
#include "bareglass/view/plain_words.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>
#include <string>

namespace bareglass::view {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

constexpr int kKinds[] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 64, 65, 66, 67, 68, 69, 128, 129, 130, 131};
constexpr int kLastCode = static_cast<int>(JournalCode::sequence_back);

void expect_plain(const std::string& text) {
  for (const char* term : {"plateau", "two-sign", "permille", "counts", "departure", "baseline",
                           "region", "phantom", "policy", "front end"})
    EXPECT_THAT(text, Not(HasSubstr(term)));
}

Finding line_finding(FindingKind kind, bool of_rows, int first, int last) {
  Finding f;
  f.kind = kind;
  f.lines.of_rows = of_rows;
  f.lines.first = static_cast<std::uint8_t>(first);
  f.lines.last = static_cast<std::uint8_t>(last);
  f.peak = 20000;
  return f;
}

TEST(KindsOfFindings, EachHaveWordsOfTheirOwn) {
  std::set<std::string> seen;
  for (const int kind : kKinds) {
    const std::string words = words_of(static_cast<FindingKind>(kind));
    EXPECT_TRUE(seen.insert(words).second) << words;
    EXPECT_LE(words.size(), 36u) << words << " is too long for a label";
    expect_plain(words);
  }
  EXPECT_STREQ(words_of(static_cast<FindingKind>(77)), "something unknown") << "of a later version";
}

TEST(EntriesOfTheJournal, AreEachSaidPlainlyAndAsSentences) {
  for (int code = 1; code <= kLastCode; ++code) {
    // Entries on the stream itself keep the words of the report.
    const auto known = static_cast<JournalCode>(code);
    const bool of_the_stream =
        known == JournalCode::frame_saturated || known == JournalCode::regions_overflow;
    for (const int kind : kKinds) {
      const JournalEntry entry{1'000'000, -400, 283, known, static_cast<std::uint8_t>(kind), 6, 3};
      const std::string text = plain_event(entry, Settings{});
      SCOPED_TRACE(text);
      ASSERT_FALSE(text.empty());
      EXPECT_EQ(text.back(), '.');
      EXPECT_FALSE(text.front() >= 'a' && text.front() <= 'z') << code;
      if (!of_the_stream) expect_plain(text);
    }
  }
}

TEST(DecisionAgainstInput, SaysWhatItMeansThenWhereAndHowMuch) {
  Settings settings;
  settings.finger_counts = 1000;
  JournalEntry entry{0, -130, 80, JournalCode::input_off, 2, 6, 3};
  EXPECT_EQ(plain_event(entry, settings),
            "Input was switched off: something damp that has no way to ground, as a wet note. Row "
            "6, column 3 reads 13 % of a finger, the other way; 8.0 % is allowed.");
  entry.row = entry.col = kNoLine;
  entry.value = 130;
  EXPECT_THAT(plain_event(entry, settings), HasSubstr("A node reads 13 % of a finger; 8.0 %"));
}

TEST(LabelOfALine, NamesTheLinesAndWhatIsWrong) {
  const Settings s;
  EXPECT_EQ(label_of(line_finding(FindingKind::cut_line, true, 5, 5), s), "row 5 is cut");
  EXPECT_EQ(label_of(line_finding(FindingKind::cut_line, true, 4, 7), s),
            "rows 4 to 7 are cut: a crack");
  EXPECT_EQ(label_of(line_finding(FindingKind::bridged_lines, false, 2, 3), s),
            "columns 2 and 3 are joined");
  EXPECT_EQ(label_of(line_finding(FindingKind::open_line, true, 0, 0), s), "row 0 reads nothing");
  EXPECT_EQ(label_of(line_finding(FindingKind::tail_group, true, 8, 11), s),
            "rows 8 to 11 are weak: tail");
  EXPECT_EQ(label_of(line_finding(FindingKind::intermittent_line, false, 9, 9), s),
            "column 9 comes and goes");
}

TEST(LabelOfAThing, SaysHowStrongAndWhichWay) {
  Settings s;
  s.finger_counts = 1000;
  Finding f;
  f.kind = FindingKind::raised_plateau;
  f.peak = -130;
  EXPECT_EQ(label_of(f, s), "damp note or wet patch: -13 %");
  f.kind = FindingKind::border_band;
  f.peak = 400;
  EXPECT_EQ(label_of(f, s), "fluid at the bezel: 40 %");
}

TEST(InputOffInUse, ComesBackByItselfOnlyWhereThePolicySaysSo) {
  EXPECT_STREQ(plain_state(InputState::paused, StartPolicy::wait),
               "input off while the cause lasts");
  EXPECT_STREQ(plain_state(InputState::paused, StartPolicy::lock),
               "input off until the next power-up");
}

}  // namespace
}  // namespace bareglass::view
