// Dry films: small, of the right size, and with the right edges.
#include <gtest/gtest.h>

#include "support/quiet_panel.hpp"

namespace bareglass::test {
namespace {

using panel::Film;
using panel::NodeMatrix;
using panel::Outline;
using panel::Situation;

Film everywhere(double um, double permittivity) {
  return {Outline::rectangle(120, 130), node_at(6.5, 5.5), um, permittivity};
}

// Whole-area films on 1.1 mm glass, from an independent three-dimensional field solution, fF. Its
// stated accuracy for changes below 10 fF is 1 fF.
TEST(PanelUnderADryFilm, RisesByAsMuchAsTheFieldSolutionSays) {
  const struct {
    double um, permittivity, expected;
  } cases[] = {{50, 3, 0.4},      {100, 3, 0.7},    {500, 3, 2.5},  {100, 8, 2.0},
               {100, 20, 4.4},    {50, 19, 2.4},    {200, 19, 6.8}, {50, 78.4, 7.1},
               {200, 78.4, 13.2}, {500, 78.4, 15.8}};
  for (const auto& c : cases) {
    Situation s;
    s.films = {everywhere(c.um, c.permittivity)};
    const double change = reference_glass().change(s)(6, 5);
    const double allowed = c.expected < 10.0 ? 0.5 : 0.05 * c.expected;
    EXPECT_NEAR(change, c.expected, allowed) << c.um << " um, " << c.permittivity;
    EXPECT_GT(change, 0.0);
  }
}

TEST(PanelUnderAStripOfFilm, FeelsItFullyUnderItAndBarelyTwoLinesOutside) {
  // 19 mm across: over lines 4 to 6 and half a millimetre short of 3 and 7. The field solution
  // gives 100 %, 40 % on the first line outside, nothing on the second.
  Situation s;
  s.films = {everywhere(200, 78.4)};
  const double full = reference_glass().change(s)(6, 5);
  s.films = {{Outline::rectangle(120, 19), node_at(6, 5), 200, 78.4}};
  const NodeMatrix over_rows = reference_glass().change(s);
  EXPECT_NEAR(over_rows(6, 5) / full, 1.0, 0.05);
  EXPECT_NEAR(over_rows(7, 5) / full, 1.0, 0.05);
  EXPECT_NEAR(over_rows(8, 5) / full, 0.4, 0.06);
  EXPECT_NEAR(over_rows(9, 5) / full, 0.0, 0.03);
  s.films = {{Outline::rectangle(19, 130), node_at(6, 5), 200, 78.4}};
  const NodeMatrix over_columns = reference_glass().change(s);
  EXPECT_NEAR(over_columns(6, 6) / full, 1.0, 0.05);
  EXPECT_NEAR(over_columns(6, 7) / full, 0.4, 0.06);
  EXPECT_NEAR(over_columns(6, 8) / full, 0.0, 0.03);
}

TEST(PanelUnderADryTape, ChangesByLessThanOnePerCentOfAFinger) {
  Situation s;
  s.films = {{Outline::rectangle(19, 60), node_at(6, 5), 100, 3.0}};
  const NodeMatrix change = reference_glass().change(s);
  EXPECT_LT(change.maxCoeff(), 1.75);
  EXPECT_GE(change.minCoeff(), 0.0);
  EXPECT_GT(change.maxCoeff(), 0.3);
}

TEST(PanelUnderTwoFilms, AddsTheirChanges) {
  Situation s;
  s.films = {everywhere(100, 3)};
  const double tape = reference_glass().change(s)(6, 5);
  s.films = {everywhere(100, 20)};
  const double paper = reference_glass().change(s)(6, 5);
  s.films = {everywhere(100, 3), everywhere(100, 20)};
  EXPECT_NEAR(reference_glass().change(s)(6, 5), tape + paper, 0.05);
}

TEST(PanelUnderAFilmThatDries, FollowsItsThicknessDownToNothing) {
  double before = 1e9;
  for (const double um : {200.0, 150.0, 100.0, 50.0, 20.0, 5.0, 0.0}) {
    const double change = reference_glass().panel().glass().film_change(um, 19.0);
    EXPECT_LT(change, before) << um << " um";
    before = change;
  }
  EXPECT_EQ(before, 0.0);
}

}  // namespace
}  // namespace bareglass::test
