// The touch test on made-up contacts: what belongs to which step, and the numbers.
#include "bareglass/touch/touch_test.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

namespace bareglass::host {
namespace {

using ::testing::HasSubstr;
using State = TouchStepResult::State;

Settings panel() {
  Settings s;
  s.shape = {16, 10};
  return s;  // pitch 5 mm: 50 x 80 mm
}

// Two points and the line between their rows, 40 mm long.
TouchPlan small_plan() {
  TouchPlan plan;
  plan.name = "small";
  TouchStep step;
  step.name = "upper";
  step.from = step.to = {12.5, 12.5};
  plan.steps.push_back(step);
  step.name = "lower";
  step.from = step.to = {37.5, 62.5};
  plan.steps.push_back(step);
  step.kind = TouchStep::Kind::line;
  step.name = "across";
  step.from = {2.5, 42.5};
  step.to = {42.5, 42.5};
  plan.steps.push_back(step);
  return plan;
}

class SmallTouchTest : public ::testing::Test {
 protected:
  void frame(std::vector<PointMm> fingers) {
    std::vector<Contact> contacts;
    for (std::size_t id = 0; id < 2; ++id) {
      const bool there = id < fingers.size() && fingers[id].x >= 0;
      if (there) last_[id] = fingers[id];
      if (!there && !down_[id]) continue;
      Contact c;
      c.id = static_cast<std::uint8_t>(id);
      c.tip = c.confidence = there;
      c.x_q8 = static_cast<std::int16_t>(std::lround((last_[id].x / 5.0 - 0.5) * 256));
      c.y_q8 = static_cast<std::int16_t>(std::lround((last_[id].y / 5.0 - 0.5) * 256));
      contacts.push_back(c);
      down_[id] = there;
    }
    test_.feed({contacts.data(), contacts.size()}, now_us_ += 10000);
  }
  void tap(PointMm at, int frames = 20) {
    for (int n = 0; n < frames; ++n) frame({at});
    frame({});
  }
  void draw(PointMm from, PointMm to, int frames = 60) {
    for (int n = 0; n <= frames; ++n) {
      const double share = static_cast<double>(n) / frames;
      frame({{from.x + share * (to.x - from.x), from.y + share * (to.y - from.y)}});
    }
    frame({});
  }
  double check(const std::string& name) const {
    for (const TouchCheck& c : test_.result().checks)
      if (c.name == name) return c.value;
    ADD_FAILURE() << "no check named " << name;
    return 0;
  }

