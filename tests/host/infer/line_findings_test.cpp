// Line and electrical causes on simulated records: what tells each from what looks like it, and how
// several bad lines become one cause.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/replay/replay.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

using panel::LineFault;
using ::testing::HasSubstr;

/// The shipped bare panel of 16 rows and 10 columns under 1.1 mm of glass, nothing on it.
class PlainPanel : public ::testing::Test {
 protected:
  PlainPanel() : scenario_(support::scenario_named("bare-glass")) {
    scenario_.things.clear();
    scenario_.events.clear();
    scenario_.duration_s = 3.0;
  }

  void fault(LineFault::Kind kind, bool of_rows, int first, int last, int at, double ohm) {
    panel::Event e;
    e.action = panel::Action::fault;
    e.word = "fault";
    e.name = "fault " + std::to_string(scenario_.events.size());
    e.fault.kind = kind;
    e.fault.of_rows = of_rows;
    e.fault.first = first;
    e.fault.last = last;
    e.fault.at = at;
    e.fault.ohm = ohm;
    scenario_.events.push_back(e);
  }
  void slow_rows(int first, std::initializer_list<double> ohms) {
    for (const double ohm : ohms) {
      fault(LineFault::Kind::raised_resistance, true, first, first, 1, ohm);
      ++first;
    }
  }
  void put(panel::OutlinePtr outline, field::Point place, double earth_pf, double device_pf,
           double at_s) {
    panel::ThingSpec thing;
    thing.name = "thing";
    thing.outline = std::move(outline);
    thing.shape = "disc";
    thing.place = place;
    thing.earth_pf = earth_pf;
    thing.device_pf = device_pf;
    scenario_.things.push_back(thing);
    panel::Event e;
    e.at_s = at_s;
    e.word = "put";
    e.thing = scenario_.things.size() - 1;
    scenario_.events.push_back(e);
  }
  Diagnosis explained() const {
    support::RecordListReader reader(support::records_of(scenario_));
    return diagnose(replay(reader, scenario_.file, {}));
  }

  panel::Scenario scenario_;
};

// The tail off its socket: before the power-up, while the panel runs, and plugged in again.
TEST_F(PlainPanel, WithItsTailOffIsBlindAndNothingElse) {
  for (const double at_s : {0.0, 1.5}) {
    scenario_.events.clear();
    fault(LineFault::Kind::open_tail, true, 0, 15, 1, 0);
    scenario_.events.back().at_s = at_s;
    const Diagnosis d = explained();
    ASSERT_EQ(d.causes.size(), 1u);
    EXPECT_EQ(d.causes[0].cause, Cause::worn_tail);
    EXPECT_EQ(d.causes[0].sureness, Sureness::sure);
    EXPECT_THAT(d.causes[0].headline, HasSubstr("The whole panel reads nothing"));
    EXPECT_THAT(d.causes[0].speaks_for.front(), HasSubstr("lower end"));
    EXPECT_FALSE(d.causes[0].ended);
    EXPECT_NEAR(static_cast<double>(d.causes[0].first_us) / 1e6, at_s, 0.25);
    EXPECT_THAT(d.answer,
                HasSubstr(at_s == 0.0 ? "Input is off: the panel did not read as it should"
                                      : "no touch comes through"));
  }
  panel::Event repair = scenario_.events.back();
  repair.action = panel::Action::repair;
  repair.word = "repair";
  repair.at_s = 2.2;
  scenario_.events.push_back(repair);
  const Diagnosis d = explained();
  ASSERT_EQ(d.causes.size(), 1u);
  EXPECT_TRUE(d.causes[0].ended);
  EXPECT_THAT(d.answer, HasSubstr("For a while the panel read nothing"));
}

TEST(PanelAtTheUpperEndOfItsRange, IsBlindToo) {
  std::vector<Record> records = support::records_of("bare-glass");
  for (Record& r : records)
    if (auto* frame = std::get_if<FrameRecord>(&r))
      for (std::uint16_t& v : frame->raw) v = 65535;
  support::RecordListReader reader(std::move(records));
  const Account account = replay(reader, "blind", {});
  EXPECT_TRUE(account.decisive.difference.empty()) << "nothing to draw";
  const Diagnosis d = diagnose(account);
  ASSERT_EQ(d.causes.size(), 1u);
  EXPECT_THAT(d.causes[0].headline, HasSubstr("The whole panel reads nothing"));
  EXPECT_THAT(d.causes[0].speaks_for.front(), HasSubstr("upper end"));
}

