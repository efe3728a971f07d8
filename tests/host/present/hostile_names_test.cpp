// A dump whose names and notes drive terminals and turn the direction of writing: nothing of that
// reaches anybody, in any form of the answer, and it can still be seen that it was there.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/capture/error.hpp"
#include "bareglass/compare/comparison.hpp"
#include "bareglass/fleet/fleet.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/present/report.hpp"
#include "bareglass/replay/replay.hpp"
#include "bareglass/touch/touch_test.hpp"
#include "support/capture_bytes.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

// Title of the terminal, colour, C1, override of direction, isolate, zero width, a second line.
const std::string kHostile =
    "u\x1B]0;x\x07\x1B[31m\xC2\x9B"
    "8m\xE2\x80\xAE\xE2\x81\xA6\xE2\x80\x8B\n17";
const std::string kShown = "u\\x1B]0;x\\x07\\x1B[31m\\u009B8m\\u202E\\u2066\\u200B\\x0A17";
// A file's name may be any bytes.
const std::string kFile = "d\x1B[2J\x9B\xFF\xE2\x80\xAE.frames";
const std::string kFileShown = "d\\x1B[2J\\x9B\\xFF\\u202E.frames";

// Searched for as bytes, with no help from the code under test.
void expect_harmless(const std::string& text) {
  for (const char* found : {"\x1B", "\x07", "\x9B", "\xFF", "\xC2\x9B", "\xE2\x80\xAE",
                            "\xE2\x81\xA6", "\xE2\x80\x8B", "8m\n"})
    EXPECT_THAT(text, Not(HasSubstr(found)));
  // JSON's strings must be UTF-8, so its parser judges.
  EXPECT_TRUE(nlohmann::json::accept(nlohmann::json(text).dump()));
}

std::vector<Record> hostile_records() {
  std::vector<Record> records = support::records_of("damp-note-peeled");
  for (Record& record : records)
    if (auto* panel = std::get_if<PanelDescription>(&record))
      panel->unit_id = panel->panel_name = panel->firmware = kHostile;
  records.insert(records.begin() + 2, NoteRecord{1, kHostile});
  return records;
}

class HostileNames : public ::testing::Test {
 protected:
  HostileNames() {
    support::RecordListReader reader(hostile_records());
    account_ = replay(reader, kFile, {});
    diagnosis_ = diagnose(account_);
  }
  Account account_;
  Diagnosis diagnosis_;
};

TEST_F(HostileNames, AreShownInTextAndJson) {
  const std::string text = explanation_text(kFile, account_, diagnosis_, {false, true});
  expect_harmless(text);
  EXPECT_THAT(text, HasSubstr(kShown));
  EXPECT_THAT(text, HasSubstr(kFileShown));
  const std::string json = explanation_json(kFile, account_, diagnosis_);
  expect_harmless(json);
  const auto read = nlohmann::json::parse(json);
  EXPECT_EQ(read["file"], kFileShown);
  EXPECT_EQ(read["dump"]["unit"], kShown);
}

TEST_F(HostileNames, AreShownOnPagesAndPictures) {
  ReportExtras extras;
  extras.dump = kFile;
  for (const auto& page :
       {report_html(account_, diagnosis_, extras), ward_page_html(account_, diagnosis_, extras)}) {
    expect_harmless(page);
    EXPECT_THAT(page, HasSubstr("u\\x1B]0;x"));
  }
  HeatMap map = explanation_picture(account_, diagnosis_);
  map.title = map.caption = kHostile;
  expect_harmless(heat_map_svg(map));
  EXPECT_THAT(heat_map_svg(map), HasSubstr("\\u202E"));
}

TEST_F(HostileNames, AreShownByTouchTestAndComparison) {
  const TouchReport about{kFile, account_.panel.unit_id, kFile, {}};
  TouchPlan plan = default_touch_plan(account_.settings);
  plan.name = plan.steps[0].name = kHostile;
  const TouchResult result = TouchTest(plan, account_.settings).result();
  expect_harmless(touch_text(about, plan, result));
  expect_harmless(touch_json(about, plan, result));
  EXPECT_THAT(touch_text(about, plan, result), HasSubstr(kFileShown));
}

TEST_F(HostileNames, AreShownByFleet) {
  Fleet fleet;
  fleet.folder = kFile;
  fleet.units.push_back({kHostile, UnitRow{}, {}, {}, {}, 0});
  fleet.units[0].row->ward = kHostile;
  fleet.units[0].dumps.push_back({kFile, kHostile, "", {}, {}, 0});
  fleet.unreadable.push_back({kFile, "", kHostile, {}, {}, 0});
  fleet.without_row = fleet.left_out = fleet.contradictions = {kFile, kHostile};
  fleet.without_dump.push_back(*fleet.units[0].row);
  fleet.wards.emplace_back(kHostile, Share{});
  for (const std::string& out : {fleet_text(fleet), fleet_json(fleet), fleet_page(fleet)}) {
    expect_harmless(out);
    EXPECT_THAT(out, HasSubstr("u\\"));
  }
}

TEST(HostileErrors, AreOneHarmlessLine) {
  const CaptureError error(kFile, "line 1", "expected a word instead of \"" + kHostile + "\"");
  expect_harmless(error.what());
  EXPECT_THAT(error.what(), HasSubstr(kFileShown + ": line 1: expected"));
  EXPECT_EQ(error.file(), kFile) << "the name itself stays usable";
}

// The capture keeps its bytes: what is shown is one thing, what is stored another.
TEST(HostileCaptures, AreConvertedWithoutLoss) {
  PanelDescription panel;
  panel.rows = panel.cols = 2;
  panel.unit_id = kHostile;
  FrameRecord frame;
  frame.rows = frame.cols = 2;
  frame.raw = {1, 2, 3, 4};
  const std::vector<Record> records = {panel, NoteRecord{5, kHostile}, frame};
  for (const CaptureFormat format : {CaptureFormat::frames, CaptureFormat::csv}) {
    const support::Bytes bytes = support::written_as(format, records);
    if (format == CaptureFormat::csv) expect_harmless(std::string(bytes.begin(), bytes.end()));
    const auto reader = support::read_bytes(bytes);
    Record record;
    std::string unit, note;
    while (reader->next(record)) {
      if (const auto* p = std::get_if<PanelDescription>(&record)) unit = p->unit_id;
      if (const auto* n = std::get_if<NoteRecord>(&record)) note = n->text;
    }
    EXPECT_EQ(unit, kHostile);
    EXPECT_EQ(note, kHostile);
  }
}

}  // namespace
}  // namespace bareglass::host
