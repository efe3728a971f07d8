// Scenario files: what is read, what is refused and how, and that events do what they say.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "bareglass/capture/error.hpp"
#include "bareglass/panel/scenario.hpp"

namespace bareglass::panel {
namespace {

using ::testing::HasSubstr;

// Named as if it lay among the scenarios, so that the panel file is found.
const std::string kFile = std::string(BAREGLASS_SOURCE_DIR) + "/fixtures/scenarios/case.toml";

const std::string kHead = R"(story = "a story"
unit = "bay1-pump-01"
seed = 1
duration_s = 2.0
)";
const std::string kPanel = R"([panel]
file = "../panels/bars_and_stripes_1_1.toml"
)";
const std::string kFinger = R"([[thing]]
name = "finger"
kind = "conductor"
shape = "disc"
diameter_mm = 8
at_mm = [20, 30]
)";

Scenario parsed(const std::string& rest) { return parse_scenario(kHead + kPanel + rest, kFile); }

std::string error_of(const std::string& text) {
  try {
    parse_scenario(text, kFile);
  } catch (const host::CaptureError& e) {
    return e.what();
  }
  return "no error";
}

TEST(ScenarioText, IsReadWithItsDefaults) {
  const Scenario s = parsed(kFinger + "earth_pf = 150\nfrom_s = 0.5\nuntil_s = 1.5\n");
  EXPECT_EQ(s.unit_id, "bay1-pump-01");
  EXPECT_EQ(s.setup.rows, 16);
  EXPECT_EQ(s.setup.columns, 10);
  EXPECT_EQ(s.frame_period_us, 20000u);
  EXPECT_EQ(s.policy, StartPolicy::lock);
  EXPECT_TRUE(std::isinf(s.device.earth_pf));
  EXPECT_DOUBLE_EQ(s.panel.layers.front().thickness_mm, 1.1);
  ASSERT_EQ(s.things.size(), 1u);
  EXPECT_DOUBLE_EQ(s.things[0].earth_pf, 150.0);
  ASSERT_EQ(s.events.size(), 2u);
  EXPECT_EQ(s.events[1].action, Action::lift);
}

struct BadText {
  const char* name;
  std::string text;
  const char* line;
  const char* expected;
};

void PrintTo(const BadText& b, std::ostream* out) { *out << b.name; }

class WrongScenarioText : public ::testing::TestWithParam<BadText> {};

TEST_P(WrongScenarioText, IsRefusedWithFileLineKeyAndExpectation) {
  const std::string what = error_of(GetParam().text);
  EXPECT_THAT(what, HasSubstr(kFile + ": line " + GetParam().line + ":"));
  EXPECT_THAT(what, HasSubstr(GetParam().expected));
}

std::string repeated(const std::string& part, int times) {
  std::string out;
  for (int n = 0; n < times; ++n) out += part;
  return out;
}

const std::string kEvent = "[[event]]\nat_s = 1\n";

