// Names and arguments that drive terminals, given to the command: nothing of that comes out.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <string>

#include "support/run_command.hpp"

namespace bareglass {
namespace {

using support::CommandResult;
using support::ScratchFolder;
using ::testing::HasSubstr;
using ::testing::Not;

// Shell words for a name with ESC, C1 as a lone byte, an override of direction and a second line.
const std::string kName = "\"$(printf 'd\\033[31m\\233\\342\\200\\256\\nx')\"";
const std::string kShown = "d\\x1B[31m\\x9B\\u202E\\x0Ax";

class HostileName : public ::testing::Test {
 protected:
  CommandResult run(const std::string& line) {
    return support::run_shell(scratch_, "cd " + scratch_.path() + "; " + line);
  }
  void expect_harmless(const std::string& line) {
    const CommandResult r = run(line);
    for (const std::string& text : {r.out, r.err})
      for (const char* found : {"\x1B", "\x9B", "\xE2\x80\xAE", "\nx"})
        EXPECT_EQ(text.find(found), std::string::npos) << line << ": " << text.substr(0, 500);
    EXPECT_THAT(r.out + r.err, ::testing::AnyOf(HasSubstr(kShown), HasSubstr("\\\\x1B[31m\\\\x9B")))
        << line;
  }
  ScratchFolder scratch_;
};

TEST_F(HostileName, OfADumpIsShownInEveryAnswer) {
  ASSERT_EQ(run("cp " BAREGLASS_SOURCE_DIR "/fixtures/damp-note-peeled.frames " + kName).code, 0);
  for (const std::string words :
       {"explain @", "explain @ --json", "info @", "info @ --json", "touchtest @",
        "touchtest @ --json",
        "compare @ " BAREGLASS_SOURCE_DIR "/fixtures/bare-glass.frames --json",
        "explain @ --report /dev/stderr",
        "explain @ --ward-page /dev/null --picture /dev/null/@.svg"}) {
    std::string line = "$BAREGLASS " + words;
    line.replace(line.find('@'), 1, kName);
    if (const auto at = line.find('@'); at != std::string::npos) line.replace(at, 1, kName);
    expect_harmless(line);
  }
}

TEST_F(HostileName, OfWhatIsNotThereIsShownInErrors) {
  for (const std::string words :
       {"explain @", "info @", "convert @ y.csv",
        "convert " BAREGLASS_SOURCE_DIR "/fixtures/bare-glass.frames @", "simulate @ -o y.frames",
        "field @", "fleet @", "touchtest @", "@", "explain x --policy @", "explain x --@",
        "info x --format @",
        "explain " BAREGLASS_SOURCE_DIR "/fixtures/bare-glass.frames --settings @",
        "explain " BAREGLASS_SOURCE_DIR "/fixtures/bare-glass.frames --power-up @"}) {
    std::string line = "$BAREGLASS " + words;
    line.replace(line.find('@'), 1, kName);
    expect_harmless(line);
  }
}

TEST_F(HostileName, InTomlIsShownInErrors) {
  support::write_file(scratch_ / "s.toml", "[\"d\\u001B[31m\\u202E\"]\n");
  const CommandResult r = run("$BAREGLASS explain " BAREGLASS_SOURCE_DIR
                              "/fixtures/bare-glass.frames --settings s.toml");
  EXPECT_EQ(r.code, 3);
  EXPECT_THAT(r.err, HasSubstr("[d\\x1B[31m\\u202E]"));
  EXPECT_THAT(r.err, Not(HasSubstr("\x1B")));
}

}  // namespace
}  // namespace bareglass
