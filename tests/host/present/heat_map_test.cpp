#include "bareglass/present/heat_map.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <png.h>

#include <cmath>

namespace bareglass::host {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

HeatMap small_map() {
  HeatMap map;
  map.shape = {2, 3};
  map.counts = {0, 50, 100, -100, -10, 0};
  map.finger_counts = 100;
  map.limit = 20;
  map.title = "a < b & c";
  map.caption = "caption";
  return map;
}

// Lightness L* of a colour by the formulas of IEC 61966-2-1 and CIE 1976, written anew here.
double lightness(Rgb c) {
  const auto linear = [](std::uint8_t v) {
    const double s = v / 255.0;
    return s <= 0.04045 ? s / 12.92 : std::pow((s + 0.055) / 1.055, 2.4);
  };
  const double y = 0.2126 * linear(c.r) + 0.7152 * linear(c.g) + 0.0722 * linear(c.b);
  return y > 216.0 / 24389.0 ? 116.0 * std::cbrt(y) - 16.0 : y * 24389.0 / 27.0;
}

TEST(DivergingColour, IsEquallyLightAtEqualDistanceFromZero) {
  for (int k = 0; k <= 10; ++k)
    EXPECT_NEAR(lightness(diverging_colour(k / 10.0)), lightness(diverging_colour(-k / 10.0)), 1.5)
        << k;
}

TEST(DivergingColour, DarkensEvenlyTowardsBothEnds) {
  for (const double sign : {-1.0, 1.0})
    for (int k = 0; k < 10; ++k) {
      const double step = lightness(diverging_colour(sign * k / 10.0)) -
                          lightness(diverging_colour(sign * (k + 1) / 10.0));
      EXPECT_NEAR(step, 5.4, 1.0) << sign << ' ' << k;
    }
}

TEST(DivergingColour, KeepsBlueAndOrangeApartWithoutRedGreenVision) {
  // Without red-green vision blue against yellow remains: b against the mean of r and g.
  const Rgb below = diverging_colour(-1);
  const Rgb above = diverging_colour(1);
  EXPECT_GT(below.b, (below.r + below.g) / 2 + 60);
  EXPECT_LT(above.b, (above.r + above.g) / 2 - 40);
}

TEST(HeatMapTerminal, ShowsSignedPercentAndNoEscapesWithoutColour) {
  const std::string text = heat_map_terminal(small_map(), false);
  EXPECT_EQ(text,
            "        0   1   2\n"
            "   0    . +50+100\n"
            "   1 -100 -10   .\n"
            "     In % of a finger; + as a touch, - the other way.\n"
            "     A dot is less than half of the limit of 20.0 %.\n");
}

TEST(HeatMapTerminal, DrawsNoFieldOfDotsWhereNothingStandsOut) {
  HeatMap map = small_map();
  map.counts.assign(6, 9);
  EXPECT_EQ(heat_map_terminal(map, false),
            "  No node departs by half of the limit of 20.0 % of a finger.\n");
  map.counts[5] = -10;
  EXPECT_THAT(heat_map_terminal(map, false), HasSubstr("-10\n"));
}

TEST(HeatMapTerminal, PaintsWhenAskedTo) {
  EXPECT_THAT(heat_map_terminal(small_map(), true), HasSubstr("\x1b[48;2;"));
}

TEST(HeatMapTerminal, WidePanelsGetOneSignANode) {
  HeatMap map = small_map();
  map.shape = {1, 60};
  map.counts.assign(60, 0);
  map.counts[3] = 100;
  map.counts[4] = -100;
  map.counts[5] = 15;
  const std::string text = heat_map_terminal(map, false);
  EXPECT_THAT(text, HasSubstr("   0 ...+-'" + std::string(54, '.') + "\n"));
  EXPECT_THAT(text, HasSubstr("beyond the limit of 20.0 % of a finger"));
}

TEST(HeatMapSvg, EscapesTextAndMarksNegativeNodesByPattern) {
  const std::string svg = heat_map_svg(small_map());
  EXPECT_THAT(svg, HasSubstr("a &lt; b &amp; c"));
  EXPECT_THAT(svg, Not(HasSubstr("a < b")));
  EXPECT_THAT(svg, HasSubstr(">-100</text>"));
  EXPECT_THAT(svg, HasSubstr("url(#below)"));
}

TEST(HeatMapPng, DecodesToTheColoursOfTheNodes) {
  const HeatMap map = small_map();
  const std::string bytes = heat_map_png(map);
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  ASSERT_TRUE(png_image_begin_read_from_memory(&image, bytes.data(), bytes.size()));
  image.format = PNG_FORMAT_RGB;
  ASSERT_EQ(image.width, 3u * 40u);
  ASSERT_EQ(image.height, 2u * 40u);
  std::vector<std::uint8_t> rgb(PNG_IMAGE_SIZE(image));
  ASSERT_TRUE(png_image_finish_read(&image, nullptr, rgb.data(), 0, nullptr));
  // A few pixels off the corner of the cell at row 0, column 2: plain colour, no number there.
  const std::size_t at = (3 * image.width + 2 * 40 + 3) * 3;
  const Rgb expected = diverging_colour(1.0);
  EXPECT_EQ(rgb[at], expected.r);
  EXPECT_EQ(rgb[at + 1], expected.g);
  EXPECT_EQ(rgb[at + 2], expected.b);
}

}  // namespace
}  // namespace bareglass::host
