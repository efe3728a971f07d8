// Scenarios written as text: what is read again tells the same story, frame for frame.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>

#include "bareglass/capture/error.hpp"
#include "bareglass/panel/player.hpp"
#include "support/quiet_panel.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::panel {
namespace {

using ::testing::HasSubstr;

const std::filesystem::path kFolder =
    std::filesystem::path(BAREGLASS_SOURCE_DIR) / "fixtures" / "scenarios";

std::vector<std::string> names() {
  std::vector<std::string> out;
  for (const auto& entry : std::filesystem::directory_iterator(kFolder))
    if (entry.path().extension() == ".toml") out.push_back(entry.path().stem().string());
  std::sort(out.begin(), out.end());
  return out;
}

struct Told {
  std::vector<std::vector<std::uint16_t>> frames;
  std::vector<std::string> notes;
};

Told told(const Scenario& scenario) {
  Told out;
  play(scenario, [&](const host::Record& r) {
    if (const auto* f = std::get_if<host::FrameRecord>(&r)) out.frames.push_back(f->raw);
    if (const auto* n = std::get_if<host::NoteRecord>(&r)) out.notes.push_back(n->text);
  });
  return out;
}

class WrittenScenario : public ::testing::TestWithParam<std::string> {};

TEST_P(WrittenScenario, TellsTheSameStoryFrameForFrame) {
  Scenario first = support::without_dear_seconds(
      load_scenario((kFolder / (GetParam() + ".toml")).string()), GetParam());
  // The first seconds tell it; later ones repeat the same kinds of events.
  first.duration_s = std::min(first.duration_s, 6.0);
  // Of a story that is recorded from late on, some must be left to compare.
  first.record_from_s = std::min(first.record_from_s, 0.5 * first.duration_s);
  const Scenario second =
      parse_scenario(scenario_text(first, first.panel_path), (kFolder / "again.toml").string());
  const Told a = told(first);
  const Told b = told(second);
  EXPECT_EQ(a.notes, b.notes);
  ASSERT_EQ(a.frames.size(), b.frames.size());
  EXPECT_TRUE(a.frames == b.frames);
}

INSTANTIATE_TEST_SUITE_P(All, WrittenScenario, ::testing::ValuesIn(names()),
                         [](const auto& instance) {
                           std::string name = instance.param;
                           std::replace(name.begin(), name.end(), '-', '_');
                           return name;
                         });

const char* const kStrip = R"(story = "S"
unit = "u"
seed = 1
duration_s = 2
[thresholds]
touch_on_percent = 25
wait_s = 7.5
[panel]
glass_mm = 2.0
rows = 12
columns = 10
[[thing]]
name = "strip"
look = "tape"
kind = "film"
shape = "rectangle"
width_mm = 40
height_mm = 10
at_mm = [20, 20]
film_um = 400
permittivity = 5
[[event]]
at_s = 0.5
do = "put"
thing = "strip"
film_um = 100
[[event]]
at_s = 1.0
do = "turn"
thing = "strip"
to_deg = 90
)";

TEST(ScenarioOfATurnedStrip, IsReadWithItsGlassThresholdsAndLook) {
  const Scenario s = parse_scenario(kStrip, "strip.toml");
  EXPECT_EQ(s.thresholds.touch_on_permille, 250);
  EXPECT_EQ(s.thresholds.wait_ms, 7500u);
  EXPECT_EQ(s.thresholds.touch_off_permille, Settings{}.touch_off_permille);
  EXPECT_DOUBLE_EQ(s.panel.layers.front().thickness_mm, 2.0);
  EXPECT_EQ(s.things[0].look, Look::tape);
}

TEST(ScenarioOfATurnedStrip, LaysItThinnedAndTurned) {
  const Scenario s = parse_scenario(kStrip, "strip.toml");
  Timeline timeline(s);
  EXPECT_FALSE(timeline.thing(0).there);
  timeline.at(0.6);
  EXPECT_DOUBLE_EQ(timeline.thing(0).film_um, 100.0);
  field::Box box = timeline.thing(0).outline->footprint().bounds();
  EXPECT_NEAR(box.x_high - box.x_low, 40.0, 1e-9);
  timeline.at(1.1);
  box = timeline.thing(0).outline->footprint().bounds();
  EXPECT_NEAR(box.x_high - box.x_low, 10.0, 1e-9);
  EXPECT_NEAR(box.y_high - box.y_low, 40.0, 1e-9);
}

TEST(ScenarioThatGrows, KnowsThingsAddedWhileItPlays) {
  Scenario s = parse_scenario(kStrip, "strip.toml");
  Timeline timeline(s);
  timeline.at(0.6);
  ThingSpec drop;
  drop.name = "drop";
  drop.outline = Outline::disc(8.0);
  drop.place = {10, 10};
  s.things.push_back(drop);
  Event put;
  put.at_s = 0.7;
  put.thing = 1;
  put.word = "put";
  s.events.insert(s.events.begin() + 1, put);
  EXPECT_FALSE(timeline.knows(1));
  EXPECT_EQ(timeline.at(0.8).conductors.size(), 1u);
  EXPECT_TRUE(timeline.knows(1));
}

TEST(ScenarioWithFaultsFromTheBeginning, TellsThemAsTruth) {
  const Scenario s = load_scenario((kFolder / "worn-tail.toml").string());
  EXPECT_THAT(told(s).notes,
              ::testing::Contains(HasSubstr("truth: fault name=tail of rows 8 to 11 kind=raised")));
}

void expect_refused(std::string text, const std::string& from, const std::string& to,
                    const std::string& expected) {
  text.replace(text.find(from), from.size(), to);
  try {
    parse_scenario(text, "strip.toml");
    ADD_FAILURE() << to << " was taken";
  } catch (const host::CaptureError& e) {
    EXPECT_THAT(e.expected(), HasSubstr(expected));
  }
}

TEST(ScenarioOfATurnedStrip, IsRefusedWhereANumberIsOut) {
  expect_refused(kStrip, "to_deg = 90", "to_deg = 900", "from -360 to 360 degrees");
  expect_refused(kStrip, "look = \"tape\"", "look = \"soup\"", "\"finger\"");
  expect_refused(kStrip, "glass_mm = 2.0", "glass_mm = 20.0", "0.3 to 10 mm");
  expect_refused(kStrip, "touch_on_percent = 25", "touch_on_percent = 1", "from 6 to 150");
  expect_refused(kStrip, "kind = \"film\"", "kind = \"conductor\"", "not a key here");
}

}  // namespace
}  // namespace bareglass::panel