  TouchTest test_{small_plan(), panel()};
  PointMm last_[2];
  bool down_[2] = {};
  std::uint64_t now_us_ = 0;
};

TEST_F(SmallTouchTest, PassesWhenDoneAsAsked) {
  EXPECT_EQ(test_.step(), 0u);
  tap({12.5, 12.5});
  EXPECT_EQ(test_.step(), 1u);
  tap({37.5, 62.5});
  EXPECT_EQ(test_.step(), 2u);
  draw({2.5, 42.5}, {42.5, 42.5});
  EXPECT_EQ(test_.step(), 3u);
  const TouchResult r = test_.result();
  EXPECT_TRUE(r.passed);
  EXPECT_EQ(check("nodes touched"), 100.0);
  EXPECT_NEAR(r.steps[0].accuracy_mm, 0.0, 0.02);
  EXPECT_NEAR(r.steps[2].linearity_max_mm, 0.0, 0.02);
}

TEST_F(SmallTouchTest, GivesAResultBeforeAnythingHappened) {
  const TouchResult r = test_.result();
  EXPECT_FALSE(r.passed);
  EXPECT_EQ(r.steps[0].state, State::missing);
  for (const TouchCheck& c : r.checks)
    if (c.name.rfind("accuracy", 0) == 0) {
      EXPECT_TRUE(std::isnan(c.value));
      EXPECT_FALSE(c.passed);
    }
  EXPECT_THAT(touch_text({}, small_plan(), r), HasSubstr("not measured"));
}

TEST_F(SmallTouchTest, MeasuresOffsetAndJitterOfAPoint) {
  // Alternates by 0.5 mm about a place 2 mm right and 1 mm above: rms 0.5 mm, off by sqrt(5).
  for (int n = 0; n < 100; ++n) frame({{14.5, 11.5 + (n % 2 == 0 ? 0.5 : -0.5)}});
  frame({});
  const TouchStepResult s = test_.result().steps[0];
  EXPECT_EQ(s.samples, 100u);
  EXPECT_NEAR(s.offset.x, 2.0, 0.02);
  EXPECT_NEAR(s.offset.y, -1.0, 0.02);
  EXPECT_NEAR(s.accuracy_mm, std::sqrt(5.0), 0.02);
  EXPECT_NEAR(s.jitter_rms_mm, 0.5, 0.02);
}

TEST_F(SmallTouchTest, SlantedLineIsStraightButOffTheIntendedOne) {
  draw({2.5, 42.5}, {42.5, 46.5});
  const TouchStepResult s = test_.result().steps[2];
  EXPECT_EQ(s.state, State::done);
  EXPECT_NEAR(s.linearity_max_mm, 0.0, 0.02) << "the fitted line follows the slant";
  EXPECT_NEAR(s.intended_max_mm, 4.0, 0.02);
  // Distances rise evenly from 0 to 4: rms 4 / sqrt(3), for 61 evenly spaced reports a little more.
  EXPECT_NEAR(s.intended_rms_mm, 4.0 / std::sqrt(3.0), 0.03);
}

TEST_F(SmallTouchTest, BendIsFoundByTheFittedLine) {
  // A triangle of 3 mm over an upright-symmetric line: the fit lies at half the mean height 1.5.
  for (int n = 0; n <= 60; ++n) {
    const double share = n / 60.0;
    frame({{2.5 + 40 * share, 42.5 + 3.0 * (1.0 - std::abs(2.0 * share - 1.0))}});
  }
  frame({});
  EXPECT_NEAR(test_.result().steps[2].linearity_max_mm, 1.5, 0.06);
  // rms of a triangle wave of height 3 about its mean: 3 / sqrt(12).
  EXPECT_NEAR(test_.result().steps[2].linearity_rms_mm, 3.0 / std::sqrt(12.0), 0.03);
}

TEST_F(SmallTouchTest, LineMayBeDrawnFromItsOtherEnd) {
  draw({42.5, 42.5}, {2.5, 42.5});
  EXPECT_EQ(test_.result().steps[2].state, State::done);
}

TEST_F(SmallTouchTest, BrokenLineGoesOnAndCountsOneBreak) {
  draw({2.5, 42.5}, {17.5, 42.5}, 30);
  EXPECT_EQ(test_.result().steps[2].state, State::incomplete);
  EXPECT_NEAR(test_.result().steps[2].short_mm, 25.0, 0.1);
  draw({27.5, 42.5}, {42.5, 42.5}, 30);
  const TouchResult r = test_.result();
  EXPECT_EQ(r.steps[2].state, State::done);
  EXPECT_EQ(r.steps[2].dropped, 1);
  EXPECT_EQ(check("contacts that broke off"), 1.0);
  EXPECT_EQ(r.coverage[8 * 10 + 4], Coverage::untouched) << "the gap is a hole in the map";
  EXPECT_EQ(r.coverage[8 * 10 + 3], Coverage::touched);
}

TEST_F(SmallTouchTest, PointThatBreaksOffIsCounted) {
  tap({12.5, 12.5});
  tap({12.5, 12.6});
  EXPECT_EQ(test_.result().steps[0].dropped, 1);
  EXPECT_EQ(check("contacts of no step"), 0.0);
}

TEST_F(SmallTouchTest, ContactNowhereNearAStepIsExtra) {
  tap({12.5, 75.0});
  const TouchResult r = test_.result();
  EXPECT_EQ(check("contacts of no step"), 1.0);
  ASSERT_EQ(r.extra_at.size(), 1u);
  EXPECT_NEAR(r.extra_at[0].y, 75.0, 0.02);
}

TEST_F(SmallTouchTest, SecondFingerBelongsToNoStep) {
  for (int n = 0; n < 10; ++n) frame({{12.5, 12.5}, {37.5, 62.5}});
  frame({});
  const TouchResult r = test_.result();
  EXPECT_EQ(r.steps[0].state, State::done);
  EXPECT_EQ(r.steps[1].state, State::missing);
  EXPECT_EQ(check("contacts of no step"), 1.0);
}

TEST_F(SmallTouchTest, GhostAtALaterStepGivesWayToTheFinger) {
  frame({{37.5, 62.5}});
  for (int n = 0; n < 10; ++n) frame({{37.5, 62.5}, {12.5, 12.5}});
  frame({});
  const TouchResult r = test_.result();
  EXPECT_EQ(r.steps[0].state, State::done);
  EXPECT_EQ(r.steps[1].state, State::missing);
  EXPECT_EQ(r.coverage[12 * 10 + 7], Coverage::untouched) << "a ghost covers no node";
}

TEST_F(SmallTouchTest, SkippedStepStaysMissing) {
  tap({37.5, 62.5});
  draw({2.5, 42.5}, {42.5, 42.5});
  const TouchResult r = test_.result();
  EXPECT_EQ(r.steps[0].state, State::missing);
  EXPECT_FALSE(r.passed);
  EXPECT_EQ(check("steps not seen"), 1.0);
}

TEST_F(SmallTouchTest, MemoryStaysBoundedOverALongRest) {
  tap({12.5, 12.5}, 50000);
  EXPECT_LT(test_.result().steps[0].samples, 4096u);
  EXPECT_GT(test_.result().steps[0].samples, 1000u);
}

TEST_F(SmallTouchTest, JsonHoldsTheSameNumbers) {
  tap({14.5, 12.5});
  const auto j =
      nlohmann::json::parse(touch_json({"f", "u\xff", "", {}}, small_plan(), test_.result()));
  EXPECT_NEAR(j["steps"][0]["accuracy_mm"].get<double>(), 2.0, 0.02);
  EXPECT_TRUE(j["steps"][2]["linearity_max_mm"].is_null());
  EXPECT_EQ(j["coverage"].size(), 160u);
  EXPECT_FALSE(j["passed"].get<bool>());
}

TEST(TimedTouchTest, GivesContactsToTheStepOfTheirTime) {
  TouchPlan plan = small_plan();
  for (std::size_t k = 0; k < plan.steps.size(); ++k) {
    plan.steps[k].from_s = static_cast<double>(k);
    plan.steps[k].until_s = static_cast<double>(k) + 0.9;
  }
  TouchTest test(plan, panel());
  Contact c;
  c.tip = true;
  c.x_q8 = 2 * 256;
  c.y_q8 = 2 * 256;
  test.feed({}, 0);
  test.feed({&c, 1}, 1200000);  // the first point at the time of the second
  EXPECT_EQ(test.result().extra_at.size(), 1u);
  test.feed({}, 1300000);
  TouchTest on_time(plan, panel());
  on_time.feed({}, 0);
  on_time.feed({&c, 1}, 200000);
  EXPECT_EQ(on_time.result().steps[0].samples, 1u);
}

TEST(DefaultPlan, LeadsOverEveryOuterLineOfAnyPanel) {
  for (const Shape shape : {Shape{2, 2}, Shape{16, 10}, Shape{72, 41}, Shape{128, 128}}) {
    Settings s = panel();
    s.shape = shape;
    const TouchPlan plan = default_touch_plan(s);
    EXPECT_EQ(plan.steps.size(), 15u);
    EXPECT_NO_THROW(expect_on_panel(plan, s, ""));
    const TouchResult r = TouchTest(plan, s).result();
    for (int row = 0; row < shape.rows; ++row)
      EXPECT_EQ(r.coverage[static_cast<std::size_t>(row * shape.cols)], Coverage::untouched);
  }
}

}  // namespace
}  // namespace bareglass::host