TEST_F(PlainPanel, LinesCutAlongASlantAreOneCrackWithItsPath) {
  for (int k = 0; k < 4; ++k) fault(LineFault::Kind::cut, true, 5 + k, 5 + k, 4 + k, 0);
  const Diagnosis d = explained();
  ASSERT_EQ(d.causes.size(), 1u);
  EXPECT_EQ(d.causes[0].cause, Cause::crack);
  ASSERT_TRUE(d.causes[0].lines);
  const LinesFound l = *d.causes[0].lines;
  EXPECT_TRUE(l.of_rows);
  EXPECT_EQ(l.first, 5);
  EXPECT_EQ(l.last, 8);
  EXPECT_EQ(l.at, 4);
  EXPECT_EQ(l.at_last, 7);
  EXPECT_THAT(d.causes[0].speaks_for,
              ::testing::Contains(HasSubstr("from column 4 at row 5 to column 7 at row 8")));
}

TEST_F(PlainPanel, CrackInACornerIsOfTheLinesThatItCuts) {
  // Dead in both readings: rows 13 to 15 beyond column 8, or columns 8 and 9 beyond row 13.
  for (int k = 0; k < 3; ++k) fault(LineFault::Kind::cut, true, 13 + k, 13 + k, 8, 0);
  const Diagnosis of_rows = explained();
  ASSERT_TRUE(of_rows.causes.front().lines);
  EXPECT_TRUE(of_rows.causes.front().lines->of_rows);
  scenario_.events.clear();
  fault(LineFault::Kind::cut, false, 8, 8, 13, 0);
  fault(LineFault::Kind::cut, false, 9, 9, 13, 0);
  scenario_.setup.lines.sensed_at = panel::ColumnEnd::top;
  const Diagnosis of_columns = explained();
  ASSERT_TRUE(of_columns.causes.front().lines);
  EXPECT_FALSE(of_columns.causes.front().lines->of_rows);
}

TEST_F(PlainPanel, NeighbouringSlowRowsAreOneTailAndNoCrack) {
  slow_rows(6, {20000, 40000, 30000});
  const Diagnosis d = explained();
  ASSERT_EQ(d.causes.size(), 1u);
  EXPECT_EQ(d.causes[0].cause, Cause::worn_tail);
  ASSERT_TRUE(d.causes[0].lines);
  EXPECT_EQ(d.causes[0].lines->first, 6);
  EXPECT_EQ(d.causes[0].lines->last, 8);
  EXPECT_EQ(d.causes[0].lines->at, -1);
}

TEST_F(PlainPanel, SlowRowBetweenTwoSlowOnesIsJoinedHoweverLittleItLost) {
  scenario_.factory_reference = false;
  slow_rows(6, {34000, 5000, 42000});
  const Diagnosis d = explained();
  EXPECT_EQ(d.causes[0].cause, Cause::worn_tail);
  ASSERT_TRUE(d.causes[0].lines);
  EXPECT_EQ(d.causes[0].lines->first, 6);
  EXPECT_EQ(d.causes[0].lines->last, 8);
}

TEST_F(PlainPanel, TwoSlowRowsFarApartAreTwoCauses) {
  slow_rows(3, {30000});
  slow_rows(11, {30000});
  const Diagnosis d = explained();
  ASSERT_EQ(d.causes.size(), 2u);
  EXPECT_EQ(d.causes[0].cause, Cause::raised_resistance);
  EXPECT_EQ(d.causes[1].cause, Cause::raised_resistance);
}

TEST_F(PlainPanel, GrowingFaultBeginsWhereItIsFirstVisible) {
  slow_rows(6, {12000, 12000});
  slow_rows(6, {40000, 40000});
  for (std::size_t k = 2; k < 4; ++k) scenario_.events[k].at_s = 1.5;
  const Diagnosis d = explained();
  EXPECT_EQ(d.causes[0].cause, Cause::worn_tail);
  EXPECT_LT(d.causes[0].first_us, 300000u);
}

TEST_F(PlainPanel, FluidAtTheBezelFallsOffInwardsAndIsNoLineFault) {
  // Along the whole of row 0 and a little beyond its middle, earthed through the bezel.
  put(panel::Outline::rectangle(60, 14), {22.5, -5.5}, 0, panel::kConnected, 0.0);
  EXPECT_EQ(explained().causes.front().cause, Cause::wet_bezel);
}

TEST_F(PlainPanel, BorderRowThatIsLowAndItsNeighbourSoundIsNoFluid) {
  slow_rows(0, {20000});
  EXPECT_EQ(explained().causes.front().cause, Cause::raised_resistance);
}

TEST_F(PlainPanel, FingerOnADeviceWithoutEarthIsWeakAndWide) {
  scenario_.device.earth_pf = 3;
  put(panel::Outline::disc(9), {20, 40}, 150, 0, 1.0);
  const Diagnosis d = explained();
  EXPECT_EQ(d.causes.front().cause, Cause::floating_ground);
  EXPECT_TRUE(d.causes.front().has_place);
}

