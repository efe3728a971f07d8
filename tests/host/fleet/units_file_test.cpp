// units.csv: what is read, and what is refused with line and column.
#include "bareglass/fleet/units_file.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdio>
#include <fstream>

#include "bareglass/capture/error.hpp"
#include "support/temporary_path.hpp"

namespace bareglass::host {
namespace {

using ::testing::HasSubstr;

const std::string kHead = "unit,ward,date,taped\n";

class UnitsFile : public ::testing::Test {
 protected:
  std::vector<UnitRow> read(const std::string& text) {
    std::ofstream(path_, std::ios::binary) << text;
    return read_units(path_);
  }
  void TearDown() override { std::remove(path_.c_str()); }
  void expect_error(const std::string& text, const std::string& place, const std::string& words) {
    try {
      read(text);
      ADD_FAILURE() << "accepted: " << text;
    } catch (const CaptureError& e) {
      EXPECT_EQ(e.file(), path_);
      EXPECT_EQ(e.place(), place) << text;
      EXPECT_THAT(e.expected(), HasSubstr(words)) << text;
    }
  }
  std::string path_ = support::temporary_path("bareglass_units_test.csv");
};

TEST_F(UnitsFile, ReadsRowsInAnyOrderOfColumns) {
  const auto rows = read("date,taped,dump,unit,ward\n2026-02-28,yes,a.frames,u1,North\n");
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].unit, "u1");
  EXPECT_EQ(rows[0].ward, "North");
  EXPECT_EQ(rows[0].taped, Taped::yes);
  EXPECT_EQ(rows[0].dump, "a.frames");
  EXPECT_EQ(rows[0].line, 2u);
}

TEST_F(UnitsFile, ReadsQuotesByteOrderMarkAndCarriageReturns) {
  // RFC 4180, section 2: rules 5 to 7.
  const auto rows = read(
      "\xEF\xBB\xBFunit,ward,date,taped\r\n\"u,1\",\"the \"\"big\"\" ward\",2026-01-31,no\r\n"
      "\r\nu2,W,2024-02-29,unknown");
  ASSERT_EQ(rows.size(), 2u);
  EXPECT_EQ(rows[0].unit, "u,1");
  EXPECT_EQ(rows[0].ward, "the \"big\" ward");
  EXPECT_EQ(rows[1].taped, Taped::unknown);
  EXPECT_EQ(rows[1].line, 4u);
}

TEST_F(UnitsFile, OnlyAHeadGivesNoUnits) { EXPECT_TRUE(read(kHead).empty()); }

TEST_F(UnitsFile, WrongFilesAreRefused) {
  expect_error("", "line 1", "names the columns");
  expect_error("unit,ward,date\n", "line 1", "taped");
  expect_error("unit,ward,date,tapped\n", "line 1, column 4", "'tapped'");
  expect_error("unit,ward,date,unit\n", "line 1, column 4", "once");
  expect_error(kHead + "u,W,2026-01-01\n", "line 2", "4 fields");
  expect_error(kHead + "u,W,2026-01-01,no,x\n", "line 2", "not 5");
  expect_error(kHead + "u,W,2026-01-01,maybe\n", "line 2, column 4 (taped)", "yes, no or unknown");
  expect_error(kHead + "u,W,2026-01-01,\n", "line 2, column 4 (taped)", "1 to 80");
  expect_error(kHead + ",W,2026-01-01,no\n", "line 2, column 1 (unit)", "1 to 80");
  expect_error(kHead + "u,W,1.2.2026,no\n", "line 2, column 3 (date)", "2026-03-02");
  expect_error(kHead + "u,W,2026-02-29,no\n", "line 2, column 3 (date)", "a day");
  expect_error(kHead + "u,W,2026-13-01,no\n", "line 2, column 3 (date)", "a day");
  expect_error(kHead + "u,W,2026-01-01,no\nv,W,2026-01-01,no\nu,X,2026-01-02,no\n",
               "line 4, column 1 (unit)", "line 2");
  expect_error(kHead + "\"u,W,2026-01-01,no\n", "line 2, column 1 (unit)", "closing quote");
  expect_error(kHead + "\"u\"v,W,2026-01-01,no\n", "line 2, column 1 (unit)", "comma");
  expect_error(kHead + std::string(5000, 'u') + "\n", "line 2", "4096");
  expect_error(kHead + std::string(81, 'u') + ",W,2026-01-01,no\n", "line 2, column 1 (unit)",
               "81");
}

TEST_F(UnitsFile, ADumpStandsInOneRow) {
  const std::string head = "unit,ward,date,taped,dump\n";
  expect_error(head + "u,W,2026-01-01,no,a.csv\nv,W,2026-01-01,no,a.csv\n",
               "line 3, column 5 (dump)", "'a.csv' stands in line 2");
  EXPECT_EQ(read(head + "u,W,2026-01-01,no,\nv,W,2026-01-01,no,\n").size(), 2u);
}

TEST_F(UnitsFile, OtherEncodingsAreRefusedWithTheLine) {
  expect_error(kHead +
                   "u,W,2026-01-01,no\nv,K\xFC"
                   "che,2026-01-01,no\n",
               "line 3", "UTF-8");
  expect_error(kHead +
                   "v,K\xFC"
                   "che,2026-01-01,no",
               "line 2", "UTF-8");
  expect_error("unit,w\xE4rd,date,taped\n", "line 1", "UTF-8");
  EXPECT_EQ(read(kHead + "u,K\xC3\xBC"
                         "che,2026-01-01,no\n")[0]
                .ward,
            "K\xC3\xBC"
            "che");
}

TEST_F(UnitsFile, HostileTextIsShownHarmless) {
  expect_error(kHead + "u,W,2026-01-01,\x1b[2J\n", "line 2, column 4 (taped)", "\\x1B[2J");
}

}  // namespace
}  // namespace bareglass::host
