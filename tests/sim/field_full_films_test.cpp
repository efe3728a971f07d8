// Full solutions of dry films: dielectrics without free charge.
#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "bareglass/field/film_strip.hpp"
#include "sim/field_reference.hpp"

namespace bareglass::field {
namespace {

using testing::agree;

/// Change of the node under whole-area films, on one mesh with and without them.
double film_change(double glass_mm, const std::vector<Layer>& films) {
  Mesh mesh;
  mesh.edge_mm = 0.06;
  mesh.bulk_mm = 0.5;
  mesh.growth = 0.25;
  const auto node = [&](const std::vector<Layer>& layers) {
    Scene scene;
    scene.films = layers;
    const PanelWindow window(reference_panel(glass_mm), {0, 2.5, true}, {0, 2.5, true}, mesh,
                             scene);
    return -window.drive(window.row_id(0))(window.column_id(0));
  };
  std::vector<Layer> air = films;
  for (Layer& layer : air) layer.permittivity = 1.0;
  return node(films) - node(air);
}

struct FilmRow {
  const char* name;
  double thickness_mm, permittivity;
  std::array<double, 3> change;  ///< on 0.7, 1.1 and 2.0 mm of glass; NAN where not given
};

constexpr FilmRow kFilms[] = {
    {"tape 50 um", 0.05, 3.0, {1.1, 0.4, 0.0}},
    {"tape 100 um", 0.1, 3.0, {2.1, 0.7, 0.1}},
    {"laminated label 500 um", 0.5, 3.0, {7.0, 2.5, 0.2}},
    {"damp paper 100 um", 0.1, 8.0, {5.8, 2.0, 0.2}},
    {"wet paper 100 um", 0.1, 20.0, {12.6, 4.4, 0.5}},
    {"isopropyl alcohol 50 um", 0.05, 19.0, {6.9, 2.4, 0.2}},
    {"isopropyl alcohol 200 um", 0.2, 19.0, {19.4, 6.8, 0.7}},
    {"water 50 um", 0.05, 78.4, {20, 7.1, 0.7}},
    {"water 200 um", 0.2, 78.4, {38, 13.2, 1.3}},
    {"water 500 um", 0.5, 78.4, {45, 15.8, 1.6}},
};

class WholeAreaFilm : public ::testing::TestWithParam<FilmRow> {};

TEST_P(WholeAreaFilm, RaisesTheNodeAsInTheReference) {
  const FilmRow& film = GetParam();
  constexpr std::array<double, 3> kGlass = {0.7, 1.1, 2.0};
  for (std::size_t i = 0; i < kGlass.size(); ++i) {
    const double change = film_change(kGlass[i], {{"", film.thickness_mm, film.permittivity}});
    // Far stricter than 1 fF: 3 % or the last printed digit.
    agree(std::string(film.name) + " on " + std::to_string(kGlass[i]).substr(0, 3) + " mm",
          film.change[i], change, std::max(0.1, 0.03 * film.change[i]));
    EXPECT_GT(change, 0.0);
  }
}

INSTANTIATE_TEST_SUITE_P(, WholeAreaFilm, ::testing::ValuesIn(kFilms));

TEST(TapeOverAnAirGap, DoesHalfAsMuch) {
  const double flat = film_change(1.1, {{"tape", 0.1, 3.0}});
  const double lifted = film_change(1.1, {{"tape", 0.1, 3.0}, {"air", 0.2, 1.0}});
  agree("tape over 200 um of air, part of its effect", 0.5, lifted / flat, 0.08);
}

class FilmStripOf19Millimetres : public ::testing::TestWithParam<bool> {};

TEST_P(FilmStripOf19Millimetres, IsFullOverItsLinesTwoFifthsOnTheFirstOutsideThenNothing) {
  Mesh mesh;
  mesh.edge_mm = 0.09;
  mesh.bulk_mm = 0.6;
  mesh.growth = 0.35;
  const FilmStrip strip{{{"wet paper", 0.1, 20.0}}, 19.0, GetParam()};
  const std::vector<double> change = strip_changes(reference_panel(), strip, 3, mesh);
  ASSERT_EQ(change.size(), 4u);
  agree("strip: line in the middle", 4.4, change[0], 0.15);
  agree("strip: last line under it, part", 1.0, change[1] / change[0], 0.03);
  agree("strip: first line outside, part", 0.40, change[2] / change[0], 0.03);
  EXPECT_LT(std::abs(change[3] / change[0]), 0.03);
}

INSTANTIATE_TEST_SUITE_P(, FilmStripOf19Millimetres, ::testing::Bool());

}  // namespace
}  // namespace bareglass::field