INSTANTIATE_TEST_SUITE_P(
    All, WrongScenarioText,
    ::testing::Values(
        BadText{"NotToml", "story = \n", "1", "expected a TOML scenario"},
        BadText{"NoStory", kPanel, "1", "story: missing"},
        BadText{"UnknownKey", kHead + "colour = 1\n" + kPanel, "5", "colour: not a key here"},
        BadText{"UnknownPanelKey", kHead + kPanel + "glass = 1\n", "7", "panel.glass: not a key"},
        BadText{"NoPanel", kHead, "1", "panel: missing"},
        BadText{"NoPanelFile", kHead + "[panel]\nfile = \"none.toml\"\n", "6", "panel.file"},
        BadText{"DurationTooLong", "story = \"a\"\nunit = \"b\"\nseed = 1\nduration_s = 1e9\n", "4",
                "duration_s: expected a number from 0.1 to 3600 s"},
        BadText{"SeedNegative", "story = \"a\"\nunit = \"b\"\nseed = -1\n", "3",
                "seed: expected a whole number"},
        BadText{"Policy", kHead + "policy = \"hope\"\n" + kPanel, "5",
                "policy: expected \"lock\", \"wait\", \"adopt\" or \"service\""},
        BadText{"RowsTooMany", kHead + kPanel + "rows = 500\n", "7",
                "panel.rows: expected a whole number from 2 to 128"},
        BadText{"ScanTooLong", kHead + kPanel + "frame_period_ms = 2\n", "7",
                "panel.frame_period_ms: expected at least 3.2 ms"},
        BadText{"EarthNothing", kHead + kPanel + "[device]\nearth_pf = 0\n", "8",
                "device.earth_pf: expected more than 0 pF"},
        BadText{"ThingWithoutKind", kHead + kPanel + "[[thing]]\nname = \"a\"\n", "7",
                "thing 1: kind: missing; expected \"conductor\" or \"film\""},
        BadText{"DiscWithWidth", kHead + kPanel + kFinger + "width_mm = 3\n", "13",
                "thing 1: width_mm: not a key here"},
        BadText{"FilmKeyOnConductor", kHead + kPanel + kFinger + "film_um = 3\n", "13",
                "thing 1: film_um: not a key here"},
        BadText{"PointOfOne",
                kHead + kPanel +
                    "[[thing]]\nname = \"a\"\nkind = \"film\"\nshape = \"disc\"\ndiameter_mm = "
                    "3\nat_mm = [1]\n",
                "12", "thing 1: at_mm: expected [x, y]"},
        BadText{"PolygonOfTwo",
                kHead + kPanel +
                    "[[thing]]\nname = \"a\"\nkind = \"film\"\nshape = \"polygon\"\ncorners_mm = "
                    "[[0, 0], [1, 1]]\n",
                "11", "corners_mm: expected 3 to 500 points"},
        BadText{"TwoOfOneName", kHead + kPanel + kFinger + kFinger, "14",
                "expected a name that no other thing has"},
        BadText{"UntilWithoutFrom", kHead + kPanel + kFinger + "until_s = 1\n", "13",
                "until_s: expected only together with from_s"},
        BadText{"EventOfNoThing", kHead + kPanel + kEvent + "do = \"put\"\nthing = \"x\"\n", "10",
                "event 1: thing: expected the name of a [[thing]], not \"x\""},
        BadText{"UnknownWord", kHead + kPanel + kEvent + "do = \"explode\"\n", "9",
                "event 1: do: expected \"put\""},
        BadText{"MoveNowhere",
                kHead + kPanel + kFinger + kEvent + "do = \"move\"\nthing = \"finger\"\n", "13",
                "event 1: to_mm: missing; expected [x, y] in mm"},
        BadText{"CutBeyond",
                kHead + kPanel + kEvent +
                    "do = \"fault\"\nname = \"f\"\nkind = \"cut\"\nlines = \"rows\"\nfirst = "
                    "3\nat = 10\n",
                "14", "event 1: at: expected a whole number from 1 to 9"},
        BadText{"BridgeFromTheLastLine",
                kHead + kPanel + kEvent +
                    "do = \"fault\"\nname = \"f\"\nkind = \"bridge\"\nlines = "
                    "\"rows\"\nfirst = 15\nlast = 15\n",
                "13", "event 1: first: expected a whole number from 0 to 14"},
        BadText{"TouchBelowTheQuietLimit", kHead + kPanel + "[thresholds]\ntouch_on_percent = 5\n",
                "8", "thresholds.touch_on_percent: expected a number from 6 to 150"},
        BadText{"NestedTooDeeply", kHead + repeated("a.", 40'000) + "a = 1\n" + kPanel, "5",
                "nested too deeply: at most 32 levels"},
        BadText{"DryWithVolts",
                kHead + kPanel + kFinger + kEvent +
                    "do = \"dry\"\nthing = \"finger\"\namplitude_v = 1\n",
                "17", "event 1: amplitude_v: not a key here"},
        BadText{"UndockWithoutEarth", kHead + kPanel + kEvent + "do = \"undock\"\n", "7",
                "event 1: earth_pf: missing"}),
    [](const ::testing::TestParamInfo<BadText>& i) { return std::string(i.param.name); });

TEST(ScenarioFile, ThatIsNotThereIsNamed) {
  try {
    load_scenario("/nowhere/at/all.toml");
    FAIL() << "was read";
  } catch (const host::CaptureError& e) {
    EXPECT_THAT(e.what(), HasSubstr("/nowhere/at/all.toml: cannot open"));
  }
}

TEST(TimelineOfAThing, FollowsItsEvents) {
  const Scenario s = parsed(kFinger + "earth_pf = 150\nfrom_s = 0.5\n" +
                            R"([[event]]
at_s = 1.0
do = "move"
thing = "finger"
to_mm = [30, 30]
over_s = 0.5
[[event]]
at_s = 1.2
do = "ground"
thing = "finger"
earth_pf = 0
touches_bezel = true
[[event]]
at_s = 1.8
do = "wipe"
thing = "finger"
)");
  Timeline t(s);
  EXPECT_TRUE(t.at(0.4).conductors.empty());
  ASSERT_EQ(t.at(0.6).conductors.size(), 1u);
  EXPECT_EQ(t.happened().size(), 1u);
  EXPECT_DOUBLE_EQ(t.at(0.9).conductors[0].place.x, 20.0);
  EXPECT_NEAR(t.at(1.25).conductors[0].place.x, 25.0, 1e-9);
  EXPECT_EQ(t.happened().size(), 2u);
  EXPECT_TRUE(std::isinf(t.at(1.3).conductors[0].device_pf));
  EXPECT_DOUBLE_EQ(t.at(1.3).conductors[0].earth_pf, 0.0);
  EXPECT_DOUBLE_EQ(t.at(1.7).conductors[0].place.x, 30.0);
  EXPECT_TRUE(t.at(1.8).conductors.empty());
  EXPECT_EQ(t.truth(t.happened().at(0)), "wipe thing=finger");
}

TEST(TimelineOfAThing, ShrinksAsItDriesAndIsGoneInTheEnd) {
  const Scenario s = parsed(kFinger + "from_s = 0\n" + R"([[event]]
at_s = 0.5
do = "dry"
thing = "finger"
over_s = 1.0
)");
  Timeline t(s);
  double before = 9.0;
  for (const double at : {0.4, 0.7, 1.0, 1.2}) {
    const Situation& now = t.at(at);
    ASSERT_EQ(now.conductors.size(), 1u) << at;
    const field::Box b = now.conductors[0].outline->footprint().bounds();
    EXPECT_LT(b.x_high - b.x_low, before);
    before = b.x_high - b.x_low;
  }
  EXPECT_NEAR(before, 8.0 * 0.3, 0.1);
  EXPECT_TRUE(t.at(1.45).conductors.empty());
}

TEST(TimelineOfTheDevice, FollowsItsEvents) {
  const Scenario s = parsed(R"([device]
earth_pf = 3
[[event]]
at_s = 0.5
do = "supply"
to_mv = 2700
over_s = 1.0
[[event]]
at_s = 1.0
do = "dock"
[[event]]
at_s = 1.2
do = "fault"
name = "f"
kind = "raised_resistance"
lines = "columns"
first = 2
last = 3
ohm = 20000
[[event]]
at_s = 1.4
do = "repair"
name = "f"
[[event]]
at_s = 1.5
do = "power_off"
)");
  Timeline t(s);
  EXPECT_DOUBLE_EQ(t.at(0.1).device.earth_pf, 3.0);
  EXPECT_NEAR(t.at(0.75).device.supply_mv, 3450.0, 1e-9);
  EXPECT_TRUE(std::isinf(t.at(1.0).device.earth_pf));
  EXPECT_TRUE(t.at(1.0).device.charging);
  ASSERT_EQ(t.at(1.3).faults.size(), 1u);
  EXPECT_EQ(t.at(1.3).faults[0].last, 3);
  EXPECT_TRUE(t.at(1.4).faults.empty());
  EXPECT_TRUE(t.powered());
  t.at(1.6);
  EXPECT_FALSE(t.powered());
  EXPECT_EQ(t.truth(2),
            "fault name=f kind=raised_resistance lines=columns first=2 last=3 ohm=20000");
}

}  // namespace
}  // namespace bareglass::panel
