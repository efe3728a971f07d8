// What the core itself finds in the shipped scenarios: kind, lines, place, and evidence beyond the
// limit that is told with it.
#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "bareglass/replay/replay.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass {
namespace {

host::Account account_of(const panel::Scenario& scenario) {
  support::RecordListReader reader(support::records_of(scenario));
  return host::replay(reader, scenario.file, {});
}

const Finding* first_of(const host::Account& account, FindingKind kind) {
  for (const host::FindingStory& story : account.findings)
    if (story.last.kind == kind) return &story.last;
  return nullptr;
}

std::string told(const host::Account& account) {
  std::string all = "findings:";
  for (const host::FindingStory& story : account.findings)
    all += std::string(" ") + name_of(story.last.kind) + ",";
  return all;
}

struct Expected {
  const char* scenario;
  FindingKind kind;
  Box within;                      ///< the finding's box lies in here
  bool of_rows = false;            ///< line kinds
  int first = -1, last = -1;       ///< lines; -1: no line kind
  bool small_value_tells = false;  ///< bridged_lines, weak_coupling
  InputState ends = InputState::running;
};

void PrintTo(const Expected& e, std::ostream* out) { *out << e.scenario; }

class ShippedScenario : public ::testing::TestWithParam<Expected> {};

TEST_P(ShippedScenario, ShowsItsFindingWithItsPlaceAndItsEvidence) {
  const Expected& e = GetParam();
  const host::Account account = account_of(support::scenario_named(e.scenario));
  const Finding* f = first_of(account, e.kind);
  ASSERT_NE(f, nullptr) << told(account);
  EXPECT_GE(f->box.row0, e.within.row0);
  EXPECT_LE(f->box.row1, e.within.row1);
  EXPECT_GE(f->box.col0, e.within.col0);
  EXPECT_LE(f->box.col1, e.within.col1);
  if (e.first >= 0) {
    EXPECT_EQ(f->lines.of_rows, e.of_rows);
    EXPECT_EQ(f->lines.first, e.first);
    EXPECT_EQ(f->lines.last, e.last);
  }
  const int measured = std::abs(f->measured);
  if (e.small_value_tells)
    EXPECT_LT(measured, f->limit);
  else
    EXPECT_GE(measured, std::abs(f->limit));
  EXPECT_GT(f->confidence, 0);
  EXPECT_LE(f->first_us, f->last_us);
  EXPECT_GT(f->nodes, 0);
  EXPECT_EQ(account.final_state, e.ends);
}

constexpr Box kAll{0, 15, 0, 9};

const Expected kExpected[] = {
    {"finger-at-power-up",
     FindingKind::held_touch,
     {4, 8, 2, 6},
     false,
     -1,
     -1,
     false,
     InputState::off},
    {"damp-note-peeled",
     FindingKind::raised_plateau,
     {2, 9, 1, 7},
     false,
     -1,
     -1,
     false,
     InputState::off},
    {"tape-pressed-by-a-hand",
     FindingKind::lowered_plateau,
     {5, 12, 0, 8},
     false,
     -1,
     -1,
     false,
     InputState::off},
    {"wet-bezel",
     FindingKind::border_band,
     {0, 1, 0, 9},
     false,
     -1,
     -1,
     false,
     InputState::service},
    {"isolated-streak", FindingKind::two_sign_conductor, {3, 11, 0, 7}},
    {"drops", FindingKind::drops, kAll, false, -1, -1, false, InputState::paused},
    {"worn-tail", FindingKind::tail_group, {8, 11, 0, 9}, true, 8, 11, false, InputState::paused},
    {"impact-crack", FindingKind::cut_line, {4, 7, 5, 9}, true, 4, 7, false, InputState::paused},
    {"intermittent-line", FindingKind::intermittent_line, {0, 15, 6, 6}, false, 6, 6},
    {"bridged-lines",
     FindingKind::bridged_lines,
     {5, 6, 0, 9},
     true,
     5,
     6,
     true,
     InputState::paused},
    {"touch-test-cut-row", FindingKind::cut_line, {8, 8, 7, 9}, true, 8, 8},
    {"charger-noise", FindingKind::interference, {0, 15, 4, 6}},
    {"floating-device", FindingKind::weak_coupling, kAll, false, -1, -1, true},
    {"sagging-supply", FindingKind::supply_sag, kAll, false, -1, -1, false, InputState::paused},
};

INSTANTIATE_TEST_SUITE_P(Each, ShippedScenario, ::testing::ValuesIn(kExpected),
                         [](const auto& one) { return support::test_name(one.param.scenario); });

TEST(GlassWithNothingOrNearlyNothingOnIt, LeavesInputOnAndShowsNothingThatKeepsItOff) {
  for (const char* name : {"bare-glass", "dry-tape", "residue", "touch-test"}) {
    const host::Account account = account_of(support::scenario_named(name));
    EXPECT_EQ(account.final_state, InputState::running) << name;
    for (const host::FindingStory& story : account.findings)
      EXPECT_EQ(story.last.kind, FindingKind::faint_film) << name;
  }
}

/// The shipped residue or tape with another thickness, on another glass.
host::Account film(const char* scenario, double film_um, double permittivity, double glass_mm) {
  panel::Scenario s = support::scenario_named(scenario);
  for (panel::ThingSpec& thing : s.things)
    if (thing.is_film) {
      thing.film_um = film_um;
      thing.permittivity = permittivity;
    }
  const char* name = glass_mm < 1 ? "bars_and_stripes_0_7.toml" : "bars_and_stripes_1_1.toml";
  s.panel_path = std::string(BAREGLASS_SOURCE_DIR "/fixtures/panels/") + name;
  s.panel = field::load_panel(s.panel_path);
  s.duration_s = 1.0;
  return account_of(s);
}

TEST(ThinFilmsAtPowerUp, AreFoundByAveragingAndLeaveInputOn) {
  struct Film {
    const char* scenario;
    double um, permittivity, glass_mm;
    Box within;
  };
  // 100 um of dry tape take 7 times as much on 0.7 mm glass as on 1.1 mm: 5 fF.
  for (const Film& f :
       {Film{"dry-tape", 100, 3.0, 0.7, {2, 9, 0, 9}}, Film{"residue", 60, 6.0, 0.7, {3, 9, 1, 8}},
        Film{"residue", 150, 20.0, 1.1, {3, 9, 1, 8}}}) {
    const host::Account account = film(f.scenario, f.um, f.permittivity, f.glass_mm);
    const Finding* found = first_of(account, FindingKind::faint_film);
    ASSERT_NE(found, nullptr) << f.scenario << ' ' << f.glass_mm << ' ' << told(account);
    EXPECT_TRUE(found->in_baseline);
    EXPECT_LT(found->measured, 0);
    EXPECT_LE(found->measured, -found->limit);
    EXPECT_GE(found->box.row0, f.within.row0);
    EXPECT_LE(found->box.row1, f.within.row1);
    EXPECT_GE(found->box.col0, f.within.col0);
    EXPECT_LE(found->box.col1, f.within.col1);
    EXPECT_EQ(account.final_state, InputState::running);
  }
}

TEST(ThinFilmsAtPowerUp, AreNotSeenWithoutAReference) {
  panel::Scenario s = support::scenario_named("residue");
  s.factory_reference = false;
  EXPECT_EQ(first_of(account_of(s), FindingKind::faint_film), nullptr);
}

TEST(ThinFilmsAtPowerUp, LiftedDuringTheLookAreNoFaintFilm) {
  panel::Scenario s = support::scenario_named("damp-note-peeled");
  for (panel::Event& e : s.events)
    if (e.action == panel::Action::lift) e.at_s = 0.1;  // the look: 0.04 s to 0.34 s
  EXPECT_EQ(first_of(account_of(s), FindingKind::faint_film), nullptr);
}

}  // namespace
}  // namespace bareglass
