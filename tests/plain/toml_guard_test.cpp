#include "bareglass/plain/toml_guard.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "support/temporary_path.hpp"

namespace bareglass::plain {
namespace {

using ::testing::HasSubstr;

std::string repeated(const std::string& part, int times) {
  std::string out;
  for (int n = 0; n < times; ++n) out += part;
  return out;
}

void expect_too_deep(const std::string& text, std::size_t line) {
  try {
    parse_toml(text, "x.toml");
    ADD_FAILURE() << "accepted: " << text.substr(0, 60);
  } catch (const TomlError& e) {
    EXPECT_THAT(e.what(), HasSubstr("nested too deeply: at most 32 levels"));
    EXPECT_EQ(e.line(), line) << text.substr(0, 60);
  }
}

// Each of these ends in a stack overflow, or in seconds of work, when the parser is given it.
TEST(TomlGuard, FortyThousandLevelsAreRefusedBeforeParsing) {
  constexpr int kLevels = 40'000;
  expect_too_deep("a = 1\n" + repeated("a.", kLevels) + "a = 1\n", 2);
  expect_too_deep("[" + repeated("a.", kLevels) + "a]\n", 1);
  expect_too_deep("[[" + repeated("a . ", kLevels) + "a]]\n", 1);
  expect_too_deep(repeated("\"a\".", kLevels) + "a = 1\n", 1);
  expect_too_deep("\n\na = " + repeated("[", kLevels) + repeated("]", kLevels), 3);
  expect_too_deep("a = " + repeated("{a=", kLevels) + "1" + repeated("}", kLevels), 1);
  expect_too_deep("a = " + repeated("[\n", kLevels), 32);
  expect_too_deep("a = [{ " + repeated("b.", kLevels) + "b = 1 }]", 1);
}

TEST(TomlGuard, StringsAndCommentsHideNothing) {
  const std::string deep = repeated("a.", 40) + "a = 1\n";
  // What follows a string or a comment is seen whatever the string holds.
  expect_too_deep("s = \"#\"\n" + deep, 2);
  expect_too_deep("s = '\\'\n" + deep, 2);
  expect_too_deep("s = \"\\\"\"\n" + deep, 2);
  expect_too_deep("s = \"\"\"\nx\"\"\"\"\"\n" + deep, 3);
  expect_too_deep("s = '''a'b''''\n" + deep, 2);
  expect_too_deep("s = \"\"\n" + deep, 2);
  expect_too_deep("s = \"\"\"a\\\n\"\"\"\n" + deep, 3);
  expect_too_deep("# \"\"\"\n" + deep, 2);
  // What they hold themselves counts for nothing.
  const std::string dots = repeated(".[{", 100);
  EXPECT_EQ(parse_toml("s = \"" + dots + "\" # " + dots, "x")["s"].value<std::string>(), dots);
  EXPECT_EQ(parse_toml("s = '''\n" + dots + "'''", "x")["s"].value<std::string>(), dots);
}

TEST(TomlGuard, WhatPeopleWriteIsFarFromTheLimit) {
  const toml::table table = parse_toml(
      "[a.b.c.d]\nx.y = 1.5\nt = 2026-03-02T08:00:00.25Z\nlist = [" + repeated("1.5, ", 5000) +
          "2]\npath = [" + repeated("[1.25, 2.5], ", 2000) + "]\nin = {p = {q = [{r = 1}]}}\n",
      "x.toml");
  EXPECT_EQ(table["a"]["b"]["c"]["d"]["list"].as_array()->size(), 5001u);
}

TEST(TomlGuard, LargeTextsAreRefusedWithTheLimit) {
  std::string text(kMostTomlBytes, '#');
  EXPECT_NO_THROW(parse_toml(text, "x.toml"));
  text += '#';
  try {
    parse_toml(text, "x.toml");
    FAIL() << "accepted";
  } catch (const TomlError& e) {
    EXPECT_STREQ(e.what(), "is larger than the limit of 1 MiB");
    EXPECT_EQ(e.line(), 0u);
  }
}

TEST(TomlGuard, LargeFilesAreNotReadToTheirEnd) {
  const std::string path = support::temporary_path("large.toml");
  std::ofstream(path).put('#');
  std::filesystem::resize_file(path, std::uintmax_t{1} << 40);  // sparse
  EXPECT_THROW(read_toml_text(path), TomlError);
  std::filesystem::remove(path);
  EXPECT_THROW(read_toml_text("/dev/zero"), TomlError);
  EXPECT_EQ(read_toml_text("/dev/null"), "");
}

TEST(TomlGuard, WhatIsNoTomlIsToldWithItsLine) {
  try {
    parse_toml("a = 1\nb = \n", "x.toml");
    FAIL() << "accepted";
  } catch (const TomlError& e) {
    EXPECT_EQ(e.line(), 2u);
  }
}

}  // namespace
}  // namespace bareglass::plain
