#include "bareglass/plain/harmless.hpp"

#include <gtest/gtest.h>

namespace bareglass::plain {
namespace {

TEST(Harmless, LeavesWordsAsTheyAre) {
  for (const char* text : {"", "bay 4, unit 17",
                           "Pr\xC3\xBC"
                           "fstand 3",
                           "\xE6\xB8\xA9\xE5\xBA\xA6", "\xF0\x9F\x94\xA7", "C:\\unit\\x"})
    EXPECT_EQ(harmless(text), text);
}

TEST(Harmless, ShowsControlCharacters) {
  EXPECT_EQ(harmless("a\x1B[31mb"), "a\\x1B[31mb");
  EXPECT_EQ(harmless("\x1B]0;title\x07"), "\\x1B]0;title\\x07");
  EXPECT_EQ(harmless("two\nlines\r\tand\x7F"), "two\\x0Alines\\x0D\\x09and\\x7F");
  EXPECT_EQ(harmless(std::string_view("a\0b", 3)), "a\\x00b");
  // C1: the control sequence introducer in one character.
  EXPECT_EQ(harmless("\xC2\x9B"
                     "31m"),
            "\\u009B31m");
}

TEST(Harmless, ShowsWhatTurnsTheDirectionOfWriting) {
  // UAX #9, tables 1 and 2: LRM, RLM, ALM, LRE, RLE, PDF, LRO, RLO, LRI, RLI, FSI, PDI.
  EXPECT_EQ(harmless("\xE2\x80\x8E\xE2\x80\x8F\xD8\x9C"), "\\u200E\\u200F\\u061C");
  EXPECT_EQ(harmless("\xE2\x80\xAA\xE2\x80\xAB\xE2\x80\xAC\xE2\x80\xAD\xE2\x80\xAE"),
            "\\u202A\\u202B\\u202C\\u202D\\u202E");
  EXPECT_EQ(harmless("\xE2\x81\xA6\xE2\x81\xA7\xE2\x81\xA8\xE2\x81\xA9"),
            "\\u2066\\u2067\\u2068\\u2069");
}

TEST(Harmless, ShowsWhatCannotBeSeen) {
  EXPECT_EQ(harmless("a\xE2\x80\x8B"
                     "b\xC2\xAD\xEF\xBB\xBF\xE2\x80\xA8\xF3\xA0\x81\x81"),
            "a\\u200Bb\\u00AD\\uFEFF\\u2028\\U000E0041");
  EXPECT_EQ(harmless("\xEF\xBF\xBF\xEF\xB7\x90"), "\\uFFFF\\uFDD0");
}

TEST(Harmless, ShowsBytesThatAreNoUtf8) {
  // Lone continuation, too short, overlong, surrogate, beyond U+10FFFF (RFC 3629, section 3).
  EXPECT_EQ(harmless("\x80x"), "\\x80x");
  EXPECT_EQ(harmless("\xC3"), "\\xC3");
  EXPECT_EQ(harmless("\xE2\x82"), "\\xE2\\x82");
  EXPECT_EQ(harmless("\xC0\xAF"), "\\xC0\\xAF");
  EXPECT_EQ(harmless("\xED\xA0\x80"), "\\xED\\xA0\\x80");
  EXPECT_EQ(harmless("\xF4\x90\x80\x80"), "\\xF4\\x90\\x80\\x80");
  EXPECT_EQ(harmless("\x9B"
                     "31m"),
            "\\x9B31m");
}

// Every code point: what comes out is ASCII or the character itself, and a second time changes
// nothing.
TEST(Harmless, TwiceIsAsGoodAsOnce) {
  for (std::uint32_t p = 0; p <= 0x10FFFF; ++p) {
    if (p >= 0xD800 && p <= 0xDFFF) continue;
    std::string text;
    if (p < 0x80) {
      text = {static_cast<char>(p)};
    } else if (p < 0x800) {
      text = {static_cast<char>(0xC0 | p >> 6), static_cast<char>(0x80 | (p & 63))};
    } else if (p < 0x10000) {
      text = {static_cast<char>(0xE0 | p >> 12), static_cast<char>(0x80 | (p >> 6 & 63)),
              static_cast<char>(0x80 | (p & 63))};
    } else {
      text = {static_cast<char>(0xF0 | p >> 18), static_cast<char>(0x80 | (p >> 12 & 63)),
              static_cast<char>(0x80 | (p >> 6 & 63)), static_cast<char>(0x80 | (p & 63))};
    }
    const CodePoint decoded = first_code_point(text);
    ASSERT_TRUE(decoded.good) << p;
    ASSERT_EQ(decoded.value, p);
    ASSERT_EQ(decoded.bytes, text.size());
    const std::string once = harmless(text);
    ASSERT_EQ(once != text, is_unwelcome(p)) << p;
    ASSERT_EQ(harmless(once), once) << p;
  }
}

TEST(Harmless, WholeTextsKeepTheirLines) {
  EXPECT_EQ(harmless_lines("a\n\tb\x1B\r"), "a\n\tb\\x1B\\x0D");
}

}  // namespace
}  // namespace bareglass::plain
