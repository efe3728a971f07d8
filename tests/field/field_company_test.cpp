// Objects that are solved together: parts of one conductor that overlap, and conductors beside each
// other.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/surface_model.hpp"

namespace bareglass::field {
namespace {

constexpr LineRange kLines{20, 20};
constexpr Point kPlace{43.3, 48.9};  // between nodes

const SurfaceModel& model() {
  static const SurfaceModel out(
      load_kernels(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_1_1.kernels"));
  return out;
}

Polygon ellipse(Point middle, double width, double height) {
  constexpr double kTurn = 6.283185307179586;
  Polygon out;
  for (int k = 0; k < 24; ++k)
    out.corners.push_back({middle.x + 0.5 * width * std::cos(kTurn * k / 24),
                           middle.y + 0.5 * height * std::sin(kTurn * k / 24)});
  return out;
}

/// Worst difference of any node, fF.
double difference(const Coupling& a, const Coupling& b, double to_ground) {
  double worst = 0.0;
  for (int r = 0; r < kLines.rows; ++r)
    for (int c = 0; c < kLines.columns; ++c)
      worst = std::max(worst, std::abs(a.change(r, c, to_ground) - b.change(r, c, to_ground)));
  return worst;
}

Coupling as_parts(const std::vector<Shape>& shapes, const std::vector<Point>& places) {
  std::vector<PatchedObject> objects;
  for (const Shape& shape : shapes) {
    objects.push_back(model().cut(Footprint({shape}), 0.65));
    model().prepare(objects.back());
  }
  std::vector<PlacedObject> placed;
  for (std::size_t k = 0; k < objects.size(); ++k)
    placed.push_back({&objects[k], {kPlace.x + places[k].x, kPlace.y + places[k].y}, 0});
  Eigen::MatrixXd between;
  return model().couple_together(between, placed, kLines).front();
}

Coupling as_one(const std::vector<Shape>& shapes, const std::vector<Point>& places) {
  std::vector<Shape> all;
  for (std::size_t k = 0; k < shapes.size(); ++k) {
    Shape shape = shapes[k];
    if (auto* disc = std::get_if<Disc>(&shape))
      disc->centre = {disc->centre.x + places[k].x, disc->centre.y + places[k].y};
    else if (auto* polygon = std::get_if<Polygon>(&shape))
      for (Point& p : polygon->corners) p = {p.x + places[k].x, p.y + places[k].y};
    else
      for (Point& p : std::get<Stroke>(shape).path) p = {p.x + places[k].x, p.y + places[k].y};
    all.push_back(shape);
  }
  return model().couple(model().cut(Footprint(all), 0.45), kPlace, kLines);
}

struct Overlap {
  const char* name;
  std::vector<Shape> shapes;
  std::vector<Point> places;
};

void PrintTo(const Overlap& o, std::ostream* out) { *out << o.name; }

class PartsOfOneConductor : public ::testing::TestWithParam<Overlap> {};

TEST_P(PartsOfOneConductor, CoupleAsTheSameOutlineCutAsAWhole) {
  const Overlap& o = GetParam();
  const Coupling parts = as_parts(o.shapes, o.places);
  const Coupling one = as_one(o.shapes, o.places);
  // Patches of 0.75 instead of 0.45 mm change one outline by up to 1.3 fF; the worst here, 2.1 fF,
  // is a crescent thinner than a patch.
  EXPECT_LT(difference(parts, one, INFINITY), 2.5);
  EXPECT_LT(difference(parts, one, 0.0), 2.0);
  EXPECT_NEAR(parts.self / one.self, 1.0, 0.01);
}

const Disc kFinger{{0, 0}, 4.0};
const Stroke kStreak{{{0, 0}, {20, 15}}, 4.0};
const Polygon kNote{{{-13, -15}, {13, -15}, {13, 15}, {-13, 15}}};

INSTANTIATE_TEST_SUITE_P(
    , PartsOfOneConductor,
    ::testing::Values(
        Overlap{"touching discs", {kFinger, kFinger}, {{0, 0}, {7.9, 0}}},
        Overlap{"discs a third over each other", {kFinger, kFinger}, {{0, 0}, {5.2, 1.1}}},
        Overlap{"discs nearly on each other", {kFinger, kFinger}, {{0, 0}, {1.0, 0.4}}},
        // What is left of the smaller one lies on both sides of the other.
        Overlap{"disc across a streak", {kStreak, kFinger}, {{0, 0}, {10, 3.5}}},
        Overlap{"small ellipse across a large one",
                {ellipse({0, 0}, 7, 16), ellipse({0, 0}, 11, 14)},
                {{0, 0}, {0.7, 1}}},
        // A large thing has a core that the others feel.
        Overlap{"finger over the edge of a note", {kNote, kFinger}, {{0, 0}, {13, 3}}},
        Overlap{"finger and a note joined by a wire", {kNote, kFinger}, {{0, 0}, {18.2, 3}}},
        Overlap{"three in a row",
                {kFinger, ellipse({0, 0}, 7, 16), kFinger},
                {{0, 0}, {5, 1}, {10.2, 0}}}),
    [](const auto& test) {
      std::string out = test.param.name;
      std::replace(out.begin(), out.end(), ' ', '_');
      return out;
    });

TEST(SlidingParts, SlideOverEachOtherWithoutJumps) {
  const PatchedObject a = model().cut(Footprint({kFinger}), 0.65);
  const PatchedObject b = model().cut(Footprint({ellipse({0, 0}, 11, 14)}), 0.75);
  // The change of the node under both, along a way from a touch to one on the other.
  std::vector<double> way;
  for (double x = 9.0; x > 0.0; x -= 0.1) {
    Eigen::MatrixXd between;
    const std::vector<Coupling> c =
        model().couple_together(between, {{&b, {40, 50}, 0}, {&a, {40 + x, 50}, 0}}, kLines);
    way.push_back(c.front().change(10, 9, 0.0));
  }
  double range = 0.0;
  double jump = 0.0;
  for (std::size_t k = 1; k + 1 < way.size(); ++k) {
    range = std::max(range, std::abs(way[k] - way[0]));
    jump = std::max(jump, std::abs(way[k + 1] - 2.0 * way[k] + way[k - 1]));
  }
  EXPECT_GT(range, 10.0);  // or it would be no test
  EXPECT_LT(jump, 1.0);
}

TEST(ConductorsBesideEachOther, CoupleAsOneWhenTheyAreConnected) {
  const PatchedObject a = model().cut(Footprint({kFinger}), 0.65);
  const PatchedObject b = model().cut(Footprint({kStreak}), 0.75);
  const auto solved = [&](int second, Eigen::MatrixXd& between) {
    return model().couple_together(between, {{&a, {50, 45}, 0}, {&b, {47, 51.5}, second}}, kLines);
  };
  Eigen::MatrixXd between;
  const std::vector<Coupling> two = solved(1, between);
  ASSERT_EQ(between.rows(), 2);
  const double pair = between(0, 1);
  EXPECT_GT(pair, 10.0);
  EXPECT_DOUBLE_EQ(pair, between(1, 0));
  const Coupling one = solved(0, between).front();
  EXPECT_NEAR(two[0].self + two[1].self - 2.0 * pair, one.self, 1e-3 * one.self);
  EXPECT_LT((two[0].to_row + two[1].to_row - one.to_row).cwiseAbs().maxCoeff(), 0.5);
  EXPECT_LT((two[0].to_column + two[1].to_column - one.to_column).cwiseAbs().maxCoeff(), 0.5);
  EXPECT_LT((two[0].loss - one.loss).cwiseAbs().maxCoeff(), 0.05);
}

TEST(ConductorsBesideEachOther, DoNotDependOnTheirOrder) {
  const PatchedObject a = model().cut(Footprint({kFinger}), 0.65);
  const PatchedObject b = model().cut(Footprint({kStreak}), 0.75);
  Eigen::MatrixXd first;
  Eigen::MatrixXd second;
  const auto ab = model().couple_together(first, {{&a, {50, 45}, 0}, {&b, {47, 51.5}, 1}}, kLines);
  const auto ba = model().couple_together(second, {{&b, {47, 51.5}, 0}, {&a, {50, 45}, 1}}, kLines);
  EXPECT_LT((ab[0].to_row - ba[1].to_row).cwiseAbs().maxCoeff(), 0.01);
  EXPECT_LT((ab[1].to_column - ba[0].to_column).cwiseAbs().maxCoeff(), 0.01);
  EXPECT_LT((ab[0].loss - ba[0].loss).cwiseAbs().maxCoeff(), 0.01);
  EXPECT_NEAR(first(0, 1), second(0, 1), 0.01);
}

}  // namespace
}  // namespace bareglass::field
