// Maps of known scenes, made by the patch model with noise, explained.
#include "bareglass/infer/search.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "bareglass/field/surface_model.hpp"
#include "bareglass/infer/kernel_bank.hpp"

namespace bareglass::infer {
namespace {

constexpr int kRows = 16, kColumns = 20;
constexpr double kPitch = 5.0;
constexpr double kPerson = 150e3;  // fF
using field::Footprint;

const field::SurfaceKernels& kernels() { return kernels_for(0.1535, kPitch); }

struct Put {
  Footprint outline;
  double to_earth;
};

Departure map_of(const std::vector<Put>& things, unsigned seed, float noise = 0.5f) {
  const field::SurfaceModel patches(kernels());
  Departure d{NodeMap::Zero(kRows, kColumns), NodeMap::Constant(kRows, kColumns, noise)};
  for (const Put& p : things) {
    const field::Coupling c = patches.couple(p.outline, {kRows, kColumns});
    for (int r = 0; r < kRows; ++r)
      for (int col = 0; col < kColumns; ++col)
        d.value(r, col) -= static_cast<float>(c.change(r, col, p.to_earth));
  }
  std::mt19937 random(seed);
  std::normal_distribution<float> normal(0.f, noise);
  d.value += NodeMap::NullaryExpr(kRows, kColumns, [&] { return normal(random); });
  return d;
}

std::vector<BlockScenes> explain(const Departure& d) {
  return search(kernels(), kPitch, kPitch, d, SearchOptions{});
}

std::vector<SceneBody> bodies_of(const std::vector<BlockScenes>& found) {
  std::vector<SceneBody> out;
  for (const BlockScenes& b : found)
    for (const SceneBody& body : b.scenes.front().bodies) out.push_back(body);
  return out;
}

TEST(BareGlass, ShowsNothingInHundredMaps) {
  for (unsigned seed = 1; seed <= 100; ++seed)
    EXPECT_TRUE(explain(map_of({}, seed)).empty()) << "seed " << seed;
}

TEST(Finger, IsAnEarthedDiscOfItsSize) {
  for (const double x : {36.0, 37.5, 39.2}) {
    const auto bodies = bodies_of(explain(map_of({{Footprint::disc({x, 41}, 9), kPerson}}, 3)));
    ASSERT_GE(bodies.size(), 1u) << x;
    const SceneBody& finger = bodies[0];
    const double area = static_cast<double>(finger.body.cover.sum()) * kPitch * kPitch / 4;
    EXPECT_GT(finger.body.to_earth, 20e3f) << x;
    // With its rim of 0.8 mm a disc of 10.6 mm.
    EXPECT_NEAR(area, 88.0, 12.0) << x;
  }
}

TEST(Drop, IsAnIsolatedDiscOfItsSize) {
  const auto bodies = bodies_of(explain(map_of({{Footprint::disc({36, 41}, 10), 0.0}}, 4)));
  ASSERT_EQ(bodies.size(), 1u);
  EXPECT_LT(bodies[0].body.to_earth, 300.f);
  EXPECT_NEAR(bodies[0].form.width, 10.0, 1.0);
}

TEST(DampNote, IsAnIsolatedRectangleWhereItLies) {
  const auto bodies =
      bodies_of(explain(map_of({{Footprint::rectangle({41, 37}, 26, 30), 0.0}}, 5)));
  ASSERT_EQ(bodies.size(), 1u);
  EXPECT_EQ(bodies[0].body.to_earth, 0.f);
  ASSERT_EQ(bodies[0].form.kind, Form::Kind::rectangle);
  EXPECT_NEAR(bodies[0].form.width * bodies[0].form.height, 780.0, 160.0);
}

// Neither grounded nor isolated: its C_b comes out of the map.
TEST(Hand, HasThePersonsWayToEarth) {
  const auto found = explain(map_of({{Footprint::rectangle({45, 38}, 50, 40), 120e3}}, 6));
  ASSERT_EQ(found.size(), 1u);
  float nearest = 0.f;
  for (const SceneBody& b : found[0].scenes.front().bodies)
    nearest = std::max(nearest, std::isinf(b.body.to_earth) ? 0.f : b.body.to_earth);
  EXPECT_NEAR(nearest, 120e3, 40e3);
}

TEST(FingerAndNote, AreTwoThings) {
  const auto found = explain(map_of(
      {{Footprint::disc({81, 61}, 9), kPerson}, {Footprint::rectangle({24, 34}, 26, 30), 0.0}}, 7));
  const auto bodies = bodies_of(found);
  ASSERT_EQ(bodies.size(), 2u);
  const auto earthed = std::count_if(bodies.begin(), bodies.end(),
                                     [](const SceneBody& b) { return b.body.to_earth > 20e3f; });
  EXPECT_EQ(earthed, 1);
}

TEST(LoneNode, IsNoThing) {
  Departure d = map_of({}, 1);
  d.value(7, 9) += 40.f;
  const auto found = explain(d);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_TRUE(found[0].is_lone);
  EXPECT_EQ(found[0].lone_row, 7);
  EXPECT_EQ(found[0].lone_column, 9);
}

// 0.8 fF over many nodes is seen though no node stands out.
TEST(FaintLayer, IsSeenByItsArea) {
  Departure d = map_of({}, 9);
  d.value.block(4, 5, 8, 9).array() -= 0.8f;
  const auto found = explain(d);
  ASSERT_EQ(found.size(), 1u);
  const Scene& best = found[0].scenes.front();
  for (const SceneBody& b : best.bodies) EXPECT_LT(b.body.to_earth, 300.f);
}

TEST(SignalOverNoise, OfTheStrongestOfManyNodes) {
  // Both tails of a normal distribution: 4.0 is passed once in 15,787 (any table of it).
  EXPECT_NEAR(noise_limit(1, 1.0 / 15787), 4.0f, 0.01f);
  EXPECT_GT(noise_limit(1000, 1e-4), noise_limit(100, 1e-4));
}

}  // namespace
}  // namespace bareglass::infer
