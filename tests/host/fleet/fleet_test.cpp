// Counting over many units, on dumps that are made up.
#include "bareglass/fleet/fleet.hpp"
#include "bareglass/words/text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <map>
#include <new>
#include <nlohmann/json.hpp>
#include <sstream>
#include <thread>

#include "bareglass/capture/error.hpp"
#include "support/temporary_path.hpp"

namespace bareglass::host {
namespace {

namespace fs = std::filesystem;
using ::testing::AllOf;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::Not;

class FleetOfUnits : public ::testing::Test {
 protected:
  void SetUp() override {
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }

  // A unit with a row and a dump named after it.
  void add(const std::string& taped, StartUp start_up, const std::string& ward = "North") {
    const std::string unit = "u" + std::to_string(++units_);
    rows_ += unit + "," + ward + ",2026-03-01," + taped + "\n";
    dump(unit + ".frames", unit, start_up);
  }
  void add(int n, const std::string& taped, StartUp start_up) {
    while (n-- > 0) add(taped, start_up);
  }
  void dump(const std::string& file, const std::string& unit, StartUp start_up,
            Cause cause = Cause::isolated_film) {
    std::ofstream(folder_ + "/" + file) << "x";
    dumps_[file] = {
        file, unit, "", start_up, start_up == StartUp::failed ? cause : Cause::bare_glass, 0.9};
  }
  Fleet read(const std::string& head = "unit,ward,date,taped") {
    std::ofstream(folder_ + "/units.csv") << head << "\n" << rows_;
    return read_fleet(folder_, [&](const std::string& path, const std::string& file) {
      if (dumps_.count(file) == 0) throw CaptureError(path, "byte 3", "expected a dump");
      return dumps_[file];
    });
  }
  static std::string words(const Fleet& f) {
    std::string all;
    for (const std::string& w : association_words(f)) all += w + "\n";
    return all;
  }