TEST_F(PlainPanel, SmallFingertipIsWeakAndNarrowAndTellsNothingOfTheEarth) {
  put(panel::Outline::disc(4), {20, 40}, 150, 0, 1.0);
  EXPECT_NE(explained().causes.front().cause, Cause::floating_ground);
}

TEST_F(PlainPanel, TwoFingersWithoutEarthAndTheirGhostsAreOneCause) {
  scenario_.device.earth_pf = 2;
  put(panel::Outline::disc(9), {10, 20}, 150, 0, 1.0);
  put(panel::Outline::disc(9), {35, 60}, 150, 0, 1.8);
  const Diagnosis d = explained();
  ASSERT_EQ(d.causes.size(), 1u);
  EXPECT_EQ(d.causes[0].cause, Cause::floating_ground);
}

TEST_F(PlainPanel, TouchOnASlowRowIsStillSeenBesideTheFault) {
  slow_rows(8, {30000});
  put(panel::Outline::disc(9), {20, 40}, 150, 0, 0.0);
  const Diagnosis d = explained();
  std::vector<Cause> names;
  for (const CauseFound& c : d.causes) names.push_back(c.cause);
  EXPECT_THAT(names, ::testing::IsSupersetOf({Cause::raised_resistance, Cause::touch_at_power_up}));
}

TEST_F(PlainPanel, BridgedRowsAreFoundWhereverTheyAreTouched) {
  fault(LineFault::Kind::bridged, true, 6, 7, 1, 20);
  put(panel::Outline::disc(8), {20, 31}, 150, 0, 1.5);
  const Diagnosis d = explained();
  EXPECT_EQ(d.causes.front().cause, Cause::bridged_lines);
  ASSERT_TRUE(d.causes.front().lines);
  EXPECT_EQ(d.causes.front().lines->first, 6);
}

TEST_F(PlainPanel, StandingRippleOfRowsIsNoTail) {
  panel::Event e;
  e.action = panel::Action::ripple;
  e.word = "ripple";
  e.value = 0.2;
  e.frequency_hz = 1000;  // twenty periods a frame: it stands still
  scenario_.events.push_back(e);
  const Diagnosis d = explained();
  ASSERT_EQ(d.causes.size(), 1u) << name_of(d.causes.back().cause);
  EXPECT_EQ(d.causes[0].cause, Cause::common_mode);
}

TEST_F(PlainPanel, LineFaultAtPowerUpIsNotCalledADirtyGlass) {
  fault(LineFault::Kind::open_tail, true, 4, 4, 1, 0);
  EXPECT_THAT(explained().answer, HasSubstr("not something on the glass"));
}

/// Shipped scenarios whose story is a line or electrical fault.
struct Story {
  const char* name;
  Cause cause;
  int first = -1, last = -1;  ///< lines; -1: not asked
};
void PrintTo(const Story& s, std::ostream* out) { *out << s.name; }

class FaultStory : public ::testing::TestWithParam<Story> {};

TEST_P(FaultStory, GetsItsCauseItsLinesAndNoSecondCause) {
  const Story& story = GetParam();
  support::RecordListReader reader(support::records_of(story.name));
  const Diagnosis d = diagnose(replay(reader, story.name, {}));
  EXPECT_EQ(d.causes.size(), 1u);
  EXPECT_EQ(d.causes.front().cause, story.cause) << name_of(d.causes.front().cause);
  EXPECT_FALSE(d.next_steps.empty());
  if (story.first < 0) return;
  ASSERT_TRUE(d.causes.front().lines);
  EXPECT_EQ(d.causes.front().lines->first, story.first);
  EXPECT_EQ(d.causes.front().lines->last, story.last);
}

INSTANTIATE_TEST_SUITE_P(Shipped, FaultStory,
                         ::testing::Values(Story{"impact-crack", Cause::crack, 4, 7},
                                           Story{"worn-tail", Cause::worn_tail, 8, 11},
                                           Story{"bridged-lines", Cause::bridged_lines, 5, 6},
                                           Story{"intermittent-line", Cause::intermittent_line, 6,
                                                 6},
                                           Story{"touch-test-cut-row", Cause::crack, 8, 8},
                                           Story{"charger-noise", Cause::interference},
                                           Story{"floating-device", Cause::floating_ground},
                                           Story{"sagging-supply", Cause::supply_sag}),
                         [](const auto& one) { return support::test_name(one.param.name); });

}  // namespace
}  // namespace bareglass::host
