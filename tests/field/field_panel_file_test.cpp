#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/panel_spec.hpp"

namespace bareglass::field {
namespace {

const std::string kGood = R"(name = "p"
[[layer]]
name = "glass"
thickness_mm = 1.1
permittivity = 7.0
[[layer]]
name = "film"
thickness_mm = 0.2
permittivity = 3.2
[[layer]]
name = "air"
thickness_mm = 1
permittivity = 1.0
[columns]
pitch_mm = 5.0
width_mm = 1.0
under = "glass"
[rows]
pitch_mm = 5.0
width_mm = 4.8
under = "film"
)";

std::string replaced(const std::string& from, const std::string& to) {
  std::string text = kGood;
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

/// What parsing `text` complains about; empty if it does not.
std::string complaint(const std::string& text) {
  try {
    parse_panel(text, "p.toml");
  } catch (const PanelError& error) {
    return error.what();
  }
  return {};
}

TEST(PanelFile, ReadsLayersAndElectrodes) {
  const PanelSpec panel = parse_panel(kGood, "p.toml");
  ASSERT_EQ(panel.layers.size(), 3u);
  EXPECT_DOUBLE_EQ(panel.layers[0].thickness_mm, 1.1);
  EXPECT_EQ(panel.columns.under, 0);
  EXPECT_EQ(panel.rows.under, 1);
  EXPECT_DOUBLE_EQ(panel.height_below(0), 1.2);
  EXPECT_DOUBLE_EQ(panel.total_thickness(), 2.3);
}

TEST(PanelFile, ErrorsNameFileLineKeyAndRange) {
  using ::testing::AllOf;
  using ::testing::HasSubstr;
  using ::testing::StartsWith;
  EXPECT_THAT(complaint(replaced("permittivity = 7.0", "permittivity = 0.5")),
              AllOf(StartsWith("p.toml:5: "), HasSubstr("layer 1: permittivity"),
                    HasSubstr("from 1 to 200")));
  EXPECT_THAT(complaint(replaced("thickness_mm = 0.2", "thickness_mm = \"thin\"")),
              AllOf(StartsWith("p.toml:8: "), HasSubstr("layer 2: thickness_mm"),
                    HasSubstr("from 0.01 to 50 mm")));
  EXPECT_THAT(complaint(replaced("width_mm = 4.8", "width_mm = 5.0")),
              AllOf(StartsWith("p.toml:20: "), HasSubstr("rows.width_mm"), HasSubstr("4.95")));
  EXPECT_THAT(complaint(replaced("width_mm = 4.8", "width_mm = nan")),
              AllOf(StartsWith("p.toml:20: "), HasSubstr("rows.width_mm")));
  EXPECT_THAT(
      complaint(replaced("under = \"glass\"", "under = \"wood\"")),
      AllOf(StartsWith("p.toml:17: "), HasSubstr("columns.under"), HasSubstr("glass, film")));
  EXPECT_THAT(complaint(replaced("under = \"film\"", "under = \"glass\"")),
              AllOf(StartsWith("p.toml:21: "), HasSubstr("rows.under")));
  EXPECT_THAT(complaint(replaced("pitch_mm = 5.0", "pitch = 5.0")),
              AllOf(StartsWith("p.toml:15: "), HasSubstr("columns.pitch"), HasSubstr("pitch_mm")));
  EXPECT_THAT(complaint(replaced("name = \"p\"\n", "")),
              AllOf(StartsWith("p.toml:"), HasSubstr("name is missing")));
  EXPECT_THAT(complaint("name = \"p\"\nlayer = 3\n"),
              AllOf(StartsWith("p.toml:2: "), HasSubstr("layer must be 2 to 12")));
  EXPECT_THAT(complaint("name = "),
              AllOf(StartsWith("p.toml:1: "), HasSubstr("expected a panel file in TOML")));
}

TEST(PanelFile, NestedTooDeeplyIsRefused) {
  std::string key = "a";
  for (int n = 0; n < 40'000; ++n) key += ".a";
  EXPECT_THAT(complaint("\n[" + key + "]\n"),
              ::testing::AllOf(::testing::StartsWith("p.toml:2: "),
                               ::testing::HasSubstr("at most 32 levels")));
}

TEST(PanelFile, ThatIsNotThereIsOneClearError) {
  try {
    load_panel("/nonexistent/panel.toml");
    FAIL() << "no error";
  } catch (const PanelError& error) {
    EXPECT_THAT(error.what(), ::testing::HasSubstr("/nonexistent/panel.toml: cannot open"));
  }
}

TEST(ShippedPanels, AreTheReferencePanelUnderFourGlasses) {
  for (const auto& [file, glass] : {std::pair{"0_7", 0.7}, std::pair{"1_1", 1.1},
                                    std::pair{"2_0", 2.0}, std::pair{"3_0", 3.0}}) {
    const PanelSpec panel = load_panel(std::string(BAREGLASS_SOURCE_DIR "/fixtures/panels/") +
                                       "bars_and_stripes_" + file + ".toml");
    const PanelSpec expected = reference_panel(glass);
    ASSERT_EQ(panel.layers.size(), expected.layers.size());
    for (std::size_t i = 0; i < panel.layers.size(); ++i) {
      EXPECT_DOUBLE_EQ(panel.layers[i].thickness_mm, expected.layers[i].thickness_mm) << file;
      EXPECT_DOUBLE_EQ(panel.layers[i].permittivity, expected.layers[i].permittivity) << file;
    }
    EXPECT_DOUBLE_EQ(panel.rows.width_mm, expected.rows.width_mm);
    EXPECT_DOUBLE_EQ(panel.columns.width_mm, expected.columns.width_mm);
    EXPECT_EQ(panel.rows.under, expected.rows.under);
    EXPECT_EQ(panel.columns.under, expected.columns.under);
    EXPECT_DOUBLE_EQ(panel.surroundings_mm, expected.surroundings_mm);
  }
}

TEST(PanelFile, MayDeclareGroundedSurroundings) {
  EXPECT_DOUBLE_EQ(parse_panel(kGood, "p.toml").surroundings_mm, 0.0);
  EXPECT_DOUBLE_EQ(parse_panel("surroundings_mm = 30\n" + kGood, "p.toml").surroundings_mm, 30.0);
  EXPECT_THAT(complaint("surroundings_mm = 3\n" + kGood),
              ::testing::AllOf(::testing::StartsWith("p.toml:1: "),
                               ::testing::HasSubstr("surroundings_mm must be a number from 5")));
}

/// The good file with diamonds in place of bars and stripes.
std::string diamonds(const std::string& gap = "0.2", const std::string& more = "") {
  return kGood.substr(0, kGood.find("[columns]")) + "[diamonds]\npitch_mm = 5\ngap_mm = " + gap +
         "\nneck_mm = 0.3\nbridge_mm = 0.1\ninsulator_um = 2\ninsulator_permittivity = 3.2\n"
         "under = \"glass\"\n" +
         more;
}

TEST(PanelFile, ReadsDiamonds) {
  const PanelSpec panel = parse_panel(diamonds(), "p.toml");
  ASSERT_TRUE(panel.diamonds.has_value());
  EXPECT_DOUBLE_EQ(panel.diamonds->gap_mm, 0.2);
  EXPECT_EQ(panel.diamonds->under, 0);
  EXPECT_DOUBLE_EQ(panel.rows.pitch_mm, 5.0);
  EXPECT_DOUBLE_EQ(panel.columns.pitch_mm, 5.0);
  // Parallel plates, any electromagnetics text: eps0 eps_r A / t.
  EXPECT_NEAR(panel.diamonds->bridge_ff(), 8.8541878128 * 3.2 * 0.1 * 0.3 / 2e-3, 1e-9);
}

TEST(PanelFile, WithWrongDiamondsNamesTheKey) {
  using ::testing::HasSubstr;
  EXPECT_THAT(complaint(diamonds("0.6")),
              ::testing::AllOf(HasSubstr("p.toml:16: "), HasSubstr("diamonds.gap_mm"),
                               HasSubstr("from 0.05 to 0.5")));
  EXPECT_THAT(complaint(diamonds("0.2", "gap = 3\n")), HasSubstr("diamonds.gap is not a key"));
  EXPECT_THAT(complaint(diamonds("0.2", "[rows]\npitch_mm = 5\n")),
              HasSubstr("rows must not stand beside diamonds"));
}

TEST(ShippedPanels, HoldTheDiamondPanel) {
  const PanelSpec panel =
      load_panel(std::string(BAREGLASS_SOURCE_DIR "/fixtures/panels/diamond_1_1.toml"));
  EXPECT_EQ(kernel_input(panel, Mesh{}), kernel_input(diamond_panel(), Mesh{}));
}

}  // namespace
}  // namespace bareglass::field
