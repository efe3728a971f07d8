// The main job on every fixture: the right cause, the right place, the right state of input. The
// texts themselves are kept in fixtures/expected; BAREGLASS_APPROVE=1 rewrites them from the
// present output.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/capture/reader.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/replay/replay.hpp"
#include "one_answer.hpp"
#include "support/approved_text.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

using ::testing::HasSubstr;

const std::string kFixtures = BAREGLASS_SOURCE_DIR "/fixtures/";

struct Answer {
  Account account;
  Diagnosis diagnosis;
  std::string text;
};

Answer explain(const std::string& name) {
  const auto reader = open_capture(kFixtures + name, {});
  Answer a;
  a.account = replay(*reader, name, {});
  a.diagnosis = diagnose(a.account);
  a.text = explanation_text(name, a.account, a.diagnosis, {});
  return a;
}

bool encloses(const Box& box, int row, int col) { return box.contains(row, col); }

TEST(BareGlassDump, IsSaidToBeBareAndInputComesOn) {
  const Answer a = explain("bare-glass.frames");
  ASSERT_EQ(a.diagnosis.causes.size(), 1u);
  EXPECT_EQ(a.diagnosis.causes[0].cause, Cause::bare_glass);
  EXPECT_EQ(a.diagnosis.causes[0].sureness, Sureness::sure);
  EXPECT_EQ(a.account.final_state, InputState::running);
  EXPECT_TRUE(a.account.findings.empty());
  EXPECT_EQ(a.account.touches, 2u);
}

// What the physics makes of that finger on its node, counts, noise and tremor left out.
double signal_of_the_finger() {
  panel::Scenario s = support::scenario_named("finger-at-power-up");
  s.setup.front_end.noise_ff = 0.0;
  panel::SimulatedPanel simulated(s.panel, panel::kernels_of(s.panel, s.panel_path), s.setup);
  const panel::ThingSpec& finger = s.things.at(0);
  panel::Situation now;
  now.device = s.device;
  now.conductors = {
      {finger.outline, finger.place, finger.earth_pf, finger.device_pf, finger.spacer}};
  std::vector<std::uint16_t> counts;
  simulated.scan(counts, now, 20000);
  const std::size_t node = 6 * 10 + 4;
  return simulated.reference()[node] - counts[node];
}

TEST(FingerAtPowerUpDump, NamesTheTouchItsPlaceAndTheLockOut) {
  const Answer a = explain("finger-at-power-up.frames");
  ASSERT_EQ(a.diagnosis.causes.size(), 1u);
  const CauseFound& c = a.diagnosis.causes[0];
  EXPECT_EQ(c.cause, Cause::touch_at_power_up);
  EXPECT_EQ(c.sureness, Sureness::sure);
  EXPECT_TRUE(encloses(c.box, 6, 4)) << "the finger lies at x 19.5 mm, y 31 mm, pitch 5 mm";
  EXPECT_NEAR(c.measured, signal_of_the_finger(), 0.04 * signal_of_the_finger());
  EXPECT_GT(c.measured, c.limit);
  EXPECT_TRUE(c.ended);
  EXPECT_EQ(a.account.final_state, InputState::off);
}

TEST(DampNoteDump, NamesAnIsolatedFilmThatWasPeeledOff) {
  const Answer a = explain("damp-note-peeled.frames");
  ASSERT_EQ(a.diagnosis.causes.size(), 1u);
  const CauseFound& c = a.diagnosis.causes[0];
  EXPECT_EQ(c.cause, Cause::isolated_film);
  EXPECT_LT(c.measured, 0) << "an isolated film raises the counts";
  EXPECT_TRUE(c.ended);
  EXPECT_EQ(c.box.row0, 3);
  EXPECT_EQ(c.box.row1, 8);
  EXPECT_EQ(c.box.col0, 2);
  EXPECT_EQ(c.box.col1, 6);
  EXPECT_EQ(a.account.final_state, InputState::off);
}

TEST(DryingFilmDump, NamesTheWetFilmAndInputComesBack) {
  const Answer a = explain("wet-film-drying.frames");
  ASSERT_EQ(a.diagnosis.causes.size(), 1u);
  EXPECT_EQ(a.diagnosis.causes[0].cause, Cause::drying_film);
  EXPECT_EQ(a.account.final_state, InputState::running);
  EXPECT_THAT(a.diagnosis.answer, HasSubstr("came back"));
}

