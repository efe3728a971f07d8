// Simulated panels that nothing lies on, touched as in use soon after power-up: short dumps, swipes
// through much of them, two hands at once. None of it may be told as a thing on the glass.
#include <gtest/gtest.h>

#include <algorithm>

#include "bareglass/host/diagnosis.hpp"
#include "bareglass/host/replay.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

struct Touch {
  double from_s, until_s;
  field::Point from, to;
};

struct InUse {
  const char* name;
  const char* glass;  ///< mm, as in the panel files' names
  int rows, columns;
  bool reference;
  double noise_ff, spread_ff, counts_per_ff, duration_s;
  std::vector<Touch> touches;
};

panel::Scenario scenario_of(const InUse& use, std::uint64_t seed) {
  panel::Scenario s;
  s.file = use.name;
  s.story = "Touches in use.";
  s.unit_id = "bay1-pump-01";
  s.panel_path =
      std::string(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_") + use.glass + ".toml";
  s.panel = field::load_panel(s.panel_path);
  s.setup.rows = use.rows;
  s.setup.columns = use.columns;
  s.setup.seed = seed;
  s.setup.front_end.noise_ff = use.noise_ff;
  s.setup.front_end.spread_ff = use.spread_ff;
  s.setup.front_end.counts_per_ff = use.counts_per_ff;
  s.policy = StartPolicy::lock;
  s.factory_reference = use.reference;
  s.duration_s = use.duration_s;
  for (const Touch& touch : use.touches) {
    panel::ThingSpec finger;
    finger.name = "finger " + std::to_string(s.things.size());
    finger.outline = panel::Outline::disc(9);
    finger.shape = "disc";
    finger.place = touch.from;
    finger.earth_pf = 150;
    finger.tremor_mm = 0.1;
    panel::Event event;
    event.thing = s.things.size();
    event.at_s = touch.from_s;
    event.word = "put";
    s.events.push_back(event);
    event.action = panel::Action::move;
    event.word = "move";
    event.over_s = touch.until_s - touch.from_s;
    event.to = touch.to;
    s.events.push_back(event);
    event = {};
    event.thing = s.things.size();
    event.at_s = touch.until_s;
    event.action = panel::Action::lift;
    event.word = "lift";
    s.events.push_back(event);
    s.things.push_back(finger);
  }
  std::stable_sort(s.events.begin(), s.events.end(),
                   [](const panel::Event& a, const panel::Event& b) { return a.at_s < b.at_s; });
  return s;
}

class HealthyDump : public ::testing::TestWithParam<InUse> {};

TEST_P(HealthyDump, IsToldToBeBare) {
  const bool large = GetParam().rows * GetParam().columns > 1000;
  for (std::uint64_t seed = 1; seed <= (large ? 3 : 12); ++seed) {
    const panel::Scenario scenario = scenario_of(GetParam(), seed);
    support::RecordListReader reader(support::records_of(scenario));
    const Diagnosis d = diagnose(replay(reader, scenario.file, {}));
    EXPECT_EQ(d.causes.front().cause, Cause::bare_glass)
        << "seed " << seed << ": " << name_of(d.causes.front().cause) << ", "
        << d.causes.front().headline;
  }
}

INSTANTIATE_TEST_SUITE_P(InUse, HealthyDump,
                         ::testing::Values(InUse{"touches_to_the_end",
                                                 "2_0",
                                                 16,
                                                 10,
                                                 false,
                                                 1.48,
                                                 6.7,
                                                 8.2,
                                                 3.73,
                                                 {{1.33, 1.95, {19.6, 64.1}, {22.8, 53.3}},
                                                  {2.00, 2.38, {33.1, 51.7}, {35.6, 33.2}},
                                                  {2.80, 3.20, {26.0, 23.1}, {26.0, 23.1}}}},
                                           InUse{"two_long_swipes",
                                                 "3_0",
                                                 30,
                                                 18,
                                                 false,
                                                 1.15,
                                                 6.1,
                                                 18.2,
                                                 2.07,
                                                 {{0.91, 1.79, {71.5, 138.0}, {39.8, 34.0}},
                                                  {1.01, 1.42, {80.7, 13.9}, {45.4, 135.3}}}},
                                           InUse{"one_swipe_through_a_short_dump",
                                                 "1_1",
                                                 16,
                                                 10,
                                                 false,
                                                 1.42,
                                                 3.6,
                                                 10.1,
                                                 2.22,
                                                 {{0.95, 1.70, {4.3, 64.4}, {40.0, 12.8}}}},
                                           InUse{"two_fingers_in_a_very_short_dump",
                                                 "1_1",
                                                 14,
                                                 24,
                                                 false,
                                                 1.68,
                                                 5.4,
                                                 15.3,
                                                 1.68,
                                                 {{0.91, 1.58, {91.1, 35.7}, {96.7, 56.2}},
                                                  {0.98, 1.49, {68.1, 10.7}, {68.1, 10.7}}}},
                                           InUse{"far_field_of_two_fingers",
                                                 "0_7",
                                                 14,
                                                 24,
                                                 true,
                                                 1.39,
                                                 3.9,
                                                 11.0,
                                                 1.79,
                                                 {{0.87, 1.47, {69.8, 42.7}, {69.8, 42.7}},
                                                  {0.87, 1.25, {9.5, 24.6}, {9.5, 24.6}}}},
                                           InUse{"touch_soon_after_the_start",
                                                 "0_7",
                                                 72,
                                                 41,
                                                 true,
                                                 2.07,
                                                 3.9,
                                                 23.0,
                                                 3.20,
                                                 {{0.70, 1.36, {157.4, 303.9}, {157.4, 303.9}},
                                                  {0.90, 1.52, {131.8, 190.2}, {131.8, 190.2}},
                                                  {1.27, 1.84, {106.2, 281.0}, {112.9, 85.3}}}},
                                           InUse{"slow_large_panel",
                                                 "3_0",
                                                 72,
                                                 41,
                                                 false,
                                                 1.85,
                                                 4.1,
                                                 15.1,
                                                 3.23,
                                                 {{2.34, 2.88, {98.4, 33.6}, {98.4, 33.6}},
                                                  {2.42, 2.97, {12.7, 57.4}, {12.7, 57.4}}}}),
                         [](const auto& one) { return one.param.name; });

}  // namespace
}  // namespace bareglass::host
