#include "bareglass/settings/settings_file.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdio>
#include <fstream>

#include "bareglass/capture/error.hpp"
#include "support/temporary_path.hpp"

namespace bareglass::host {
namespace {

using ::testing::HasSubstr;
using ::testing::StartsWith;

class SettingsFile : public ::testing::Test {
 protected:
  void write(const std::string& text) { std::ofstream(path_) << text; }
  void TearDown() override { std::remove(path_.c_str()); }
  void expect_error(const std::string& text, const std::string& place,
                    const std::string& expected) {
    write(text);
    try {
      read_settings(path_);
      ADD_FAILURE() << "accepted: " << text;
    } catch (const CaptureError& e) {
      EXPECT_EQ(e.file(), path_);
      EXPECT_THAT(e.place(), HasSubstr(place));
      EXPECT_THAT(e.expected(), StartsWith("expected "));
      EXPECT_THAT(e.expected(), HasSubstr(expected));
    }
  }
  std::string path_ = support::temporary_path("bareglass_settings_test.toml");
};

TEST_F(SettingsFile, OverridesOnlyWhatItNames) {
  write(
      "[contacts]\ntouch_on_permille = 250\n[start]\npolicy = \"wait\"\n[panel]\ncounts_rise = "
      "true\n");
  const Settings s = read_settings(path_);
  EXPECT_EQ(s.touch_on_permille, 250);
  EXPECT_EQ(s.policy, StartPolicy::wait);
  EXPECT_TRUE(s.counts_rise);
  EXPECT_EQ(s.touch_off_permille, Settings{}.touch_off_permille);
}

TEST_F(SettingsFile, UnknownKeyNamesLineAndKey) {
  expect_error("[contacts]\ntouch_on_permile = 250\n", "line 2", "contacts.touch_on_permile");
}
TEST_F(SettingsFile, TextWhereANumberBelongs) {
  expect_error("[start]\n\nretry_ms = \"soon\"\n", "line 3", "whole number");
}
TEST_F(SettingsFile, FractionWhereAWholeNumberBelongs) {
  expect_error("[start]\nretry_ms = 1.5\n", "line 2", "whole number");
}
TEST_F(SettingsFile, NegativeNumber) {
  expect_error("[surface]\nheld_ms = -1\n", "line 2", "0 to");
}
TEST_F(SettingsFile, NumberBeyondTheField) {
  expect_error("[contacts]\ndebounce_up = 256\n", "line 2", "0 to 255");
}
TEST_F(SettingsFile, UnknownPolicy) {
  expect_error("[start]\npolicy = \"maybe\"\n", "line 2", "\"lock\"");
}
TEST_F(SettingsFile, ValueOutOfRangeNamesTheField) {
  expect_error("[start]\nsample_frames = 99\n", "line 2", "sample_frames");
  // Where the value that is wrong is a default.
  expect_error("[contacts]\ntouch_on_permille = 60\n", "settings", "touch_o");
}
TEST_F(SettingsFile, ValueOutOfRangeNamesTheRange) {
  expect_error("[start]\nsample_frames = 99\n", "line 2", "\"sample_frames\" from 4 to 25");
  expect_error("[tracking]\ntrack_ms = 5\n", "line 2", "\"track_ms\" 0 or from 100 to 600000");
}
TEST_F(SettingsFile, NestedTooDeeplyOrTooLargeIsRefused) {
  std::string key = "a";
  for (int n = 0; n < 40'000; ++n) key += ".a";
  expect_error("[start]\n" + key + " = 1\n", "line 2", "at most 32 levels");
  expect_error("[" + key + "]\n", "line 1", "at most 32 levels");
  write(std::string((1u << 20) + 1, '#'));
  try {
    read_settings(path_);
    FAIL() << "accepted";
  } catch (const CaptureError& e) {
    EXPECT_EQ(e.expected(), "is larger than the limit of 1 MiB, expected a TOML settings file");
  }
}
TEST_F(SettingsFile, NotToml) { expect_error("touch on: 30 %\n", "line 1", "TOML"); }

TEST_F(SettingsFile, MissingFileIsAnError) {
  try {
    read_settings("/nonexistent/settings.toml");
    FAIL() << "accepted";
  } catch (const CaptureError& e) {
    EXPECT_STREQ(e.what(),
                 "/nonexistent/settings.toml: cannot open: No such file or directory, expected a "
                 "TOML settings file");
  }
}

TEST_F(SettingsFile, DirectoryIsNamedAsOne) {
  try {
    read_settings(::testing::TempDir());
    FAIL() << "accepted";
  } catch (const CaptureError& e) {
    EXPECT_EQ(e.expected(), "is a directory, expected a TOML settings file");
  }
}

TEST_F(SettingsFile, EmptyFileSaysNothingAndIsRefused) {
  expect_error("", "", "at least one table");
  expect_error("# nothing yet\n", "", "at least one table");
  write("[accept]\n");
  EXPECT_NO_THROW(read_settings(path_)) << "a known table may be empty";
}

TEST_F(SettingsFile, MisspeltTableIsRefusedThoughEmpty) {
  expect_error("[accept]\n[acept]\n", "line 2", "instead of [acept]");
  expect_error("[starts]\n", "line 1", "[start], [accept] instead");
}

TEST_F(SettingsFile, AcceptLimitsAreReadOverTheirDefaults) {
  write(
      "[accept]\nmax_noise_percent = 1.5\nmax_departure_percent = 5\nbare_glass = false\n"
      "start_ups = 3\n[contacts]\ntouch_on_permille = 250\n");
  const host::SettingsFile file = read_settings_file(path_);
  EXPECT_EQ(file.accept.max_noise_percent, 1.5);
  EXPECT_EQ(file.accept.max_departure_percent, 5.0);
  EXPECT_FALSE(file.accept.bare_glass);
  EXPECT_TRUE(file.accept.sound_lines);
  EXPECT_EQ(file.accept.start_ups, 3);
  EXPECT_EQ(file.settings.touch_on_permille, 250);
}

TEST_F(SettingsFile, WrongAcceptLimitsAreRefused) {
  expect_error("[accept]\nmax_noise_percent = 0\n", "line 2", "0.01 to 100");
  expect_error("[accept]\nmax_node_noise_percent = \"low\"\n", "line 2", "number");
  expect_error("[accept]\n\nmax_departure_percent = inf\n", "line 3", "0.1 to 1000");
  expect_error("[accept]\nmax_non_uniformity_percent = -1\n", "line 2", "0.1 to 1000");
  expect_error("[accept]\nmax_whole_shift_percent = 0\n", "line 2", "0.1 to 100");
  expect_error("[accept]\nsound_lines = 1\n", "line 2", "true or false");
  expect_error("[accept]\nstart_ups = 2.5\n", "line 2", "whole number");
  expect_error("[accept]\nmax_noise = 3\n", "line 2", "accept.max_noise");
}

}  // namespace
}  // namespace bareglass::host
