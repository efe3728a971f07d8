// Sentences that are not told by the approved texts: journal entries of broken lines and electrics,
// and kinds that this version does not know.
#include "bareglass/words/text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

namespace bareglass::host {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

JournalEntry entry(JournalCode code, FindingKind kind) {
  JournalEntry e;
  e.code = code;
  e.detail = static_cast<std::uint8_t>(kind);
  e.value = 700;
  e.limit = 283;
  e.row = 4;
  e.col = 9;
  return e;
}

std::string told(JournalCode code, FindingKind kind) {
  Settings settings;
  settings.finger_counts = 3500;
  return text::event(entry(code, kind), settings);
}

TEST(JournalSentence, NamesTheLimitOfTheGlassOnlyForWhatLiesOnTheGlass) {
  for (const JournalCode code :
       {JournalCode::finding_began, JournalCode::finding_ended, JournalCode::input_off}) {
    EXPECT_THAT(told(code, FindingKind::held_touch),
                HasSubstr("700 counts (20 % of a finger) at row 4, column 9; the limit is 283"));
    for (const FindingKind kind : {FindingKind::cut_line, FindingKind::weak_coupling}) {
      EXPECT_THAT(told(code, kind), HasSubstr("700 counts (20 % of a finger) at row 4, column 9"));
      EXPECT_THAT(told(code, kind), Not(HasSubstr("limit")));
    }
  }
}

TEST(JournalSentence, SaysOfABridgeWhatIsLeftAndOfAnyOtherLineWhatIsLost) {
  EXPECT_THAT(told(JournalCode::line_held_back, FindingKind::bridged_lines),
              HasSubstr("70.0 % of what told them apart is left; the limit is 28.3 %"));
  EXPECT_THAT(told(JournalCode::line_held_back, FindingKind::cut_line),
              HasSubstr("it lost 70.0 % of its reading; the limit is 28.3 %"));
}

TEST(JournalSentence, TellsEveryKindInWordsOfItsOwn) {
  std::set<std::string> sentences;
  int kinds = 0;
  for (int k = 0; k < 256; ++k) {
    const auto kind = static_cast<FindingKind>(k);
    const std::string sentence = told(JournalCode::finding_began, kind);
    if (sentence.find("unknown to this version") != std::string::npos) continue;
    ++kinds;
    sentences.insert(sentence.substr(0, sentence.find(',')));
  }
  EXPECT_EQ(kinds, 20);
  EXPECT_EQ(sentences.size(), 20u);
  EXPECT_THAT(told(JournalCode::finding_began, static_cast<FindingKind>(200)),
              HasSubstr("finding 200, unknown to this version"));
}

}  // namespace
}  // namespace bareglass::host