TEST(WetBezelDump, NamesFluidAtTheUpperBorder) {
  const Answer a = explain("wet-bezel.frames");
  ASSERT_EQ(a.diagnosis.causes.size(), 1u);
  const CauseFound& c = a.diagnosis.causes[0];
  EXPECT_EQ(c.cause, Cause::wet_bezel);
  EXPECT_EQ(c.box.row0, 0);
  EXPECT_LE(c.box.row1, 1);
  EXPECT_EQ(a.account.final_state, InputState::service);
}

TEST(IsolatedStreakDump, NamesTheStreakAndReportsNoTouch) {
  const Answer a = explain("isolated-streak.frames");
  ASSERT_EQ(a.diagnosis.causes.size(), 1u);
  EXPECT_EQ(a.diagnosis.causes[0].cause, Cause::isolated_streak);
  EXPECT_EQ(a.account.touches, 0u) << "nobody touched this panel";
  EXPECT_EQ(a.account.final_state, InputState::running)
      << "policy wait: back when the streak is gone";
}

TEST(DamagedDump, StillGivesTheAnswerAndCountsTheLoss) {
  const Answer a = explain("damaged.frames");
  EXPECT_EQ(a.diagnosis.causes[0].cause, Cause::touch_at_power_up);
  EXPECT_GT(a.account.stats.damaged_packets, 0u);
  EXPECT_GT(a.account.stats.frames_missing, 0u);
  EXPECT_THAT(a.text, HasSubstr("damaged packets"));
}

TEST(LateDump, DoesNotClaimToKnowTheStartUp) {
  const Answer a = explain("starts-late.frames");
  EXPECT_EQ(a.account.kind, DumpKind::raw_midway);
  EXPECT_FALSE(a.account.has_reference);
  EXPECT_EQ(a.diagnosis.causes[0].cause, Cause::touch_held);
  EXPECT_TRUE(encloses(a.diagnosis.causes[0].box, 9, 7));
  EXPECT_NE(a.diagnosis.causes[0].sureness, Sureness::sure);
  EXPECT_THAT(a.diagnosis.answer, HasSubstr("can't be said"));
}

// The check of contradictions must see those that are planted.
TEST(AnswerThatContradictsItself, IsNoticed) {
  const auto planted = [](const char* dump, void (*change)(Answer&)) {
    Answer a = explain(dump);
    change(a);
    return contradictions(dump, a.account, a.diagnosis);
  };
  EXPECT_THAT(planted("finger-at-power-up.frames",
                      [](Answer& a) { a.diagnosis.answer = "Input is on: all is well."; }),
              ::testing::Contains(HasSubstr("input on, and it is off")));
  EXPECT_THAT(planted("finger-at-power-up.frames",
                      [](Answer& a) {
                        a.diagnosis.causes.front() = CauseFound();
                        a.diagnosis.causes.front().cause = Cause::bare_glass;
                        a.diagnosis.causes.front().headline = "Nothing.";
                      }),
              ::testing::Contains(HasSubstr("no cause is there")));
  EXPECT_THAT(planted("damp-note-peeled.frames",
                      [](Answer& a) {
                        a.diagnosis.causes.front().or_else = {Cause::temperature};
                        a.diagnosis.causes.front().box = {12, 13, 8, 9};
                      }),
              ::testing::Contains(HasSubstr("no cause is there")));
  EXPECT_THAT(planted("damp-note-peeled.frames",
                      [](Answer& a) { a.account.final_state = InputState::running; }),
              ::testing::Contains(HasSubstr("input off, and it is on")));
}

class FixtureText : public ::testing::TestWithParam<std::string> {};

TEST_P(FixtureText, IsAsApproved) {
  const Answer a = explain(GetParam() + ".frames");
  support::expect_approved(GetParam(), a.text);
  EXPECT_THAT(contradictions(GetParam(), a.account, a.diagnosis), ::testing::IsEmpty());
}

INSTANTIATE_TEST_SUITE_P(Dumps, FixtureText,
                         ::testing::Values("bare-glass", "finger-at-power-up", "damp-note-peeled",
                                           "wet-film-drying", "wet-bezel", "isolated-streak",
                                           "damaged", "starts-late"),
                         [](const auto& one) { return support::test_name(one.param); });

}  // namespace
}  // namespace bareglass::host
