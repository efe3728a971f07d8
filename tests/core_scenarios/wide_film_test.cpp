// A wet film over more than half of the lines it crosses, on a simulated panel without a factory
// reference: the core calls it what it is, by sign and place.
#include <gtest/gtest.h>

#include <string>

#include "bareglass/replay/replay.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass {
namespace {

struct Film {
  const char* what;
  double width_mm, height_mm;
  field::Point at;
  FindingKind kind;
  const char* glass = "1_1";
};
void PrintTo(const Film& f, std::ostream* out) { *out << f.what; }

class WetFilmWithoutAReference : public ::testing::TestWithParam<Film> {};

// 16 x 10 lines of 5 mm.
TEST_P(WetFilmWithoutAReference, IsFoundWithItsOwnSignAndNothingIsFoundBesideIt) {
  const Film& f = GetParam();
  panel::Scenario s = support::scenario_named("tape-pressed-by-a-hand");
  s.factory_reference = false;
  s.duration_s = 0.6;
  s.panel_path =
      std::string(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_") + f.glass + ".toml";
  s.panel = field::load_panel(s.panel_path);
  s.things.erase(s.things.begin());
  for (panel::ThingSpec& thing : s.things) {
    thing.outline = panel::Outline::rectangle(f.width_mm, f.height_mm);
    thing.place = f.at;
    thing.earth_pf = 0;
    thing.device_pf = panel::kConnected;
    thing.spacer = {};
    thing.tremor_mm = 0;
  }
  panel::Event put;
  put.word = "put";
  s.events = {put};
  support::RecordListReader reader(support::records_of(s));
  const host::Account account = host::replay(reader, s.file, {});
  ASSERT_FALSE(account.findings.empty());
  for (const host::FindingStory& story : account.findings) {
    const Finding& found = story.last;
    EXPECT_EQ(found.kind, f.kind) << name_of(found.kind);
    EXPECT_GT(found.peak, 0);
    EXPECT_EQ(found.opposite, 0);
    EXPECT_GE(found.box.row0 * 5 + 5, f.at.y - f.height_mm / 2);
    EXPECT_LE(found.box.row1 * 5 - 5, f.at.y + f.height_mm / 2);
    EXPECT_GE(found.box.col0 * 5 + 5, f.at.x - f.width_mm / 2);
    EXPECT_LE(found.box.col1 * 5 - 5, f.at.x + f.width_mm / 2);
  }
  EXPECT_EQ(account.final_state, InputState::off);
}

INSTANTIATE_TEST_SUITE_P(
    Each, WetFilmWithoutAReference,
    ::testing::Values(Film{"AcrossRows", 33, 28, {22, 40}, FindingKind::lowered_plateau},
                      Film{"DownColumns", 24, 48, {22, 38}, FindingKind::lowered_plateau},
                      Film{"BothWays", 27, 48, {20, 38}, FindingKind::lowered_plateau},
                      Film{"OnThinGlass", 33, 28, {22, 40}, FindingKind::lowered_plateau, "0_7"},
                      Film{"OnThickGlass", 33, 28, {22, 40}, FindingKind::lowered_plateau, "2_0"},
                      Film{"FromTheBezel", 34, 40, {10, 40}, FindingKind::lowered_plateau},
                      Film{"AlongTheBezel", 35, 12, {25, -3}, FindingKind::border_band}),
    [](const auto& one) { return std::string(one.param.what); });

}  // namespace
}  // namespace bareglass