  std::string folder_ = support::temporary_path("bareglass_fleet_test");
  std::string rows_;
  int units_ = 0;
  std::map<std::string, FleetDump> dumps_;
};

TEST_F(FleetOfUnits, ColumnsStandUnderEachOtherHoweverLongAName) {
  add("yes", StartUp::failed, "N");
  add("no", StartUp::on, "\"South, ground floor, behind the lift\"");
  std::istringstream lines(fleet_text(read()));
  std::vector<std::size_t> dates, causes;
  for (std::string line; std::getline(lines, line);) {
    if (const auto at = line.find("2026-03-01"); at != std::string::npos) dates.push_back(at);
    for (const Cause cause : {Cause::isolated_film, Cause::bare_glass})
      if (const auto at = line.find(title_of(cause)); at > 2 && at != std::string::npos)
        causes.push_back(at);
  }
  ASSERT_EQ(dates.size(), 2u);
  EXPECT_EQ(dates[0], dates[1]);
  ASSERT_EQ(causes.size(), 2u);
  EXPECT_EQ(causes[0], causes[1]);
}

TEST_F(FleetOfUnits, TeaTastingTable) {
  // Fisher 1935: (3, 1; 1, 3), two-sided 34/70.
  add(3, "yes", StartUp::failed);
  add(1, "yes", StartUp::on);
  add(1, "no", StartUp::failed);
  add(3, "no", StartUp::on);
  const Fleet f = read();
  EXPECT_EQ(f.table.a, 3u);
  EXPECT_EQ(f.table.b, 1u);
  EXPECT_EQ(f.table.c, 1u);
  EXPECT_EQ(f.table.d, 3u);
  EXPECT_NEAR(f.fisher.two_sided, 34.0 / 70.0, 1e-12);
  EXPECT_THAT(words(f), AllOf(HasSubstr("p = 0.4857"), HasSubstr("no more than chance"),
                              HasSubstr("counts are small"), HasSubstr("not a cause")));
}

TEST_F(FleetOfUnits, UnknownsAreKeptApart) {
  add(4, "yes", StartUp::failed);
  add(4, "no", StartUp::on);
  add(2, "unknown", StartUp::failed);
  add(1, "unknown", StartUp::on);
  add(3, "yes", StartUp::unknown);
  const Fleet f = read();
  EXPECT_EQ(f.table.sum(), 8u);
  EXPECT_EQ(f.taped_unknown_failed, 2u);
  EXPECT_EQ(f.taped_unknown_on, 1u);
  EXPECT_EQ(f.outcome_unknown, 3u);
  EXPECT_THAT(fleet_text(f), HasSubstr("not counted"));
}

TEST_F(FleetOfUnits, WhyInputWasOffIsCountedApart) {
  const auto failed = [&](Cause cause) {
    add("no", StartUp::failed);
    dumps_["u" + std::to_string(units_) + ".frames"].cause = cause;
  };
  for (const Cause c : {Cause::isolated_film, Cause::isolated_film, Cause::wet_bezel,
                        Cause::temperature, Cause::aged_reference, Cause::common_mode,
                        Cause::interference, Cause::supply_sag, Cause::crack, Cause::bare_glass})
    failed(c);
  add("no", StartUp::on);
  const Fleet f = read();
  std::map<OffBecause, std::uint32_t> counts;
  for (const auto& [why, share] : f.off) {
    counts[why] = share.hits;
    EXPECT_EQ(share.of, 10u) << "of those that failed";
  }
  EXPECT_EQ(f.off.front().first, OffBecause::glass) << "most frequent first";
  EXPECT_EQ(counts[OffBecause::glass], 3u);
  EXPECT_EQ(counts[OffBecause::temperature], 2u);
  EXPECT_EQ(counts[OffBecause::noise], 2u);
  EXPECT_EQ(counts[OffBecause::supply], 1u);
  EXPECT_EQ(counts[OffBecause::lines], 1u);
  EXPECT_EQ(counts[OffBecause::other], 1u);
  EXPECT_THAT(fleet_text(f), AllOf(HasSubstr("off for another reason"),
                                   HasSubstr("temperature or an aged reference")));
  const auto j = nlohmann::json::parse(fleet_json(f));
  EXPECT_EQ(j["off_because"][0]["reason"], "glass");
  EXPECT_THAT(fleet_page(f), HasSubstr("Why input was off"));
}

TEST_F(FleetOfUnits, IsTheSameOnAnyNumberOfThreads) {
  for (int n = 0; n < 40; ++n)
    add(n % 3 == 0 ? "yes" : "no", n % 4 == 0 ? StartUp::failed : StartUp::on);
  dump("spoiled.frames", "spoiled", StartUp::on);
  dumps_.erase("spoiled.frames");
  const std::string once = fleet_json(read());
  std::atomic<int> at_once{0}, most{0};
  for (const int threads : {2, 5, 64}) {
    std::vector<std::size_t> told;
    const Fleet f =
        read_fleet(folder_,
                   [&](const std::string& path, const std::string& file) {
                     const int now = ++at_once;
                     for (int seen = most; now > seen && !most.compare_exchange_weak(seen, now);)
                       continue;
                     std::this_thread::sleep_for(std::chrono::milliseconds(file.size() % 3));
                     --at_once;
                     if (dumps_.count(file) == 0)
                       throw CaptureError(path, "byte 3", "expected a dump");
                     return dumps_.at(file);
                   },
                   {threads, [&](std::size_t done, std::size_t all) {
                      EXPECT_EQ(all, 41u);
                      told.push_back(done);
                    }});
    EXPECT_EQ(fleet_json(f), once) << threads << " threads";
    ASSERT_EQ(told.size(), 41u);
    EXPECT_TRUE(std::is_sorted(told.begin(), told.end()));
  }
  EXPECT_GT(most, 1) << "dumps were read one after the other";
}

TEST_F(FleetOfUnits, WhatIsNoFaultOfADumpEndsTheReading) {
  add(8, "no", StartUp::on);
  read();
  const ReadDump out_of_memory = [](const std::string&, const std::string&) -> FleetDump {
    throw std::bad_alloc();
  };
  EXPECT_THROW(read_fleet(folder_, out_of_memory, {3}), std::bad_alloc);
}

TEST_F(FleetOfUnits, ThreeAgainstThreeCanShowNothing) {
  // The most extreme table of 3 against 3 gives p = 2/20.
  add(3, "yes", StartUp::failed);
  add(3, "no", StartUp::on);
  const Fleet f = read();
  EXPECT_NEAR(f.fisher.least_two_sided, 0.1, 1e-12);
  EXPECT_THAT(words(f), AllOf(HasSubstr("Nothing can be claimed"), Not(HasSubstr("more often"))));
}

TEST_F(FleetOfUnits, ClearAssociationIsSaidButNotAsACause) {
  add(18, "yes", StartUp::failed);
  add(6, "yes", StartUp::on);
  add(4, "no", StartUp::failed);
  add(30, "no", StartUp::on);
  const std::string all = words(read());
  EXPECT_THAT(all, AllOf(HasSubstr("failed more often"), HasSubstr("not a cause"),
                         Not(HasSubstr("counts are small"))));
}

TEST_F(FleetOfUnits, FewerFailuresWithTapeAreSaidTheRightWayRound) {
  add(2, "yes", StartUp::failed);
  add(20, "yes", StartUp::on);
  add(20, "no", StartUp::failed);
  add(2, "no", StartUp::on);
  EXPECT_THAT(words(read()), HasSubstr("failed less often"));
}

TEST_F(FleetOfUnits, OneGroupAloneIsNoComparison) {
  add(5, "yes", StartUp::failed);
  EXPECT_THAT(words(read()), HasSubstr("no untaped units"));
}

TEST_F(FleetOfUnits, NothingFailedIsNoComparison) {
  add(5, "yes", StartUp::on);
  add(5, "no", StartUp::on);
  EXPECT_THAT(words(read()), HasSubstr("none of them failed"));
}

TEST_F(FleetOfUnits, WhatDoesNotMatchIsListedNotDropped) {
  add("yes", StartUp::failed);
  rows_ += "lost,North,2026-03-01,no\n";
  dump("stray.frames", "nobody", StartUp::on);
  std::ofstream(folder_ + "/broken.frames") << "x";
  std::ofstream(folder_ + "/notes.txt") << "x";
  const Fleet f = read();
  EXPECT_THAT(f.without_row, ElementsAre("stray.frames"));
  ASSERT_EQ(f.without_dump.size(), 1u);
  EXPECT_EQ(f.without_dump[0].unit, "lost");
  ASSERT_EQ(f.unreadable.size(), 1u);
  EXPECT_EQ(f.unreadable[0].file, "broken.frames");
  EXPECT_THAT(f.left_out, ElementsAre("notes.txt"));
  EXPECT_EQ(f.units.size(), 2u);
  EXPECT_EQ(f.table.sum(), 1u) << "the stray dump's taping is not known";
  for (const char* name : {"stray.frames", "lost", "broken.frames", "notes.txt"}) {
    EXPECT_THAT(fleet_text(f), HasSubstr(name));
    EXPECT_THAT(fleet_page(f), HasSubstr(name));
    EXPECT_THAT(fleet_json(f), HasSubstr(name));
  }
}

TEST_F(FleetOfUnits, NamedDumpThatIsNotThereIsAnErrorWithItsLine) {
  rows_ =
      "u1,North,2026-03-01,no,a.frames\nu2,North,2026-03-01,no,gone.frames\n"
      "u3,North,2026-03-01,no,notes.txt\n";
  dump("a.frames", "u1", StartUp::on);
  std::ofstream(folder_ + "/notes.txt") << "x";
  const Fleet f = read("unit,ward,date,taped,dump");
  ASSERT_EQ(f.unreadable.size(), 2u);
  EXPECT_EQ(f.unreadable[0].file, "gone.frames");
  EXPECT_EQ(f.unreadable[0].error, "units.csv, line 3: expected a file of this name in the folder");
  EXPECT_EQ(f.unreadable[1].error, "units.csv, line 4: expected a dump by its ending");
  EXPECT_EQ(f.without_dump.size(), 2u);
}

TEST_F(FleetOfUnits, DumpOfAnotherUnitThanItsRowIsCountedForTheRowAndListed) {
  rows_ = "u1,North,2026-03-01,no,a.frames\nu2,South,2026-03-01,no,\nu3,South,2026-03-01,no,\n";
  dump("a.frames", "u2", StartUp::on);
  dump("u3.frames", "v9", StartUp::on);
  dump("u2.frames", "u2", StartUp::on);
  const Fleet f = read("unit,ward,date,taped,dump");
  ASSERT_EQ(f.units.size(), 3u);
  EXPECT_EQ(f.units[0].dumps[0].file, "a.frames");
  ASSERT_THAT(
      f.contradictions,
      ElementsAre("a.frames says it is of unit u2; counted for u1 as line 2 of units.csv says",
                  "u3.frames says it is of unit v9; counted for u3 as line 4 of units.csv says"));
  // The text wraps its lines.
  EXPECT_THAT(fleet_text(f), HasSubstr("a.frames says it is of unit u2"));
  EXPECT_THAT(fleet_page(f), HasSubstr(f.contradictions[0]));
  EXPECT_THAT(fleet_json(f), HasSubstr(f.contradictions[1]));
}

TEST_F(FleetOfUnits, AdoptedIsOnAndSaysSo) {
  add(2, "yes", StartUp::adopted);
  add(1, "yes", StartUp::failed);
  add(2, "no", StartUp::on);
  dump("u1-again.frames", "u1", StartUp::on);
  const Fleet f = read();
  EXPECT_EQ(f.table.a, 1u);
  EXPECT_EQ(f.table.b, 2u);
  EXPECT_EQ(f.adopted, 2u);
  EXPECT_EQ(f.units[0].start_up, StartUp::adopted);
  EXPECT_THAT(fleet_text(f), HasSubstr("though something lay on the glass: 2"));
  EXPECT_THAT(fleet_page(f), HasSubstr("though something lay on the glass: 2"));
  EXPECT_EQ(nlohmann::json::parse(fleet_json(f))["taping"]["adopted_counted_as_on"], 2);
}

TEST_F(FleetOfUnits, SeveralDumpsOfAUnitCountOnceAndTheFailureTells) {
  add("no", StartUp::on);
  dump("u1-again.frames", "u1", StartUp::failed, Cause::wet_bezel);
  const Fleet f = read();
  ASSERT_EQ(f.units.size(), 1u);
  EXPECT_EQ(f.units[0].dumps.size(), 2u);
  EXPECT_EQ(f.units[0].start_up, StartUp::failed);
  EXPECT_EQ(f.units[0].cause, Cause::wet_bezel);
  EXPECT_EQ(f.table.c, 1u);
}

TEST_F(FleetOfUnits, CausesAndWardsHaveWilsonIntervals) {
  add("no", StartUp::failed, "South");
  add("no", StartUp::on, "South");
  add("no", StartUp::on, "North");
  const Fleet f = read();
  ASSERT_EQ(f.wards.size(), 2u);
  EXPECT_EQ(f.wards[1].first, "South");
  EXPECT_EQ(f.wards[1].second.hits, 1u);
  EXPECT_EQ(f.wards[1].second.of, 2u);
  EXPECT_EQ(f.wards[1].second.interval.low, wilson(1, 2).low);
  EXPECT_EQ(f.causes[0].first, Cause::bare_glass);
  EXPECT_EQ(f.causes[0].second.hits, 2u);
}

TEST_F(FleetOfUnits, HostileNamesStayHarmless) {
  rows_ = "\x1b[31mred,<script>alert(1)</script>,2026-03-01,no\n";
  dump("x.frames", "\x1b[31mred", StartUp::on);
  const Fleet f = read();
  EXPECT_THAT(fleet_text(f), Not(HasSubstr("\x1b")));
  EXPECT_THAT(fleet_page(f), AllOf(Not(HasSubstr("<script>")), HasSubstr("&lt;script&gt;"),
                                   Not(HasSubstr("\x1b"))));
  EXPECT_EQ(nlohmann::json::parse(fleet_json(f))["units"][0]["ward"], "<script>alert(1)</script>");
}

TEST(StartUpOfAnAccount, FollowsTheJournal) {
  Account a;
  a.kind = DumpKind::from_power_up;
  const auto event = [&](JournalCode code) {
    JournalEntry e;
    e.code = code;
    a.events.push_back(e);
  };
  event(JournalCode::power_up);
  EXPECT_EQ(start_up_of(a), StartUp::unknown);
  event(JournalCode::input_on);
  EXPECT_EQ(start_up_of(a), StartUp::on);
  event(JournalCode::input_off);  // later, while in use
  EXPECT_EQ(start_up_of(a), StartUp::on);
  event(JournalCode::power_up);
  event(JournalCode::waiting);
  event(JournalCode::input_on);
  EXPECT_EQ(start_up_of(a), StartUp::failed);
  a.events.clear();
  event(JournalCode::power_up);
  event(JournalCode::adopted);
  event(JournalCode::input_on);
  EXPECT_EQ(start_up_of(a), StartUp::adopted);
  event(JournalCode::power_up);
  event(JournalCode::input_on);
  EXPECT_EQ(start_up_of(a), StartUp::adopted) << "one start-up of several tells";
  event(JournalCode::power_up);
  event(JournalCode::input_off);
  EXPECT_EQ(start_up_of(a), StartUp::failed);
  a.kind = DumpKind::raw_midway;
  EXPECT_EQ(start_up_of(a), StartUp::unknown);
}

}  // namespace
}  // namespace bareglass::host
